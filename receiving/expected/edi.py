"""What X12 and EDIFACT have in common: text in blocks, segments that know what was used of them, and a log.

Every reader of a notice marks the values that it used. What is left is told once, by segment and qualifier with how
often, so that a value of a notice is on the manifest, in a warning, or named as left out: used + listed = all.
"""

import codecs
import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import BinaryIO

from receiving.errors import Fault, ManifestFaults
from receiving.expected.results import NotUnderstood, SegmentFault, Unused
from receiving.messages import Text, figure, joined, message

BLOCK_BYTES = 65_536
MAX_SEGMENT = 1_000_000
"""Characters of the longest segment that is read; beyond this the terminator is missing."""

EDGES = " \t\r\n\x00\x1a\ufeff"
"""What may surround a segment and means nothing; U+001A ended files on old systems."""

DEEPEST = 40
"""Levels of packing that are followed; real notices have at most seven."""

MOST_IN_NOTICE = 100_000
"""Levels of packing, packages and lines of goods of one notice: a truck brings some thousands."""

MOST_OF_PACKAGE = 2_000
"""Numbers of one package, and parts of a notice that name one and the same."""

_CHARSETS = {
    "UNOC": "iso8859-1",
    "UNOD": "iso8859-2",
    "UNOE": "iso8859-5",
    "UNOF": "iso8859-7",
    "UNOG": "iso8859-3",
    "UNOH": "iso8859-4",
    "UNOI": "iso8859-6",
    "UNOJ": "iso8859-8",
    "UNOK": "iso8859-9",
}
"""Syntax identifiers of ISO 9735 (level C to K); levels A and B are ASCII, W and Y are UTF-8."""

_SYNTAX = re.compile(rb"UNB.(UNO[A-Z])")
_ESCAPED = re.compile(r"[\udc80-\udcff]")


class EdiSource:
    """Reads a binary file in blocks of text.

    Files are tried as UTF-8 first, whatever they declare, because many declare UNOA or UNOC and are UTF-8; bytes
    that are not UTF-8 are taken in the declared character set (Windows-1252 where none is declared).
    """

    def __init__(self, file: BinaryIO, on_block: Callable[[int], None] = lambda _: None) -> None:
        self._file = file
        self._on_block = on_block
        self._waiting: list[str] = []
        self._ended = False
        self._first = True
        self.charset = "cp1252"
        self._decoder = codecs.getincrementaldecoder("utf-8")(errors="surrogateescape")
        self.bytes_read = 0
        self.bytes_not_utf8 = 0

    def read(self) -> str:
        """The next block of text; empty at the end."""
        while not self._waiting and not self._ended:
            self._read_block()
        return self._waiting.pop() if self._waiting else ""

    def push_back(self, text: str) -> None:
        """Give back text that belongs to the next interchange."""
        if text:
            self._waiting.append(text)

    def _read_block(self) -> None:
        data = self._file.read(BLOCK_BYTES)
        self._ended = not data
        if self._first:
            data = self._start(data)
        self.bytes_read += len(data)
        text = self._decoder.decode(data, final=self._ended)
        self.push_back(self._repair(text))
        self._on_block(self.bytes_read)

    def _start(self, data: bytes) -> bytes:
        self._first = False
        declared = _SYNTAX.search(data[:400])
        if declared:
            self.charset = _CHARSETS.get(declared[1].decode(), "cp1252")
        return data.removeprefix(codecs.BOM_UTF8)

    def _repair(self, text: str) -> str:
        """Bytes that were not UTF-8 stand as lone surrogates; put the declared character set's characters there."""
        if text.isascii() or not (odd := _ESCAPED.findall(text)):
            return text
        self.bytes_not_utf8 += len(odd)
        return _ESCAPED.sub(lambda found: bytes([ord(found[0]) - 0xDC00]).decode(self.charset, "replace"), text)


class Segment:
    """One segment: its number in the file (1-based), tag, elements, and which of them were used.

    ``elements`` holds the tag at 0. Each is a list of components in EDIFACT, and of one text in X12, whose composite
    elements stay whole. A value is a component that is not empty.
    """

    __slots__ = ("elements", "listed", "number", "tag", "used")

    def __init__(self, number: int, elements: Sequence[Sequence[str]]) -> None:
        self.number = number
        self.elements = elements
        self.tag = elements[0][0].strip() if elements and elements[0] else ""
        self.used = 0
        self.listed = False

    def at(self, element: int, component: int = 0) -> str:
        """A component of an element, empty where the segment does not have it. Does not count as used."""
        if element >= len(self.elements):
            return ""
        parts = self.elements[element]
        return parts[component].strip() if component < len(parts) else ""

    def use(self, *elements: int) -> None:
        """These elements reached the manifest, or say how another one is meant."""
        for element in elements:
            self.used |= 1 << element

    def use_all(self) -> None:
        """Every element was used."""
        self.used = -1

    def values(self) -> Iterator[tuple[int, str]]:
        """Its values, each with the element in which it stands."""
        for element, parts in enumerate(self.elements[1:], start=1):
            for value in parts:
                if value and not value.isspace():
                    yield element, value

    def text(self, element: str, component: str = ":") -> str:
        """The segment as a list of things not understood shows it."""
        return element.join(component.join(parts) for parts in self.elements)


_UNQUALIFIED = frozenset({"QVR", "PO4", "LIN", "SN1", "N3", "N4", "SLN", "CLD", "PAC"})
"""Segments whose first element does not say what kind the others are."""

_LONGEST_QUOTE = 200
_MOST_KINDS = 100
"""Different warnings about one kind of segment; a hostile file could else make one for each of its segments."""
_MOST_DETAILS = 20
_MOST_EXAMPLES = 3


@dataclass
class _Warning:
    """One kind of warning: where it came first, how often, and what differed from case to case."""

    segment: int
    element: int
    count: int = 0
    details: dict[Text, int] = field(default_factory=dict)

    def words(self, what: Text) -> Text:
        if not self.details:
            return _times(what, self.count)
        shown = joined(*(_times(detail, count) for detail, count in self.details.items()), separator=", ")
        rest = self.count - sum(self.details.values())
        if rest:
            return message("{fault}: {details} and {number} more", fault=what, details=shown, number=figure(rest))
        return message("{fault}: {details}", fault=what, details=shown)


def _times(what: Text, count: int) -> Text:
    return what if count == 1 else message("{fault} ({number} times)", fault=what, number=figure(count))


@dataclass(slots=True)
class _Left:
    """What was not used of one kind of segment: where it came first, how often, some of it."""

    line: int
    segments: int = 0
    values: int = 0
    examples: dict[str, None] = field(default_factory=dict)


@dataclass
class EdiLog:
    """Collects what was noticed while a file is read, and counts its values.

    ``counted_out``: cartons that the file did not name one by one so far. ``used``, ``listed``: how many values were
    used, and how many stand in ``not_understood``.
    """

    name: str
    warnings: list[Fault] = field(default_factory=list)
    not_understood: list[NotUnderstood] = field(default_factory=list)
    unused: list[Unused] = field(default_factory=list)
    counted_out: int = 0
    used: int = 0
    listed: int = 0
    _kinds: dict[tuple[str, Text], _Warning] = field(default_factory=dict)
    _tags: dict[str, int] = field(default_factory=dict)
    _left: dict[tuple[str, str, tuple[int, ...]], _Left] = field(default_factory=dict)

    def warn(self, segment: int, tag: str, what: Text, detail: Text = "", element: int = 0) -> None:
        """Add a warning; the same message at other segments becomes one line, which names every ``detail``."""
        found = self._kinds.get((tag, what))
        if found is None:
            self._tags[tag] = self._tags.get(tag, 0) + 1
            if self._tags[tag] > _MOST_KINDS:
                what, detail = message("more warnings of this kind were counted"), ""
            found = self._kinds.setdefault((tag, what), _Warning(segment, element))
        found.count += 1
        if detail and (detail in found.details or len(found.details) < _MOST_DETAILS):
            found.details[detail] = found.details.get(detail, 0) + 1

    def list(self, segment: int, text: Text, why: Text) -> None:
        """Add a part of the file that no carton could be made of; none of these is left out."""
        if isinstance(text, str) and len(text) > _LONGEST_QUOTE:
            text = text[: _LONGEST_QUOTE - 3] + "..."
        self.not_understood.append(NotUnderstood(segment, text, why))

    def count(self, segment: Segment) -> None:
        """Count the values of a segment that a notice's reader is done with."""
        used, count, left = segment.used, 0, []
        for element, parts in enumerate(segment.elements):
            taken = used >> element & 1 or segment.listed
            for value in parts if element else ():
                if value and not value.isspace():
                    if taken:
                        count += 1
                    else:
                        left.append((element, value))
        if segment.listed:
            self.listed += count
            return
        self.used += count
        if left:
            self._leave(segment, left)

    def _leave(self, segment: Segment, left: Sequence[tuple[int, str]]) -> None:
        elements = tuple(dict.fromkeys([element for element, _ in left])) if segment.used else ()
        qualifier = "" if segment.tag in _UNQUALIFIED else segment.at(1)
        if len(qualifier) > 3 or not qualifier.isalnum() or (len(left) == 1 and left[0][1] == qualifier):
            qualifier = ""
        key = (segment.tag[:8], qualifier, elements)
        kept = self._left.get(key)
        if kept is None:
            kept = self._left[key] = _Left(segment.number)
        kept.segments += 1
        kept.values += len(left)
        if len(kept.examples) < _MOST_EXAMPLES:
            kept.examples |= {shown[:40]: None for _, value in left if (shown := value.strip()) != qualifier}

    def close(self) -> None:
        """Write the warnings and what was not used, each kind once."""
        for (tag, what), found in sorted(self._kinds.items(), key=lambda pair: pair[1].segment):
            self.warnings.append(SegmentFault(found.segment, found.element, found.words(what), tag))
        self._kinds.clear()
        for key, kept in sorted(self._left.items(), key=lambda pair: pair[1].line):
            examples = tuple(kept.examples)[:_MOST_EXAMPLES]
            self.unused.append(Unused(kept.line, *key, kept.segments, kept.values, examples))
        self._left.clear()


def cut(
    source: EdiSource,
    text: str,
    terminator: str,
    log: EdiLog,
    *,
    starts_anew: Callable[[str], bool],
    goes_on: Callable[[str], bool] = lambda _: False,
) -> Iterator[tuple[str, bool]]:
    """The texts between terminators, and whether each ends in one; empty ones are passed over.

    ``text`` is what was read of the file already. Where a segment starts another interchange, it and the rest go back
    to the source. ``goes_on``: the terminator behind this text is a part of it (a release character stands before).
    """
    while True:
        pieces = text.split(terminator)
        text = pieces.pop()
        held: list[str] = []  # joined once: a text of released terminators alone would be copied for each
        for at, piece in enumerate(pieces):
            held.append(piece)
            if goes_on(piece):
                continue
            bare = terminator.join(held).strip(EDGES)
            held.clear()
            if starts_anew(bare):
                source.push_back(terminator.join([bare, *pieces[at + 1 :], text]))
                return
            if bare:
                yield bare, True
        text = terminator.join([*held, text])
        if starts_anew(text.lstrip(EDGES)):
            source.push_back(text)
            return
        if len(text) > MAX_SEGMENT:
            raise _no_end(log, terminator)
        block = source.read()
        if not block:
            break
        text += block
    if last := text.strip(EDGES):
        yield last, False


def _no_end(log: EdiLog, terminator: str) -> ManifestFaults:
    what = message(
        "no segment ends within {most} characters; the terminator {terminator} is missing",
        most=figure(MAX_SEGMENT),
        terminator=repr(terminator),
    )
    return ManifestFaults(log.name, (Fault(0, 0, what),))


def count_all(segments: Iterable[Segment], log: EdiLog) -> None:
    """Count segments that were held back until their notice was complete."""
    for segment in segments:
        log.count(segment)


def check_notice_size(number: int, log: EdiLog, segment: int, tag: str) -> None:
    """Raise ManifestFaults once one notice has more levels, packages or lines of goods than any real one."""
    if number > MOST_IN_NOTICE:
        what = message(
            "one notice has more than {most} levels, packages or lines of goods; no delivery has this many",
            most=figure(MOST_IN_NOTICE),
        )
        raise ManifestFaults(log.name, (SegmentFault(segment, 0, what, tag),), next_step=_ONE_EACH)


def check_package_size(number: int, log: EdiLog, segment: int, tag: str) -> None:
    """Raise ManifestFaults once one package has more numbers, or appears more often, than any real one."""
    if number > MOST_OF_PACKAGE:
        what = message("one package has more than {most} numbers or parts; none has this many", most=MOST_OF_PACKAGE)
        raise ManifestFaults(log.name, (SegmentFault(segment, 0, what, tag),), next_step=_ONE_EACH)


_ONE_EACH = message("Ask the shipper for a notice of each delivery by itself.")
