"""A long list, narrowed by what is looked for and shown a page at a time."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from urllib.parse import urlencode

from receiving.service import DispatchRow, Selection, select

PAGE_SIZE = 100
SHORT_LIST = 8
"""A list of so few needs no search."""


@dataclass(frozen=True)
class Finder:
    """What was looked for and where in the list the page stands; ``before`` and ``after`` are addresses or empty."""

    query: str
    words: str
    before: str
    after: str
    needed: bool


def narrow(
    rows: Sequence[DispatchRow],
    wanted: Selection,
    page: int,
    *,
    asked: Mapping[str, str] | None = None,
    found: Collection[str] | None = None,
) -> tuple[Sequence[DispatchRow], Finder]:
    """The rows of this page (from 1) that are looked for; ``asked`` are the fields of the address that look for them.

    ``found`` are shipments in which a code or a carton was found.
    """
    kept = select(rows, wanted, found)
    pages = max(1, -(-len(kept) // PAGE_SIZE))
    page = min(max(page, 1), pages)
    first = (page - 1) * PAGE_SIZE
    shown = kept[first : first + PAGE_SIZE]
    span = f"{first + 1} to {first + len(shown)} of " if pages > 1 else ""
    words = f"{span}{len(kept)} found" if wanted.narrows else f"{span}{len(kept)}"
    fields = dict(asked) if asked is not None else {"q": " ".join(wanted.words.split())}
    finder = Finder(
        " ".join(wanted.words.split()),
        words,
        _turned(fields, page - 1) if page > 1 else "",
        _turned(fields, page + 1) if page < pages else "",
        len(rows) > SHORT_LIST or wanted.narrows,
    )
    return shown, finder


def _turned(fields: Mapping[str, str], page: int) -> str:
    return "?" + urlencode({**fields, "page": page})
