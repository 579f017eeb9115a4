"""X12 segments -> a `Notice` for each 856: S/O/P/I, S/O/T/P/I, S/P/I and the structures between them."""

from collections.abc import Iterable, Iterator

from receiving.expected.edi_log import EdiLog
from receiving.expected.notice import Notice
from receiving.expected.x12_codes import IGNORED
from receiving.expected.x12_levels import Transaction
from receiving.expected.x12_segments import HANDLERS, Segment, at


def x12_notices(segments: Iterable[tuple[int, Segment]], log: EdiLog) -> Iterator[Notice]:
    """A notice for each 856 of the file; other transaction sets are listed."""
    reader: Transaction | None = None
    skipping = False
    for number, elements in segments:
        tag = elements[0]
        if tag == "ST":
            if reader:
                yield reader.done()
            reader, skipping = _opened(number, elements, log)
        elif tag in ("SE", "GE", "IEA", "ISA", "GS"):
            if reader:
                yield reader.done()
            reader, skipping = None, False
        elif reader:
            _take(reader, number, elements)
        elif not skipping and tag not in ("TA1",):
            log.list(number, "*".join(elements), "this segment stands outside of a transaction set (ST ... SE)")
    if reader:
        yield reader.done()


def _opened(number: int, elements: Segment, log: EdiLog) -> tuple["Transaction | None", bool]:
    kind = at(elements, 1)
    if kind == "856":
        return Transaction(number, log), False
    log.list(number, "*".join(elements), f"transaction set {kind!r} is no advance ship notice (856) and was left out")
    return None, True


def _take(transaction: Transaction, number: int, elements: Segment) -> None:
    tag = elements[0]
    handler = HANDLERS.get(tag)
    if handler:
        handler(transaction, number, elements)
    elif tag not in IGNORED:
        first, count = transaction.unused.get(tag, (number, 0))
        transaction.unused[tag] = (first, count + 1)
