"""What the kit would move in shipments that are loaded already."""

from dataclasses import dataclass
from datetime import date
from typing import ClassVar

from receiving.messages import Message, Text, message, plural
from receiving.service import KitMove, KitMoves
from web.pages.words import visit_words


@dataclass(frozen=True)
class MoveLine:
    """One shipment; ``ticked`` where its visit is still to come and the store has not confirmed it."""

    shipment: str
    store: str
    visit: Text
    confirmed: bool
    heading: Text
    changes: tuple[Text, ...]
    unclear: tuple[Text, ...]
    ticked: bool


@dataclass(frozen=True)
class KitMovesPage:
    """All shipments that the kit would change; ``seen`` stands for exactly this page."""

    template: ClassVar[str] = "office_kit_moves.html"

    lines: tuple[MoveLine, ...]
    seen: str
    movable: int
    done: Text

    title: ClassVar[Text] = message("New places from the kit")


def kit_moves_page(found: KitMoves, today: date, *, moved: int = 0) -> KitMovesPage:
    """The page of what the kit would change; ``moved`` shipments were changed just now."""
    return KitMovesPage(
        lines=tuple(_line(move, today) for move in found.moves),
        seen=found.seen,
        movable=sum(bool(move.changes) for move in found.moves),
        done=_done(moved) if moved else "",
    )


def _done(moved: int) -> Message:
    return plural(
        moved,
        "{number} shipment changed; each has a new revision.",
        "{number} shipments changed; each has a new revision.",
    )


def _line(move: KitMove, today: date) -> MoveLine:
    to_come = move.dispatch_date is None or move.dispatch_date >= today
    return MoveLine(
        shipment=move.shipment,
        store=move.store,
        visit=visit_words(move.dispatch_date, today),
        confirmed=move.confirmed,
        heading=plural(len(move.changes), "{number} carton changes", "{number} cartons change"),
        changes=move.changes,
        unclear=move.unclear,
        ticked=to_come and not move.confirmed,
    )
