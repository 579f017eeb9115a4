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
    envelope = _Envelope(log)
    despatch: Despatch | None = None
    skipping = False
    number = 0
    for number, segment in segments:
        tag = part(segment, 0)
        if tag in ("UNH", "UNB", "UNZ") and (despatch or skipping):
            log.warn(number, tag, "the message before is not closed by UNT; it may be cut off")
        if tag in ("UNH", "UNT", "UNB", "UNZ"):
            if tag == "UNT" and (despatch or skipping):
                envelope.message_closed(number, segment)
            if despatch:
                yield despatch.done()
            despatch, skipping = None, False
        if tag == "UNH":
            envelope.message_opened(number, segment)
            despatch, skipping = _opened(number, segment, log)
        elif tag == "UNB":
            envelope.opened(number, segment)
        elif tag == "UNZ":
            envelope.closed(number, segment)
        elif despatch:
            _take(despatch, number, segment)
        elif not skipping and tag not in ("UNT", "UNG", "UNE"):
            log.list(number, words(segment), "this segment stands outside of a message (UNH ... UNT)")
    if despatch:
        log.warn(number, "end", "the last message is not closed by UNT; it may be cut off")
        yield despatch.done()
    envelope.closed_by_end(number)


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
