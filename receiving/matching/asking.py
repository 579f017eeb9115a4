"""What of all that a store lacks is asked for: not what is settled, and nothing twice."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, replace

from receiving.model import FollowUp, ShortageFollowed
from receiving.model.replacement import LeftOut, LeftOutReason, ReplacementLine, ReplacementRequest, RequestReason

SETTLED_BY = {
    FollowUp.SENT_AGAIN: LeftOutReason.SENT_AGAIN,
    FollowUp.ON_ITS_WAY: LeftOutReason.ON_ITS_WAY,
    FollowUp.DONE_WITHOUT: LeftOutReason.DONE_WITHOUT,
}


@dataclass(frozen=True)
class IssuedRequest:
    """A request that was issued: the cartons of it that are ``here``, and whether what is not may still come."""

    request: ReplacementRequest
    here: Collection[str]
    open: bool


@dataclass(frozen=True)
class ToAsk:
    """What to ask for, what not and why, and what each open request (by number) must still bring."""

    lines: tuple[ReplacementLine, ...]
    left_out: tuple[LeftOut, ...]
    needed: Mapping[int, tuple[ReplacementLine, ...]]


@dataclass
class _Covered:
    """Pieces that a line of a request brings or has brought, as far as no lacking line has taken them yet."""

    issued: IssuedRequest
    line: ReplacementLine
    carton: str
    left: int

    @property
    def is_here(self) -> bool:
        return self.carton in self.issued.here


def what_to_ask(
    lacking: Iterable[ReplacementLine],
    issued: Iterable[IssuedRequest],
    followed: Mapping[tuple[str, str], ShortageFollowed],
) -> ToAsk:
    """Split what is lacking; ``followed`` is the last that was done about a (shipment, carton) that is missing.

    Pieces that a request has brought are not lacking. Pieces that an open request asks for, and cartons that were sent
    again, are on their way or are done without, are left out. What an open request asks for and nobody lacks any more
    is no longer needed.
    """
    requests = tuple(issued)
    covered: dict[tuple[object, ...], list[_Covered]] = defaultdict(list)
    for each in requests:
        for carton, line in each.request.cartons:
            if carton in each.here or each.open:
                covered[_same(line)].append(_Covered(each, line, carton, line.qty))
    lines: list[ReplacementLine] = []
    left_out: list[LeftOut] = []
    for line in lacking:
        note = followed.get((line.shipment, line.carton)) if line.reason is RequestReason.CARTON_MISSING else None
        done_without = note is not None and note.step is FollowUp.DONE_WITHOUT
        qty = line.qty if done_without else _take(line, covered[_same(line)], left_out)
        if not qty:
            continue
        rest = replace(line, qty=qty)
        if note is not None and note.step in SETTLED_BY:
            left_out.append(LeftOut(rest, SETTLED_BY[note.step], note.remark, note.due))
        else:
            lines.append(rest)
    return ToAsk(tuple(lines), tuple(left_out), _needed(requests, [c for each in covered.values() for c in each]))


def _take(line: ReplacementLine, covered: Iterable[_Covered], left_out: list[LeftOut]) -> int:
    """How many pieces of a line no request covers: first what is here is taken, then what is asked for."""
    qty = line.qty
    for each in sorted(covered, key=lambda each: not each.is_here):
        taken = min(qty, each.left)
        if not taken:
            continue
        qty, each.left = qty - taken, each.left - taken
        if not each.is_here:
            reference = each.issued.request.reference
            left_out.append(LeftOut(replace(line, qty=taken), LeftOutReason.IN_REQUEST, reference))
    return qty


def _needed(
    requests: Iterable[IssuedRequest], covered: Iterable[_Covered]
) -> Mapping[int, tuple[ReplacementLine, ...]]:
    found: dict[int, list[ReplacementLine]] = {each.request.number: [] for each in requests if each.open}
    for each in covered:
        used = each.line.qty - each.left
        if each.issued.open and (each.is_here or used):
            found[each.issued.request.number].append(each.line if each.is_here else replace(each.line, qty=used))
    return {number: tuple(lines) for number, lines in found.items()}


def _same(line: ReplacementLine) -> tuple[object, ...]:
    """What makes two lines the same thing for the same place, whatever its quantity and why it is lacking."""
    return (line.shipment, line.section, line.address, line.item, line.description)
