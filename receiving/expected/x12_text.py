"""X12 text -> segments through pyx12; what pyx12 would stop at is repaired here and said.

pyx12 4.0 refuses versions other than 00401 and 00501 and an ISA that is not padded to 106 characters, ends at an
empty segment, loses a segment longer than its buffer, and raises IndexError on a trailer without its header.
Source for the layout of ISA: ASC X12.5, Interchange Control Structures (fixed lengths of the sixteen elements).
"""

import re
from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from receiving.errors import Fault, ManifestFaults
from receiving.expected.edi_log import EdiLog
from receiving.expected.edi_source import MAX_SEGMENT, EdiSource
from receiving.expected.results import SegmentFault

_ISA_LENGTHS = (2, 10, 2, 10, 2, 15, 2, 15, 6, 4, 1, 5, 9, 1, 1)
_VERSIONS = ("00401", "00501")
_EDGES = " \t\r\n\x00\x1a\ufeff"
"""What may stand around a segment and means nothing; U+001A ended files on old systems."""
_HL_REMEMBERED = 60
_NEXT_ISA = re.compile(r"ISA[^A-Za-z0-9 \t\r\n]")


@dataclass(frozen=True)
class X12Separators:
    """The signs of one interchange: element separator, component separator, segment terminator."""

    element: str
    component: str
    segment: str


class InterchangeText:
    """One interchange as the text file that pyx12 reads: a regular ISA, then whole segments in small pieces."""

    closed = False

    def __init__(self, source: EdiSource, log: EdiLog, isa_segment: int) -> None:
        self._source = source
        self._log = log
        self._isa_segment = isa_segment
        self._carry = ""
        self._pieces: deque[str] = deque()
        self.segments = 0
        self.ended = False
        head = self._head()
        self.separators, self.isa, used = _isa(head, log, isa_segment)
        self._source.push_back(head[used:])
        self._pieces.append(_regular_isa(self.isa, self.separators, log, isa_segment))

    def read(self, _size: int = -1) -> str:
        """The next piece: first the ISA alone, then some whole segments; empty at the end of the interchange."""
        while not self._pieces and not self.ended:
            self._next_block()
        return self._pieces.popleft() if self._pieces else ""

    def _head(self) -> str:
        head = ""
        while len(head) < 2_000 and (block := self._source.read()):
            head = (head + block).lstrip(_EDGES)
        return head

    def _next_block(self) -> None:
        terminator = self.separators.segment
        block = self._source.read()
        raw = (self._carry + block).split(terminator)
        self._carry = raw.pop()
        if not block:
            self._finish(raw)
        elif len(self._carry) > MAX_SEGMENT:
            message = f"no segment ends within {MAX_SEGMENT:,} characters; the terminator {terminator!r} is missing"
            raise ManifestFaults(self._log.name, (Fault(0, 0, message),))
        else:
            self._take(raw, block_open=True)

    def _finish(self, raw: list[str]) -> None:
        self.ended = True
        last = self._carry.strip(_EDGES)
        if last:
            raw.append(self._carry)
        if last and self.separators.segment not in "\r\n":
            message = f"the file ends without a terminator after {last[:40]!r}; it may be cut off: ask for it again"
            self._log.warn(self._isa_segment + self.segments, "end", message)
        self._carry = ""
        self._take(raw, block_open=False)

    def _take(self, raw: list[str], *, block_open: bool) -> None:
        """Queue these segments; from the next ISA on, they go back to the source."""
        at = next((i for i, text in enumerate(raw) if "ISA" in text and _NEXT_ISA.match(text.lstrip(_EDGES))), None)
        if at is not None:
            rest = self.separators.segment.join([*raw[at:], self._carry])
            self._source.push_back(rest)
            self._carry, self.ended, raw = "", True, raw[:at]
        elif block_open and _NEXT_ISA.match(begun := self._carry.lstrip(_EDGES)):
            self._source.push_back(begun)
            self._carry, self.ended = "", True
        self._queue(raw)

    def _queue(self, raw: list[str]) -> None:
        terminator = self.separators.segment
        clean = [text for text in (_one_line(text) for text in raw) if text]
        self.segments += len(clean)
        for start in range(0, len(clean), 32):
            self._pieces.append(terminator.join(clean[start : start + 32]) + terminator)


def _one_line(text: str) -> str:
    """A segment without what surrounds it and without the line breaks of a file wrapped at a fixed width."""
    text = text.strip(_EDGES)
    return text.replace("\r", "").replace("\n", "") if "\n" in text or "\r" in text else text


def _isa(head: str, log: EdiLog, segment: int) -> tuple[X12Separators, list[str], int]:
    """The separators, the first fifteen elements, and the number of characters that the ISA takes."""
    element = head[3:4]
    parts = head[:2_000].split(element, 16)
    tail = parts[16] if len(parts) == 17 else ""
    if len(tail) < 2:
        message = f"the ISA header has {len(parts) - 1} of 16 elements; the interchange is cut off or is no X12"
        raise ManifestFaults(log.name, (SegmentFault(segment, 0, message, "ISA"),))
    start = len(head[:2_000]) - len(tail)
    component, terminator, used = tail[0], tail[1], start + 2
    if component == "~" and tail[1] in "G\r\n" and tail[1:].lstrip(_EDGES).startswith("GS" + element):
        log.warn(segment, "ISA", "ISA16 names no component separator; ':' is taken", element=16)
        component, terminator, used = ":", "~", start + 1
    if terminator == "\r":
        terminator, used = ("\n", start + 3) if tail[2:3] == "\n" else ("\r", used)
    if terminator == element or terminator.isalnum() or component == element:
        message = f"the ISA ends in {tail[:4]!r}, which gives no separators; the header is damaged"
        raise ManifestFaults(log.name, (SegmentFault(segment, 16, message, "ISA"),))
    return X12Separators(element, component, terminator), parts[1:16], used


def _regular_isa(isa: list[str], signs: X12Separators, log: EdiLog, segment: int) -> str:
    """The ISA padded to 106 characters, in a version that pyx12 knows."""
    version = isa[11].strip()
    if version not in _VERSIONS:
        log.warn(segment, "ISA", f"interchange version {version[:20]!r} is read as {_nearest(version)}", element=12)
    if [len(text) for text in isa] != list(_ISA_LENGTHS):
        log.warn(segment, "ISA", "the ISA header is not padded to its fixed lengths; it was read all the same")
    values = [*isa[:11], _nearest(version), *isa[12:]]
    padded = [value[:size].ljust(size) for value, size in zip(values, _ISA_LENGTHS, strict=True)]
    return signs.element.join(["ISA", *padded, signs.component]) + signs.segment


def _nearest(version: str) -> str:
    return version if version in _VERSIONS else _VERSIONS[version >= _VERSIONS[1]]


def x12_segments(source: EdiSource, log: EdiLog) -> Iterator[tuple[int, list[str]]]:
    """Every segment of the file: its number (1-based, over all interchanges) and its elements, tag first.

    Envelope faults that pyx12 finds become warnings of ``log``.
    """
    number = 0
    while text := _skip_to_isa(source, log, number):
        source.push_back(text)
        interchange = InterchangeText(source, log, number + 1)
        for number, elements in _interchange(interchange, log, number):  # noqa: B020
            yield number, elements


def _skip_to_isa(source: EdiSource, log: EdiLog, number: int) -> str:
    """Text from the next ISA on, empty at the end of the file; anything else between interchanges is listed."""
    while block := source.read():
        text = block.lstrip(_EDGES)
        if _NEXT_ISA.match(text):
            return text
        if text:
            at = re.search(r"(?<![A-Za-z0-9])ISA[^A-Za-z0-9 \t\r\n]", text)
            log.list(
                number + 1, text[: at.start()] if at else text, "this stands outside of an interchange (ISA ... IEA)"
            )
            if at:
                return text[at.start() :]
    return ""


def _interchange(interchange: InterchangeText, log: EdiLog, before: int) -> Iterator[tuple[int, list[str]]]:
    reader = _reader(interchange)
    component = interchange.separators.component
    number = before
    for segment in reader:
        number += 1
        elements = [
            part.elements[0].value if len(part.elements) == 1 else component.join(e.value for e in part.elements)
            for part in segment.elements
        ]
        if reader.err_list:
            _say(reader, log, number, segment.seg_id)
        yield number, [segment.seg_id, *elements]
    reader.cleanup()
    _say(reader, log, number, "end")


def _say(reader: Any, log: EdiLog, number: int, tag: str) -> None:
    for level, code, message, _value, _line in reader.pop_errors():
        if code != "SEG1":  # empty elements at a segment's end are harmless
            log.warn(number, tag, _plain(message), kind=f"{tag} {level} {code}")


def _plain(message: str) -> str:
    """pyx12's message without its first person."""
    message = re.sub(r"^My HL count ([0-9]+) does not match your HL count ", r"this is HL number \1 and says ", message)
    return message.replace(" is wrong. I count ", " is wrong; counted: ")


def _reader(interchange: InterchangeText) -> Any:
    from pyx12.errors import X12Error
    from pyx12.x12file import X12Reader

    class EnvelopeReader(X12Reader):  # type: ignore[misc]
        """pyx12's reader that says what is wrong with an envelope instead of stopping."""

        def _parse_segment(self, segment: Any) -> None:
            try:
                super()._parse_segment(segment)
            except (IndexError, X12Error) as error:
                tag = segment.get_seg_id()
                said = str(error) if isinstance(error, X12Error) else f"{tag} closes what was never opened"
                self._seg_error("envelope", said)
                self.cur_line += 1
            del self.hl_stack[:-_HL_REMEMBERED]  # pyx12 searches all of it for each HL
            if self.loops and self.loops[-1][0] == "ISA" and self.cur_line == 1:
                self.loops[-1] = ("ISA", interchange.isa[12].strip())

    return EnvelopeReader(interchange)
