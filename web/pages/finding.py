"""A long list, narrowed by words and shown a page at a time."""

from collections.abc import Sequence
from dataclasses import dataclass

from receiving.service import DispatchRow

PAGE_SIZE = 100
SHORT_LIST = 8
"""A list of so few needs no search."""


@dataclass(frozen=True)
class Finder:
    """What was looked for and where in the list the page stands; ``before`` and ``after`` are page numbers or 0."""

    query: str
    words: str
    before: int
    after: int
    needed: bool


def narrow(rows: Sequence[DispatchRow], query: str, page: int) -> tuple[Sequence[DispatchRow], Finder]:
    """The rows of this page (from 1) whose store or shipment holds every word of the query."""
    wanted = query.casefold().split()
    found = [row for row in rows if all(word in _text(row) for word in wanted)]
    pages = max(1, -(-len(found) // PAGE_SIZE))
    page = min(max(page, 1), pages)
    first = (page - 1) * PAGE_SIZE
    shown = found[first : first + PAGE_SIZE]
    span = f"{first + 1} to {first + len(shown)} of " if pages > 1 else ""
    words = f"{span}{len(found)} found" if wanted else f"{span}{len(found)}"
    finder = Finder(
        " ".join(query.split()),
        words,
        page - 1,
        page + 1 if page < pages else 0,
        len(rows) > SHORT_LIST or bool(wanted),
    )
    return shown, finder


def _text(row: DispatchRow) -> str:
    return f"{row.row.shipment} {row.row.store}".casefold()
