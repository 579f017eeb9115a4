"""A long list shown a page at a time: what was looked for, and the ways to its other pages."""

from collections.abc import Mapping
from dataclasses import dataclass
from urllib.parse import urlencode

from receiving.service import LIST_PAGE_SIZE, ListPage, Selection

SHORT_LIST = 8
"""A list of so few needs no search."""


@dataclass(frozen=True)
class Finder:
    """What was looked for and where in the list the page stands; ``before`` and ``after`` are addresses or empty.

    ``working`` says that rows are being made.
    """

    query: str
    words: str
    before: str
    after: str
    needed: bool
    working: str = ""


def finder_of(listed: ListPage, wanted: Selection, *, asked: Mapping[str, str] | None = None) -> Finder:
    """Where this page stands; ``asked`` are the fields of the address that look for its rows."""
    first = (listed.number - 1) * LIST_PAGE_SIZE
    span = f"{first + 1} to {first + len(listed.entries)} of " if listed.pages > 1 else ""
    words = f"{span}{listed.wanted} found" if wanted.narrows else f"{span}{listed.wanted}"
    fields = dict(asked) if asked is not None else {"q": " ".join(wanted.words.split())}
    return Finder(
        " ".join(wanted.words.split()),
        words,
        _turned(fields, listed.number - 1) if listed.number > 1 else "",
        _turned(fields, listed.number + 1) if listed.number < listed.pages else "",
        listed.all > SHORT_LIST or wanted.narrows,
        f"{listed.in_work} shipments are being worked out; the list fills by itself." if listed.in_work else "",
    )


def _turned(fields: Mapping[str, str], page: int) -> str:
    return "?" + urlencode({**fields, "page": page})
