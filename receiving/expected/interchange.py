"""X12 and EDIFACT text -> segments; counts and control numbers of the envelope are compared, a wrong one stops nothing.

Sources: ASC X12.5, Interchange Control Structures (fixed lengths of the sixteen ISA elements), and X12.6 (ST/SE, GS/GE,
ISA/IEA count what stands between them and repeat each other's control number); ISO 9735 (UN/EDIFACT application level
syntax rules): UNA and release characters, UNB/UNZ and UNH/UNT, which count and repeat likewise.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass, field

from receiving.errors import ManifestFaults
from receiving.expected.edi import EDGES, EdiLog, EdiSource, Segment, cut
from receiving.expected.results import SegmentFault
from receiving.messages import Message, Text, message

_ISA_LENGTHS = [2, 10, 2, 10, 2, 15, 2, 15, 6, 4, 1, 5, 9, 1, 1]
_NEXT_ISA = re.compile(r"ISA[^A-Za-z0-9 \t\r\n]")
_ISA_IN_TEXT = re.compile(r"(?<![A-Za-z0-9])ISA[^A-Za-z0-9 \t\r\n]")
_ISA_BEGUN = re.compile(r"(?<![A-Za-z0-9])IS?A?\Z")


@dataclass(frozen=True)
class X12Separators:
    """The separators of one interchange: element separator, component separator, segment terminator."""

    element: str
    component: str
    segment: str


def x12_segments(source: EdiSource, log: EdiLog) -> Iterator[Segment]:
    """Every segment of the file, ISA included; what is wrong with an envelope becomes a warning of ``log``."""
    envelope = _X12Envelope(log)
    number = 0
    while text := _skip_to_isa(source, log, number):
        separators, isa, used = _isa(text, log, number + 1)
        number += 1
        head = Segment(number, [["ISA"], *([value] for value in isa), [separators.component]])
        envelope.take(head)
        yield head
        for piece, ended in cut(source, text[used:], separators.segment, log, starts_anew=_is_isa):
            number += 1
            if not ended and separators.segment not in "\r\n":
                stated = message("the file ends without a terminator; it may be cut off: ask for it again")
                log.warn(number, "end", stated, message("the last segment is {text}", text=repr(piece[:40])))
            segment = Segment(number, [[part] for part in _one_line(piece).split(separators.element)])
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
            log.list(number + 1, before, message("this is outside of an interchange (ISA ... IEA)"))
        if found:
            text = text[found.start() :]
            while len(text) < 2_000 and (block := source.read()):
                text += block
            return text
    if begun:
        log.list(number + 1, begun, message("this is outside of an interchange (ISA ... IEA)"))
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
        log.warn(number, "ISA", message("ISA16 names no component separator; ':' is used"), element=16)
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
                    segment.number, segment.tag, message("{opens} is outside of its envelope", opens=level.opens)
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


_TAGS = (
    "UNH|BGM|DTM|ALI|MEA|MOA|RFF|NAD|LOC|CTA|COM|TOD|TDT|EQD|SEL|EQA|CPS|PAC|HAN|PCI|GIN|GIR|LIN|PIA|IMD|QTY|QVR|"
    "FTX|DGS|QRS|PAI|SGP|CNT|UNT|UNZ"
)
_LINE_BREAKS = re.compile(r"[\r\n]+")
_NO_RELEASE = "\uffff"
"""Stands for the release character where UNA gives a space: it is not used, and no text holds this code point."""
_RELEASED = "\ufdd0\ufdd1\ufdd2\ufdd3"
"""Noncharacters, which no text holds, for released separators while a segment is cut."""


@dataclass(frozen=True)
class Separators:
    """The service characters of an interchange."""

    component: str = ":"
    element: str = "+"
    decimal: str = "."
    release: str = "?"
    terminator: str = "'"


class _Cutter:
    """Cuts one segment's text into elements and components by the separators of its interchange."""

    def __init__(self, separators: Separators) -> None:
        self.separators = separators
        self._lost_end = re.compile(f'[’‘´`"]?[ \\t]{{0,80}}\\n(?=(?:{_TAGS}){re.escape(separators.element)})')
        self._broken_release = re.compile(f"{re.escape(separators.release)}[\\r\\n]+")
        self._released = re.compile(f"{re.escape(separators.release)}(.)", re.DOTALL)
        special = (separators.component, separators.element, separators.release, separators.terminator)
        self._hide = dict(zip(special, _RELEASED, strict=True))
        self._show = str.maketrans(dict(zip(_RELEASED, special, strict=True)))

    def goes_on(self, text: str) -> bool:
        """An odd number of release characters stands at the end: what follows is not a terminator."""
        release = self.separators.release
        return text.endswith(release) and (len(text) - len(text.rstrip(release))) % 2 == 1

    def segments(self, text: str) -> list[str]:
        """One segment, or several where a line break stands for a terminator that was lost."""
        if "\n" not in text and "\r" not in text:
            return [text]
        return self._lost_end.split(_LINE_BREAKS.sub("\n", text))

    def elements(self, text: str) -> list[list[str]]:
        """The elements of a segment, tag first, each a list of its components."""
        separators = self.separators
        if "\n" in text or "\r" in text:
            text = self._broken_release.sub(lambda _: separators.release, text).replace("\r", "").replace("\n", "")
        if separators.release not in text:
            return [part.split(separators.component) for part in text.split(separators.element)]
        text = self._released.sub(lambda found: self._hide.get(found[1], found[1]), text)
        parts = [part.split(separators.component) for part in text.split(separators.element)]
        return [[value.translate(self._show) for value in part] for part in parts]


def edifact_segments(source: EdiSource, log: EdiLog) -> Iterator[Segment]:
    """Every segment of the file, UNA not counted; what is wrong with an envelope becomes a warning of ``log``."""
    envelope = _EdifactEnvelope(log)
    cutter = _Cutter(Separators())
    number = 0
    while text := _start(source):
        if _is_advice(text):
            separators, used = _service_advice(text, log, number + 1)
            cutter, text = _Cutter(separators), text[used:]
        for piece, ended in cut(
            source, text, cutter.separators.terminator, log, starts_anew=_is_advice, goes_on=cutter.goes_on
        ):
            parts = cutter.segments(piece)
            for at, part in enumerate(parts):
                number += 1
                segment = Segment(number, cutter.elements(part))
                _say_lost_end(segment, part, log, cutter.separators, lost=at + 1 < len(parts), ended=ended)
                envelope.take(segment)
                yield segment
    envelope.end(number)


def _start(source: EdiSource) -> str:
    """The next text of the file, long enough for a UNA; empty at the end."""
    text = ""
    while len(text) < 16 and (block := source.read()):
        text = (text + block).lstrip(EDGES)
    return text


def _is_advice(text: str) -> bool:
    return text.startswith("UNA")


def _say_lost_end(segment: Segment, text: str, log: EdiLog, separators: Separators, *, lost: bool, ended: bool) -> None:
    if lost:
        stated = message(
            "a line break is where the terminator {terminator} should be", terminator=repr(separators.terminator)
        )
        log.warn(segment.number, segment.tag[:3], stated, message("after {text}", text=repr(text[:40])))
    elif not ended:
        stated = message("the file ends without a terminator; it may be cut off: ask for it again")
        log.warn(segment.number, segment.tag[:3], stated, message("the last segment is {text}", text=repr(text[:40])))


def _service_advice(found: str, log: EdiLog, number: int) -> tuple[Separators, int]:
    """The six service characters of UNA and how long it is; five, with the reserved one left out, are understood."""
    text = found[3:12]
    short = text[4:5] not in (" ", "*", "") and text[5:6] in "\r\nU" and not text[4:5].isalnum()
    separators = (*text[:4], text[4] if short else text[5:6])
    if (
        len(separators) < 5
        or len({*separators[:2], *separators[3:]}) < 4
        or any(each.isalnum() or not each for each in separators)
    ):
        stated = message(
            "UNA gives {text} as service characters, which cannot tell elements apart", text=repr(text[:6])
        )
        raise ManifestFaults(log.name, (SegmentFault(number, 0, stated, "UNA"),))
    if short:
        stated = message("UNA has five service characters instead of six; the reserved one is taken to be left out")
        log.warn(number, "UNA", stated)
    component, element, decimal, release, end = separators
    made = Separators(component, element, decimal, _NO_RELEASE if release == " " else release, end)
    return made, 3 + (5 if short else 6)


@dataclass
class _EdifactEnvelope:
    """Follows UNB/UNZ and UNH/UNT; every count or reference that disagrees is a warning."""

    log: EdiLog
    interchange: Segment | None = None
    message: Segment | None = None
    messages: int = 0

    def take(self, segment: Segment) -> None:
        """Take the next segment of the file."""
        tag = segment.tag
        if tag == "UNB":
            self.end(segment.number, "UNB")
            self.interchange, self.messages = segment, 0
        elif tag == "UNH":
            self._message_unclosed(segment.number, tag)
            self.message = segment
            self.messages += 1
        elif tag == "UNT":
            self._message_closed(segment)
        elif tag == "UNZ":
            self._message_unclosed(segment.number, tag)
            self._closed(segment)

    def end(self, number: int, tag: str = "end") -> None:
        """The file ends, or a new interchange starts, where UNZ should stand."""
        self._message_unclosed(number, tag)
        if self.interchange is not None:
            self.log.warn(number, "UNZ", message("the interchange is not closed by UNZ; it may be cut off"))
            self.interchange = None

    def _message_unclosed(self, number: int, tag: str) -> None:
        if self.message is not None:
            stated = message("a message is not closed by UNT; it may be cut off")
            self.log.warn(number, tag, stated, message("reference {reference}", reference=repr(self.message.at(1))))
            self.message = None

    def _message_closed(self, segment: Segment) -> None:
        opened, self.message = self.message, None
        if opened is None:
            self.log.warn(segment.number, "UNT", message("UNT closes a message that no UNH opened"))
            return
        count, reference = segment.at(1), segment.at(2)
        real = segment.number - opened.number + 1
        if count != str(real):
            stated = _differ(count, real)
            self.log.warn(segment.number, "UNT", message("UNT counts the segments of its message wrongly"), stated)
        if reference != opened.at(1):
            stated = message("{reference} and {other}", reference=repr(reference), other=repr(opened.at(1)))
            self.log.warn(segment.number, "UNT", message("UNT and UNH should have the same reference"), stated)

    def _closed(self, segment: Segment) -> None:
        opened, self.interchange = self.interchange, None
        count, reference = segment.at(1), segment.at(2)
        if opened is None:
            self.log.warn(segment.number, "UNZ", message("UNZ closes an interchange that no UNB opened"))
        elif reference != opened.at(5):
            stated = message("{reference} and {other}", reference=repr(reference), other=repr(opened.at(5)))
            self.log.warn(segment.number, "UNZ", message("UNZ and UNB should have the same reference"), stated)
        if count != str(self.messages):
            stated = _differ(count, self.messages)
            self.log.warn(segment.number, "UNZ", message("UNZ counts the messages of its interchange wrongly"), stated)


def _differ(stated: str, real: int) -> Message:
    if not stated:
        return message("it says nothing, there are {found}", found=real)
    return message("it says {number}, there are {found}", number=stated, found=real)
