"""X12 text -> segments; counts and control numbers of the envelope are compared, and a wrong one stops nothing.

Source: ASC X12.5, Interchange Control Structures (fixed lengths of the sixteen ISA elements), and X12.6 (ST/SE,
GS/GE, ISA/IEA count what stands between them and repeat each other's control number).
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass, field

from receiving.errors import ManifestFaults
from receiving.expected.edi import EDGES, EdiLog, EdiSource, Segment, cut
from receiving.expected.results import SegmentFault
from receiving.messages import Text, message

_ISA_LENGTHS = [2, 10, 2, 10, 2, 15, 2, 15, 6, 4, 1, 5, 9, 1, 1]
_NEXT_ISA = re.compile(r"ISA[^A-Za-z0-9 \t\r\n]")
_ISA_IN_TEXT = re.compile(r"(?<![A-Za-z0-9])ISA[^A-Za-z0-9 \t\r\n]")
_ISA_BEGUN = re.compile(r"(?<![A-Za-z0-9])IS?A?\Z")


@dataclass(frozen=True)
class X12Separators:
    """The signs of one interchange: element separator, component separator, segment terminator."""

    element: str
    component: str
    segment: str


def x12_segments(source: EdiSource, log: EdiLog) -> Iterator[Segment]:
    """Every segment of the file, ISA included; what is wrong with an envelope becomes a warning of ``log``."""
    envelope = _X12Envelope(log)
    number = 0
    while text := _skip_to_isa(source, log, number):
        signs, isa, used = _isa(text, log, number + 1)
        number += 1
        head = Segment(number, [["ISA"], *([value] for value in isa), [signs.component]])
        envelope.take(head)
        yield head
        for piece, ended in cut(source, text[used:], signs.segment, log, starts_anew=_is_isa):
            number += 1
            if not ended and signs.segment not in "\r\n":
                stated = message("the file ends without a terminator; it may be cut off: ask for it again")
                log.warn(number, "end", stated, message("the last segment is {text}", text=repr(piece[:40])))
            segment = Segment(number, [[part] for part in _one_line(piece).split(signs.element)])
            envelope.take(segment)
            yield segment
    envelope.end(number)


def _is_isa(text: str) -> bool:
    return text.startswith("ISA") and bool(_NEXT_ISA.match(text))


def _one_line(text: str) -> str:
    """A segment without the line breaks of a file that was wrapped at a fixed width."""
    return text.replace("\r", "").replace("\n", "") if "\n" in text or "\r" in text else text


def _skip_to_isa(source: EdiSource, log: EdiLog, number: int) -> str:
    """Text from the next ISA on, empty at the end of the file; anything else between interchanges is listed."""
    begun = ""  # the first letters of an ISA that goes on in the next block
    while block := source.read():
        text = (begun + block).lstrip(EDGES)
        found = _ISA_IN_TEXT.search(text)
        cut_off = None if found else _ISA_BEGUN.search(text, max(0, len(text) - 3))
        begun = cut_off[0] if cut_off else ""
        if before := text[: found.start()] if found else text.removesuffix(begun):
            log.list(number + 1, before, message("this stands outside of an interchange (ISA ... IEA)"))
        if found:
            text = text[found.start() :]
            while len(text) < 2_000 and (block := source.read()):
                text += block
            return text
    if begun:
        log.list(number + 1, begun, message("this stands outside of an interchange (ISA ... IEA)"))
    return ""


def _isa(text: str, log: EdiLog, number: int) -> tuple[X12Separators, list[str], int]:
    """The separators, the first fifteen elements, and the number of characters that the ISA takes."""
    element, head = text[3:4], text[:2_000]
    parts = head.split(element, 16)
    tail = parts[16] if len(parts) == 17 else ""
    if len(tail) < 2:
        what = message(
            "the ISA header has {number} of 16 elements; the interchange is cut off or is not X12",
            number=len(parts) - 1,
        )
        raise ManifestFaults(log.name, (SegmentFault(number, 0, what, "ISA"),))
    start = len(head) - len(tail)
    component, terminator, used = tail[0], tail[1], start + 2
    if component == "~" and tail[1] in "G\r\n" and tail[1:].lstrip(EDGES).startswith("GS" + element):
        log.warn(number, "ISA", message("ISA16 names no component separator; ':' is taken"), element=16)
        component, terminator, used = ":", "~", start + 1
    if terminator == "\r" and tail[2:3] == "\n":
        terminator, used = "\n", start + 3
    if terminator == element or terminator.isalnum() or component == element:
        what = message("the ISA ends in {tail}, which gives no separators; the header is damaged", tail=repr(tail[:4]))
        raise ManifestFaults(log.name, (SegmentFault(number, 16, what, "ISA"),))
    if [len(value) for value in parts[1:16]] != _ISA_LENGTHS:
        log.warn(number, "ISA", message("the ISA header is not padded to its fixed lengths; it was read all the same"))
    return X12Separators(element, component, terminator), parts[1:16], used


@dataclass
class _Level:
    """One of the three levels of an envelope: what opens and closes it, and which elements hold number and count."""

    opens: str
    closes: str
    control_at: int
    miscounted: Text
    open: Segment | None = None
    count: int = 0


def _levels() -> tuple[_Level, ...]:
    return (
        _Level("ISA", "IEA", 13, message("IEA01 counts the functional groups wrongly")),
        _Level("GS", "GE", 6, message("GE01 counts the transaction sets wrongly")),
        _Level("ST", "SE", 2, message("SE01 counts the segments wrongly")),
    )


@dataclass
class _X12Envelope:
    """Follows ISA/IEA, GS/GE and ST/SE; every count or control number that disagrees is a warning."""

    log: EdiLog
    levels: tuple[_Level, ...] = field(default_factory=_levels)

    def take(self, segment: Segment) -> None:
        """Take the next segment of the file."""
        if segment.tag not in _ENVELOPE:
            return
        for depth, level in enumerate(self.levels):
            if segment.tag == level.opens:
                self._open(depth, level, segment)
            elif segment.tag == level.closes:
                self._close(depth, level, segment)

    def end(self, number: int) -> None:
        """The file ends: whatever is open was not closed."""
        self._unclosed(0, number, "end")

    def _open(self, depth: int, level: _Level, segment: Segment) -> None:
        self._unclosed(depth, segment.number, segment.tag)
        level.open, level.count = segment, 0
        if depth:
            self.levels[depth - 1].count += 1
            if self.levels[depth - 1].open is None:
                self.log.warn(
                    segment.number, segment.tag, message("{opens} stands outside of its envelope", opens=level.opens)
                )

    def _close(self, depth: int, level: _Level, segment: Segment) -> None:
        self._unclosed(depth + 1, segment.number, segment.tag)
        opened, level.open = level.open, None
        if opened is None:
            self.log.warn(
                segment.number, segment.tag, message("{closes} closes what was never opened", closes=level.closes)
            )
            return
        here, there = segment.at(2), opened.at(level.control_at)
        name = f"{level.opens}{level.control_at:02d}"
        if here != there:
            stated: Text = message(
                "{closes}02 and {name} should be the same control number", closes=level.closes, name=name
            )
            self.log.warn(
                segment.number,
                segment.tag,
                stated,
                message("{number} and {other}", number=repr(here), other=repr(there)),
            )
        real = segment.number - opened.number + 1 if level.opens == "ST" else level.count
        if not segment.at(1).isdecimal() or int(segment.at(1)[:18]) != real:
            stated = level.miscounted
            self.log.warn(
                segment.number,
                segment.tag,
                stated,
                message("it says {number}, there are {found}", number=segment.at(1), found=real)
                if segment.at(1)
                else message("it says nothing, there are {found}", found=real),
            )

    def _unclosed(self, depth: int, number: int, tag: str) -> None:
        for level in reversed(self.levels[depth:]):
            if level.open is not None:
                stated = message(
                    "{opens} is not closed by {closes}; the file may be cut off", opens=level.opens, closes=level.closes
                )
                self.log.warn(
                    number, tag, stated, message("control number {number}", number=level.open.at(level.control_at))
                )
                level.open = None


_ENVELOPE = frozenset({"ISA", "IEA", "GS", "GE", "ST", "SE"})
