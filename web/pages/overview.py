"""The coordinator's overview: the board of shipments, how it is narrowed and sorted, and what is to be acted on."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import ClassVar
from urllib.parse import urlencode

from markupsafe import Markup

from receiving.messages import Day, Message, Text, message, plural
from receiving.service import URGENCY_WORDS, ListEntry, ListPage, Selection, SortKey, Urgency
from web.pages.cartons import Option
from web.pages.finding import Finder, finder_of
from web.pages.shipments import URGENCY_TONES, ShipmentLine, shipment_line
from web.pages.tone import Tone

NOTICE_WORDS: dict[Urgency, Callable[[int], Message]] = {
    Urgency.OVERDUE: lambda number: plural(
        number,
        "{number} shipment where something that was due is not here.",
        "{number} shipments where something that was due is not here.",
    ),
    Urgency.SHORT: lambda number: plural(
        number,
        "{number} shipment short with the visit still to come.",
        "{number} shipments short with the visit still to come.",
    ),
    Urgency.HOLD_ENDED: lambda number: plural(
        number,
        "{number} shipment where the hold of the visit has ended.",
        "{number} shipments where the hold of the visit has ended.",
    ),
    Urgency.UNSEEN: lambda number: plural(
        number,
        "{number} shipment that nobody has looked at yet.",
        "{number} shipments that nobody has looked at yet.",
    ),
}


@dataclass(frozen=True)
class Column:
    """A column; ``href`` sorts by it, empty where nothing can be; ``direction`` is how it is sorted now."""

    title: Text
    number: bool
    href: str
    direction: str


@dataclass(frozen=True)
class Field:
    """A field that the form takes along and does not show."""

    name: str
    value: str


@dataclass(frozen=True)
class Filters:
    """The fields of the board as they are filled in; ``address`` is the view to save or to download."""

    query: str
    states: tuple[Option, ...]
    visit_from: str
    visit_to: str
    sections: tuple[Option, ...]
    shippers: tuple[Option, ...]
    carried: tuple[Field, ...]
    narrowed: bool
    address: str
    columns: tuple[Column, ...]


@dataclass(frozen=True)
class Notice:
    """How many shipments must be acted on before their visit, and why; ``state`` shows them alone."""

    words: Text
    tone: Tone
    state: str


@dataclass(frozen=True)
class BoardRow:
    """One row of the board, the same for everybody who may see it."""

    template: ClassVar[str] = "_board_row.html"

    line: ShipmentLine


@dataclass(frozen=True)
class BoardPart:
    """What an open board asks for again: its notices and its rows, each of them rendered."""

    template: ClassVar[str] = "_board_part.html"

    rows: tuple[Markup, ...]
    finder: Finder
    filters: Filters
    notices: tuple[Notice, ...]
    version: str


@dataclass(frozen=True)
class OverviewPage(BoardPart):
    """The coordinator's overview."""

    template: ClassVar[str] = "overview.html"

    today: Text
    person: str

    title: ClassVar[Text] = message("Dispatch overview")


COLUMNS = (
    (message("Store"), SortKey.STORE, False),
    (message("State"), SortKey.URGENCY, False),
    (message("Visit"), SortKey.VISIT, False),
    (message("Order by"), SortKey.ORDER_BY, False),
    (message("Here"), SortKey.HERE, True),
    (message("Missing"), SortKey.MISSING, True),
    (message("Also"), None, False),
    (message("Last read"), SortKey.LAST_READ, False),
    (message("What to do"), None, False),
)
CARRIED = ("sort",)
"""Fields that the form takes along and does not show."""


def board_row(entry: ListEntry, now: datetime) -> BoardRow:
    """One row of the board, as of ``now``."""
    return BoardRow(shipment_line(entry.decided, now))


def board_part(
    listed: ListPage, rows: tuple[Markup, ...], wanted: Selection, *, asked: Mapping[str, str], version: str
) -> BoardPart:
    """The board as an open page asks for it again; ``asked`` are the fields of the address."""
    finder = finder_of(listed, wanted, asked=asked)
    return BoardPart(rows, finder, _filters(listed, wanted, asked), _notices(listed), version)


def overview_page(board: BoardPart, *, now: datetime, person: str) -> OverviewPage:
    """The coordinator's overview with this board."""
    today = Day(now.date(), year=True)
    return OverviewPage(board.rows, board.finder, board.filters, board.notices, board.version, today, person)


def _notices(listed: ListPage) -> tuple[Notice, ...]:
    counts = listed.urgencies
    return tuple(
        Notice(words(counts[urgency]), URGENCY_TONES[urgency], urgency.name.lower())
        for urgency, words in NOTICE_WORDS.items()
        if counts.get(urgency)
    )


def _filters(listed: ListPage, wanted: Selection, asked: Mapping[str, str]) -> Filters:
    """The fields of a board that looks for this; ``asked`` are those of the address."""
    states = [Option(u.name.lower(), URGENCY_WORDS[u], u in wanted.states) for u in Urgency]
    return Filters(
        query=" ".join(wanted.words.split()),
        states=(Option("", message("Any state"), not wanted.states), *states),
        visit_from=wanted.visit_from.isoformat() if wanted.visit_from else "",
        visit_to=wanted.visit_to.isoformat() if wanted.visit_to else "",
        sections=_choices(message("Any section"), listed.sections, wanted.section),
        shippers=_choices(message("Any shipper"), listed.shippers, wanted.shipper),
        carried=tuple(Field(name, asked[name]) for name in CARRIED if asked.get(name)),
        narrowed=wanted.narrows,
        address=_address(asked),
        columns=tuple(Column(title, number, *_sort(key, wanted, asked)) for title, key, number in COLUMNS),
    )


def _choices(every: Text, names: Iterable[str], chosen: str) -> tuple[Option, ...]:
    """A name in the address that no row has stays to be seen."""
    known = list(names)
    if chosen and chosen not in known:
        known.append(chosen)
    return (Option("", every, not chosen), *(Option(name, name, name == chosen) for name in known))


def _sort(key: SortKey | None, wanted: Selection, asked: Mapping[str, str]) -> tuple[str, str]:
    if key is None:
        return "", ""
    now = key is wanted.sort
    turned = f"-{key.value}" if now and not wanted.descending else key.value
    return _address(asked, sort=turned), ("descending" if wanted.descending else "ascending") if now else ""


def _address(asked: Mapping[str, str], **changed: str) -> str:
    fields = {name: value for name, value in {**asked, **changed}.items() if value}
    return f"?{urlencode(fields)}" if fields else "?"
