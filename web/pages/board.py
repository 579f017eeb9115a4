"""What the coordinator's board can be narrowed and sorted by: its fields, its columns, and their addresses."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from urllib.parse import urlencode

from receiving.messages import Text, message
from receiving.service import URGENCY_WORDS, ListPage, Selection, SortKey, Urgency
from web.pages.cartons import Option


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


def filters(listed: ListPage, wanted: Selection, asked: Mapping[str, str]) -> Filters:
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
