"""The parts list: what an item in a carton of each kind is made of, to edit."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import ClassVar

from receiving.errors import ReceivingError
from receiving.messages import Text, message, opening, plural
from receiving.model import CartonKind
from receiving.service import PartsTable
from receiving.wording import term
from web.pages.cartons import Option
from web.pages.problem import Trouble, trouble_of

EMPTY_ROWS = 2
PartRow = tuple[str, str, str, str]


@dataclass(frozen=True)
class PartFields:
    """One part as typed; ``part`` is empty in a row to be filled."""

    number: int
    kinds: tuple[Option, ...]
    part: str
    qty: str
    of_position: bool


@dataclass(frozen=True)
class PartsPage:
    """The parts list to edit. ``follows`` is the version that it is saved over."""

    template: ClassVar[str] = "office_parts.html"

    sentence: Text
    usual: bool
    rows: tuple[PartFields, ...]
    follows: int
    done: Text
    trouble: Trouble | None

    title: ClassVar[Text] = message("Parts list")


def parts_page(
    table: PartsTable, typed: Iterable[PartRow] | None = None, *, fault: ReceivingError | None = None, done: Text = ""
) -> PartsPage:
    """The page of the parts list, with what was typed where it could not be saved."""
    rows = table.rows if typed is None else tuple(typed)
    kinds = len({kind for kind, *_ in table.rows})
    own = message(
        "Your own list is in use: {parts} of {kinds}.",
        parts=plural(len(table.rows), "{number} part", "{number} parts"),
        kinds=plural(kinds, "{number} kind of carton", "{number} kinds of carton"),
    )
    return PartsPage(
        sentence=message("The usual list is in use: common practice, no source.") if table.usual else own,
        usual=table.usual,
        rows=tuple(_fields(n, row) for n, row in enumerate([*rows, *[("", "", "1", "no")] * EMPTY_ROWS], 1)),
        follows=table.version,
        done=done,
        trouble=trouble_of(fault),
    )


def _fields(number: int, row: PartRow) -> PartFields:
    kind, part, qty, of_position = row
    kinds = tuple(Option(each.value, opening(term(each)), each.value == kind) for each in CartonKind)
    return PartFields(number, kinds, part, qty, of_position == "yes")
