"""EDIFACT text -> segments through pydifact's tokenizer; framing, UNA and repairs are ours.

pydifact 0.2 raises on a newline after a release character and on a file that ends in the middle, and joins an empty
segment with the next; so it is given one whole segment at a time.
Source: ISO 9735 (UN/EDIFACT syntax rules), UNA and release characters.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from receiving.errors import Fault, ManifestFaults
from receiving.expected.edi_log import EdiLog
from receiving.expected.edi_source import MAX_SEGMENT, EdiSource
from receiving.expected.results import SegmentFault

Segment = list[list[str]]
"""Elements of a segment, tag first, each a list of its components."""


def part(segment: Segment, element: int, component: int = 0) -> str:
    """A component of an element, empty where the segment does not have it."""
    parts = segment[element] if element < len(segment) else ()
    return parts[component].strip() if component < len(parts) else ""


def words(segment: Segment) -> str:
    """A segment as a list of things not understood shows it, with the usual separators."""
    return "+".join(":".join(parts) for parts in segment)


_EDGES = " \t\r\n\x00\x1a\ufeff"
_TAGS = (
    "UNH|BGM|DTM|ALI|MEA|MOA|RFF|NAD|LOC|CTA|COM|TOD|TDT|EQD|SEL|EQA|CPS|PAC|HAN|PCI|GIN|GIR|LIN|PIA|IMD|QTY|QVR|"
    "FTX|DGS|QRS|PAI|SGP|CNT|UNT|UNZ"
)
_LINE_BREAKS = re.compile(r"[\r\n]+")
_NO_RELEASE = "\uffff"
"""Stands for the release character where UNA gives a space: it is not used, and no text holds this code point."""


@dataclass(frozen=True)
class Signs:
    """The service characters of an interchange."""

    component: str = ":"
    element: str = "+"
    decimal: str = "."
    release: str = "?"
    terminator: str = "'"


class EdifactText:
    """Cuts the text of a file into segments and the segments into elements."""

    def __init__(self, source: EdiSource, log: EdiLog) -> None:
        self._source = source
        self._log = log
        self._text = ""
        self._at = 0
        self._open = True
        self.number = 0
        self._use(Signs())

    def _use(self, signs: Signs) -> None:
        self.signs = signs
        end, release = re.escape(signs.terminator), re.escape(signs.release)
        self._segment = re.compile(f"[^{end}{release}]*+(?:{release}[\\r\\n]*+.[^{end}{release}]*+)*+{end}", re.DOTALL)
        self._lost_end = re.compile(f'[’‘´`"]?[ \\t]{{0,80}}\\n(?=(?:{_TAGS}){re.escape(signs.element)})')
        self._broken_release = re.compile(f"{release}[\\r\\n]+")
        self._tokens = _tokenizer(signs)

    def __iter__(self) -> Iterator[tuple[int, Segment]]:
        """Every segment: its number (1-based, UNA not counted) and its elements."""
        while raw := self._next_raw():
            pieces = self._lost_end.split(_LINE_BREAKS.sub("\n", raw)) if "\n" in raw or "\r" in raw else [raw]
            for at, piece in enumerate(pieces):
                self.number += 1
                if at + 1 < len(pieces):
                    said = f"{piece[:40]!r} ends in a line break without its terminator {self.signs.terminator!r}"
                    self._log.warn(self.number, piece[:3], said, "lost terminator")
                yield self.number, self._elements(piece)

    def _next_raw(self) -> str:
        """The next segment without its terminator, empty at the end of the file."""
        while True:
            self._skip_edges()
            if self._text.startswith("UNA", self._at):
                self._service_advice()
                continue
            found = self._segment.match(self._text, self._at)
            if found:
                self._at = found.end()
                raw = found[0][: -len(self.signs.terminator)].strip(_EDGES)
                if raw:
                    return raw
            elif not self._more():
                return self._last()

    def _skip_edges(self) -> None:
        while True:
            while self._at < len(self._text) and self._text[self._at] in _EDGES:
                self._at += 1
            if len(self._text) - self._at >= 16 or not self._more():
                return

    def _more(self) -> bool:
        """Read a block; False at the end of the file."""
        if len(self._text) - self._at > MAX_SEGMENT:
            sign = self.signs.terminator
            said = f"no segment ends within {MAX_SEGMENT:,} characters; the terminator {sign!r} is missing"
            raise ManifestFaults(self._log.name, (Fault(0, 0, said),))
        block = self._source.read() if self._open else ""
        self._open = bool(block)
        self._text, self._at = self._text[self._at :] + block, 0
        return self._open

    def _last(self) -> str:
        raw = self._text[self._at :].strip(_EDGES)
        self._text, self._at = "", 0
        if raw:
            said = f"the file ends without a terminator after {raw[:40]!r}; it may be cut off: ask for it again"
            self._log.warn(self.number + 1, raw[:3], said)
        return raw

    def _service_advice(self) -> None:
        """Take the six service characters of UNA; five, with the reserved one left out, are understood."""
        text = self._text[self._at + 3 : self._at + 12]
        short = text[4:5] not in (" ", "*", "") and text[5:6] in "\r\nU" and not text[4:5].isalnum()
        signs = (*text[:4], text[4] if short else text[5:6])
        if len(signs) < 5 or len({*signs[:2], *signs[3:]}) < 4 or any(sign.isalnum() or not sign for sign in signs):
            said = f"UNA gives {text[:6]!r} as service characters, which cannot tell elements apart"
            raise ManifestFaults(self._log.name, (SegmentFault(self.number + 1, 0, said, "UNA"),))
        if short:
            said = "UNA has five service characters instead of six; the reserved one is taken to be left out"
            self._log.warn(self.number + 1, "UNA", said)
        self._at += 3 + (5 if short else 6)
        component, element, decimal, release, end = signs
        self._use(Signs(component, element, decimal, _NO_RELEASE if release == " " else release, end))

    def _elements(self, raw: str) -> Segment:
        if "\n" in raw or "\r" in raw:
            raw = self._broken_release.sub(lambda _: self.signs.release, raw)
            raw = raw.replace("\r", "").replace("\n", "")
        return self._tokens(raw) or [[raw]]


def _tokenizer(signs: Signs) -> Any:
    """A function from one segment's text to its elements; empty when pydifact cannot cut it."""
    from pydifact.control.characters import Characters
    from pydifact.exceptions import EDISyntaxError
    from pydifact.parser import Parser
    from pydifact.tokenizer import Tokenizer

    make: Any = Characters
    characters = make(signs.component, signs.element, signs.decimal, signs.release, " ", signs.terminator)
    to_elements = Parser().convert_tokens_to_raw_segments

    def elements(raw: str) -> Segment:
        tokens = Tokenizer().get_tokens(raw + signs.terminator, characters)
        try:
            for segment in to_elements(tokens):
                return [part if isinstance(part, list) else [part] for part in segment]
        except EDISyntaxError:
            return []
        return []

    return elements
