"""The receiving advice: the facts that the standard messages carry, from whom to whom, in text that each can hold."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from receiving.errors import BadRequest
from receiving.messages import Text, message
from receiving.model import (
    AdvisedCarton,
    AdvisedItem,
    AdvisedOver,
    AdvisedState,
    Carton,
    CartonFinding,
    CartonState,
    ContentLine,
    Manifest,
    RawRead,
    ReceivingAdvice,
    Reconciliation,
    has_valid_check_digit,
)
from receiving.model.contents import CountedLine


def receiving_advice(
    manifest: Manifest,
    reconciliation: Reconciliation,
    counted: Sequence[CountedLine],
    reads: Iterable[RawRead],
    *,
    number: int,
    confirmed_at: datetime,
) -> ReceivingAdvice:
    """The facts of receipt ``number`` of this shipment, confirmed at this time (aware, UTC).

    ``counted`` are the parts of every content line, ``reads`` the raw reads that the reconciliation names as evidence.
    """
    read_at = {read.read_id: read.read_at for read in reads}
    parts: dict[tuple[str, int], list[CountedLine]] = defaultdict(list)
    for line in counted:
        parts[line.carton, line.line].append(line)
    return ReceivingAdvice(
        shipment=manifest.shipment,
        store=manifest.store,
        number=number,
        confirmed_at=confirmed_at,
        references=manifest.references,
        cartons=tuple(_advised(finding, parts, read_at) for finding in reconciliation.cartons),
        over=tuple(AdvisedOver(over.raw, over.why, over.sscc) for over in reconciliation.extra),
    )


def _advised(
    finding: CartonFinding, parts: Mapping[tuple[str, int], list[CountedLine]], read_at: Mapping[str, datetime]
) -> AdvisedCarton:
    carton, state = finding.carton, _state(finding)
    seen = [read_at[read_id] for read_id in finding.evidence if read_id in read_at]
    here = state in (AdvisedState.RECEIVED, AdvisedState.DAMAGED)
    return AdvisedCarton(
        carton=carton.carton,
        state=state,
        sscc=carton.sscc,
        number=str(carton.sscc or carton.barcode or carton.carton),
        outer=carton.outer,
        place=finding.place,
        seen_at=min(seen) if seen else None,
        items=tuple(_items(carton, parts, here=here)),
    )


def _state(finding: CartonFinding) -> AdvisedState:
    if finding.state is CartonState.SHORT:
        return AdvisedState.MISSING
    if finding.state is CartonState.INSIDE:
        return AdvisedState.UNSEEN
    # Damage to one item is told with that item; the carton is damaged when the note speaks of the carton itself.
    whole = any(not note.item and not note.usable for note in finding.damage)
    return AdvisedState.DAMAGED if whole else AdvisedState.RECEIVED


def _items(carton: Carton, parts: Mapping[tuple[str, int], list[CountedLine]], *, here: bool) -> Iterable[AdvisedItem]:
    for number, line in enumerate(carton.contents):
        if line.item or line.description:
            yield _item(line, parts.get((carton.carton, number), []), here=here)


def _item(line: ContentLine, parts: Sequence[CountedLine], *, here: bool) -> AdvisedItem:
    """The content line in whole items: as many as the scarcest of its parts allows."""
    despatched = line.qty or 1
    received = min((_whole(despatched, part.here, part.wanted) for part in parts), default=despatched if here else 0)
    usable = min((_whole(despatched, part.usable, part.wanted) for part in parts), default=received)
    return AdvisedItem(
        item=line.item,
        description=line.description,
        unit=line.unit,
        despatched=despatched,
        received=received if here else 0,
        damaged=max(0, received - usable) if here else 0,
        counted=here and bool(parts) and all(part.counted for part in parts),
    )


def _whole(despatched: int, pieces: int, wanted: int) -> int:
    return despatched * pieces // wanted if wanted else despatched


# What the receiving advice messages share: who sends to whom, and text that a message can carry unchanged.


@dataclass(frozen=True)
class Parties:
    """Interchange addresses of the two sides, as they agreed on them; a GLN of 13 digits is named as one."""

    sender: str
    receiver: str


@dataclass(frozen=True)
class Limits:
    """What a syntax can carry: its reserved characters, its character set, and how the message is called."""

    what: Text
    reserved: str
    encoding: str


def checked_text(value: str, what: Text, most: int, limits: Limits) -> str:
    """The value unchanged; raises BadRequest where the message cannot carry it as it is.

    Identifiers are never shortened or altered: a receiver would not know them again.
    """
    if not value.strip():
        raise BadRequest(
            message("The {field} is empty, and {form} needs it.", field=what, form=limits.what),
            next_step=message("Fill in the {field}.", field=what),
        )
    if len(value) > most:
        raise BadRequest(
            message(
                "The {field} {text} has {number} characters; {form} carries {most} at most.",
                field=what,
                text=repr(value),
                number=len(value),
                form=limits.what,
                most=most,
            ),
            next_step=message("Send this receipt as PDF, JSON or CSV instead."),
        )
    wrong = sorted({sign for sign in value if sign in limits.reserved or not _carries(sign, limits.encoding)})
    if wrong:
        raise BadRequest(
            message(
                "The {field} {text} holds {characters}, which {form} cannot carry.",
                field=what,
                text=repr(value),
                characters=", ".join(map(repr, wrong)),
                form=limits.what,
            ),
            next_step=message("Send this receipt as PDF, JSON or CSV instead."),
        )
    return value


def _carries(sign: str, encoding: str) -> bool:
    try:
        sign.encode(encoding)
    except UnicodeEncodeError:
        return False
    return sign.isprintable()


def is_gln(number: str) -> bool:
    """True for 13 digits with a right GS1 check digit (GS1 General Specifications, section 7.9.1)."""
    return len(number) == 13 and has_valid_check_digit(number)


def is_gtin(number: str) -> bool:
    """True for 8, 12, 13 or 14 digits with a right GS1 check digit."""
    return len(number) in (8, 12, 13, 14) and has_valid_check_digit(number)
