"""What must be sent again, and what of it is asked for: the least that lets every position be set, nothing twice."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from receiving.matching.allocation import settable_positions
from receiving.matching.contents import counted_lines, last_damage, pack_size, position_needs, stock_of
from receiving.matching.presence import notes_in_force, of_kind
from receiving.messages import message
from receiving.model import (
    Address,
    Carton,
    CartonKind,
    CartonState,
    ContentLine,
    Damage,
    DamageNoted,
    FollowUp,
    Manifest,
    Note,
    Reconciliation,
    ShortageFollowed,
)
from receiving.model.contents import USUAL_PARTS, CountedLine, PartsList
from receiving.model.replacement import LeftOut, LeftOutReason, ReplacementLine, ReplacementRequest, RequestReason

REASONS = {
    Damage.ARRIVED: RequestReason.ARRIVED_DAMAGED,
    Damage.IN_WORK: RequestReason.DAMAGED_IN_WORK,
    Damage.EXISTING_WORN: RequestReason.EXISTING_WORN,
    Damage.EXISTING_MISSING: RequestReason.EXISTING_MISSING,
    Damage.WRONG_ITEM: RequestReason.WRONG_ITEM,
    Damage.WRONG_SIDE: RequestReason.WRONG_SIDE,
}
MAY_BE_HERE = message("a label that may be this carton waits for an answer")


@dataclass(frozen=True)
class Lack:
    """Pieces of one content line that cannot be used, and why."""

    line: CountedLine
    qty: int
    reason: RequestReason


def replacement_lines(
    manifest: Manifest, reconciliation: Reconciliation, notes: Iterable[Note] = (), parts: PartsList = USUAL_PARTS
) -> tuple[ReplacementLine, ...]:
    """What to ask for, sorted by section, position and item.

    For positions only what spare parts at hand do not cover; for what serves a whole section, all that is missing
    or unusable. Cartons inside an unopened outer box are not asked for. Where all parts of an item are lacking at
    a position, the item is asked for as one.
    """
    noted = notes_in_force(notes)
    hopeful = _as_if_opened(reconciliation)
    lines = counted_lines(manifest, hopeful, noted, parts)
    lacks = _lacks(manifest, lines, hopeful, of_kind(noted, DamageNoted))
    order = settable_positions(position_needs(manifest, noted, parts), stock_of(lines)).order
    asked = [
        *_for_positions(manifest, order, lines, lacks, noted),
        *(_line(manifest, lack.line, lack.qty, lack.reason) for lack in lacks if lack.line.address is None),
        *_empty_cartons(manifest, hopeful, noted),
    ]
    in_doubt = {carton for question in reconciliation.questions for carton in question.cartons}
    may_be = str(MAY_BE_HERE)
    stated = [replace(a, remark=a.remark or may_be) if _missing(a) and a.carton in in_doubt else a for a in asked]
    return tuple(sorted(stated, key=_sort_key))


def _as_if_opened(reconciliation: Reconciliation) -> Reconciliation:
    cartons = tuple(
        replace(f, state=CartonState.RECEIVED) if f.state is CartonState.INSIDE else f for f in reconciliation.cartons
    )
    return replace(reconciliation, cartons=cartons)


def _missing(line: ReplacementLine) -> bool:
    return line.reason is RequestReason.CARTON_MISSING


def _sort_key(line: ReplacementLine) -> tuple[str, int, int, str, str, str]:
    column, row = (line.address.column, line.address.row) if line.address is not None else (0, 0)
    return (line.section, column, row, line.item, line.description, line.reason)


def _lacks(
    manifest: Manifest, lines: Iterable[CountedLine], reconciliation: Reconciliation, damages: Sequence[DamageNoted]
) -> tuple[Lack, ...]:
    gone = {f.carton.carton for f in reconciliation.cartons if f.state is CartonState.SHORT}
    found = []
    for line in lines:
        if line.missing:
            why = RequestReason.CARTON_MISSING if line.carton in gone else RequestReason.CONTENT_MISSING
            found.append(Lack(line, line.missing, why))
        # What came over and above may be broken without anybody lacking it.
        broken = min(line.here, line.wanted) - line.usable
        if broken > 0:
            found.append(Lack(line, broken, REASONS[last_damage(line, damages, manifest).reason]))
    return tuple(found)


def _for_positions(
    manifest: Manifest,
    order: Iterable[tuple[Address, str, int]],
    lines: Sequence[CountedLine],
    lacks: Sequence[Lack],
    notes: Sequence[Note],
) -> Iterable[ReplacementLine]:
    wanted: dict[Address, dict[str, int]] = defaultdict(dict)
    for address, stock, qty in order:
        wanted[address][stock] = qty
    for address, parts in wanted.items():
        yield from _fixture_parts(manifest, address, parts, notes)
        yield from _items_and_parts(manifest, address, parts, lines, lacks)


def _items_and_parts(
    manifest: Manifest,
    address: Address,
    parts: dict[str, int],
    lines: Sequence[CountedLine],
    lacks: Sequence[Lack],
) -> Iterable[ReplacementLine]:
    """Whole items where every part of a content line is lacking, then the parts that are left."""
    here: dict[tuple[str, int], list[CountedLine]] = defaultdict(list)
    for line in lines:
        if line.address == address:
            here[line.carton, line.line].append(line)
    # What lacks nothing itself comes last: it is not to be named for what another carton should have brought.
    for group in sorted(here.values(), key=lambda group: all(line.usable >= line.wanted for line in group)):
        # The scarcest part decides how many whole items are lacking; in whole numbers, as 0.1 of an item cannot be
        # sent.
        whole = min(parts.get(line.stock, 0) * _items(manifest, line) // line.wanted for line in group)
        if whole and len(group) > 1:
            for line in group:
                parts[line.stock] -= whole * line.wanted // _items(manifest, line)
            yield _whole_item(manifest, group[0], whole, _cause(group[0], lacks))
        for line in group:
            qty = min(parts.get(line.stock, 0), line.wanted)
            if qty:
                parts[line.stock] -= qty
                yield _line(manifest, line, qty, _cause(line, lacks))


def _fixture_parts(
    manifest: Manifest, address: Address, parts: dict[str, int], notes: Sequence[Note]
) -> Iterable[ReplacementLine]:
    """Parts of the fixture itself that were found worn or gone, as far as no spare covers them."""
    for note in of_kind(notes, DamageNoted):
        reason = REASONS[note.reason]
        item = note.item or "fixture part"
        own = Address(note.section, note.column, note.row) if note.column and note.row else None
        if reason in (RequestReason.EXISTING_WORN, RequestReason.EXISTING_MISSING) and own and own.fits(address):
            qty = min(note.qty, parts.get(item, 0))
            if qty:
                parts[item] -= qty
                kind = CartonKind.PARTS
                yield ReplacementLine(
                    manifest.shipment, address.section, address, kind, item, "", qty, reason, "", note.remark
                )


def _cause(line: CountedLine, lacks: Sequence[Lack]) -> RequestReason:
    """Why this stock ran out: at this very line, else wherever pieces of it are lacking."""
    same = [lack for lack in lacks if lack.line.stock == line.stock]
    own = [lack for lack in same if (lack.line.carton, lack.line.line) == (line.carton, line.line)]
    return (own or same)[0].reason if same else RequestReason.CONTENT_MISSING


def _whole_item(manifest: Manifest, line: CountedLine, qty: int, reason: RequestReason) -> ReplacementLine:
    carton, content = _origin(manifest, line)
    return ReplacementLine(
        manifest.shipment,
        line.section,
        line.address,
        carton.kind,
        content.item,
        content.description or carton.kind.printed,
        qty,
        reason,
        line.carton,
    )


def _line(manifest: Manifest, line: CountedLine, qty: int, reason: RequestReason) -> ReplacementLine:
    carton, content = _origin(manifest, line)
    of_whole = line.part == line.stock
    kind = carton.kind if of_whole else CartonKind.GRAPHIC if line.part == "graphic" else CartonKind.PARTS
    description = content.description or carton.kind.printed if of_whole else f"{line.part} only"
    if line.address is None and pack_size(content) > 1:
        # Rounded up: packs are not opened for the store.
        qty, description = -(-qty // pack_size(content)), f"{description}, {content.unit}"
    return ReplacementLine(
        manifest.shipment, line.section, line.address, kind, content.item, description, qty, reason, line.carton
    )


def _empty_cartons(
    manifest: Manifest, reconciliation: Reconciliation, notes: Sequence[Note]
) -> Iterable[ReplacementLine]:
    """Cartons whose manifest lines name no contents are asked for as cartons; an outer box is only a box."""
    broken = {n.carton: REASONS[n.reason] for n in of_kind(notes, DamageNoted) if not n.usable and not n.item}
    for finding in reconciliation.cartons:
        carton = finding.carton
        if carton.contents or carton.kind is CartonKind.OUTER:
            continue
        missing = RequestReason.CARTON_MISSING if finding.state is CartonState.SHORT else None
        reason = missing or broken.get(carton.carton)
        if reason:
            words = f"carton {carton.carton}: {carton.kind.printed}"
            yield ReplacementLine(manifest.shipment, "", None, carton.kind, "", words, 1, reason, carton.carton)


def _origin(manifest: Manifest, line: CountedLine) -> tuple[Carton, ContentLine]:
    carton = next(c for c in manifest if c.carton == line.carton)
    return carton, carton.contents[line.line]


def _items(manifest: Manifest, line: CountedLine) -> int:
    return _origin(manifest, line)[1].qty or 1


# What of all that a store lacks is asked for: not what is settled, and nothing twice.


RESOLVED_BY = {
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
class RequestProposal:
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


def propose_request(
    lacking: Iterable[ReplacementLine],
    issued: Iterable[IssuedRequest],
    followed: Mapping[tuple[str, str], ShortageFollowed],
) -> RequestProposal:
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
        if note is not None and note.step in RESOLVED_BY:
            left_out.append(LeftOut(rest, RESOLVED_BY[note.step], note.remark, note.due))
        else:
            lines.append(rest)
    return RequestProposal(
        tuple(lines), tuple(left_out), _needed(requests, [c for each in covered.values() for c in each])
    )


def _take(line: ReplacementLine, covered: Iterable[_Covered], left_out: list[LeftOut]) -> int:
    """How many pieces of a line no request covers: first what is here is taken, then what is asked for."""
    qty = line.qty
    # What has arrived first: only what is still lacking then waits for an open request.
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
