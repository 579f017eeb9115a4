"""EDIFACT DESADV segments -> `Notice`: the CPS tree of packing levels, D.96A to D.01B and their like.

Source: UN/EDIFACT DESADV (directories D.96A and D.01B), segment groups of CPS, PAC, PCI, GIN and LIN; ISO 9735 for
UNB, UNH, UNT and UNZ. Counts are checked here because the tokenizer's own validation passes wrong ones.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from receiving.expected.desadv import HANDLERS
from receiving.expected.edi_log import EdiLog
from receiving.expected.edifact_codes import IGNORED
from receiving.expected.edifact_text import Segment, part, words
from receiving.expected.notice import Notice
from receiving.expected.packing import Despatch


@dataclass
class _Envelope:
    """Counts between UNB and UNZ, and between UNH and UNT."""

    log: EdiLog
    reference: str | None = None
    messages: int = 0
    message_reference: str = ""
    message_start: int = 0

    def opened(self, number: int, segment: Segment) -> None:
        """UNB."""
        self.closed_by_end(number)
        self.reference, self.messages = part(segment, 5), 0

    def closed(self, number: int, segment: Segment) -> None:
        """UNZ."""
        count, reference = part(segment, 1), part(segment, 2)
        if self.reference is None:
            self.log.warn(number, "UNZ", "UNZ closes an interchange that no UNB opened")
        elif reference != self.reference:
            self.log.warn(number, "UNZ", f"UNZ has reference {reference!r}; UNB has {self.reference!r}")
        if count != str(self.messages):
            self.log.warn(number, "UNZ", f"UNZ counts {count or 'no'} messages; the interchange has {self.messages}")
        self.reference = None

    def closed_by_end(self, number: int) -> None:
        """The file ends, or a new interchange starts, where UNZ should stand."""
        if self.reference is not None:
            self.log.warn(number, "UNZ", "the interchange is not closed by UNZ; it may be cut off")
            self.reference = None

    def message_opened(self, number: int, segment: Segment) -> None:
        """UNH."""
        self.messages += 1
        self.message_reference, self.message_start = part(segment, 1), number

    def message_closed(self, number: int, segment: Segment) -> None:
        """UNT."""
        count, reference = part(segment, 1), part(segment, 2)
        real = number - self.message_start + 1
        if count != str(real):
            self.log.warn(number, "UNT", f"UNT counts {count or 'no'} segments; the message has {real}")
        if reference != self.message_reference:
            self.log.warn(number, "UNT", f"UNT has reference {reference!r}; UNH has {self.message_reference!r}")


def edifact_notices(segments: Iterable[tuple[int, Segment]], log: EdiLog) -> Iterator[Notice]:
    """A notice for each DESADV of the file; other messages are listed."""
    reader = _Messages(log, _Envelope(log))
    number = 0
    for number, segment in segments:
        if notice := reader.take(number, segment):
            yield notice
    if notice := reader.end(number):
        yield notice


@dataclass
class _Messages:
    """Follows the envelope and hands the segments between UNH and UNT to the message that is open."""

    log: EdiLog
    envelope: _Envelope
    despatch: Despatch | None = None
    skipping: bool = False

    def take(self, number: int, segment: Segment) -> Notice | None:
        """Take the next segment; the notice that it completes, if any."""
        tag = part(segment, 0)
        if tag in ("UNH", "UNT", "UNB", "UNZ"):
            return self._envelope_segment(number, tag, segment)
        if self.despatch:
            _take(self.despatch, number, segment)
        elif not self.skipping and tag not in ("UNG", "UNE"):
            self.log.list(number, words(segment), "this segment stands outside of a message (UNH ... UNT)")
        return None

    def _envelope_segment(self, number: int, tag: str, segment: Segment) -> Notice | None:
        if tag == "UNT" and self._open:
            self.envelope.message_closed(number, segment)
        elif self._open:
            self.log.warn(number, tag, "the message before is not closed by UNT; it may be cut off")
        notice = self._done()
        if tag == "UNH":
            self.envelope.message_opened(number, segment)
            self.despatch, self.skipping = _opened(number, segment, self.log)
        elif tag == "UNB":
            self.envelope.opened(number, segment)
        elif tag == "UNZ":
            self.envelope.closed(number, segment)
        return notice

    def end(self, number: int) -> Notice | None:
        """The file ends; the notice of a message that was not closed, if any."""
        if self._open:
            self.log.warn(number, "end", "the last message is not closed by UNT; it may be cut off")
        self.envelope.closed_by_end(number)
        return self._done()

    @property
    def _open(self) -> bool:
        return self.skipping or self.despatch is not None

    def _done(self) -> Notice | None:
        notice = self.despatch.done() if self.despatch else None
        self.despatch, self.skipping = None, False
        return notice


def _opened(number: int, segment: Segment, log: EdiLog) -> tuple[Despatch | None, bool]:
    kind = part(segment, 2)
    if kind == "DESADV":
        return Despatch(number, log), False
    log.list(number, words(segment), f"message {kind!r} is no despatch advice (DESADV) and was left out")
    return None, True


def _take(despatch: Despatch, number: int, segment: Segment) -> None:
    tag = part(segment, 0)
    handler = HANDLERS.get(tag)
    if handler:
        handler(despatch, number, segment)
    elif tag not in IGNORED:
        first, count = despatch.unused.get(tag, (number, 0))
        despatch.unused[tag] = (first, count + 1)
