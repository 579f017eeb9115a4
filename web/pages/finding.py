"""A long list shown a page at a time: what was looked for, and the ways to its other pages."""

from collections.abc import Mapping
from dataclasses import dataclass
from urllib.parse import urlencode

from receiving.messages import Message, Text, message, plural
from receiving.service import LIST_PAGE_SIZE, ListPage, Selection

SHORT_LIST = 8
"""A list of so few needs no search."""


@dataclass(frozen=True)
class Finder:
    """What was looked for and where in the list the page stands; ``before`` and ``after`` are addresses or empty.

    ``working`` says that rows are being made.
    """

    query: str
    words: Text
    before: str
    after: str
    needed: bool
    working: Text = ""


def finder_of(listed: ListPage, wanted: Selection, *, asked: Mapping[str, str] | None = None) -> Finder:
    """Where this page stands; ``asked`` are the fields of the address that look for its rows."""
    fields = dict(asked) if asked is not None else {"q": " ".join(wanted.words.split())}
    return Finder(
        " ".join(wanted.words.split()),
        _span_words(listed, wanted),
        _turned(fields, listed.number - 1) if listed.number > 1 else "",
        _turned(fields, listed.number + 1) if listed.number < listed.pages else "",
        listed.all > SHORT_LIST or wanted.narrows,
        _working_words(listed.in_work) if listed.in_work else "",
    )


def _working_words(number: int) -> Message:
    return plural(
        number,
        "{number} shipment is being worked out; the list fills by itself.",
        "{number} shipments are being worked out; the list fills by itself.",
    )


def _span_words(listed: ListPage, wanted: Selection) -> Text:
    """Which rows of how many the page shows."""
    first = (listed.number - 1) * LIST_PAGE_SIZE
    values = {"first": first + 1, "last": first + len(listed.entries), "all": listed.wanted}
    if wanted.narrows and listed.pages > 1:
        return message("{first} to {last} of {all} shipments found", **values)
    if wanted.narrows:
        return plural(listed.wanted, "{number} shipment found", "{number} shipments found")
    return message("{first} to {last} of {all}", **values) if listed.pages > 1 else str(listed.wanted)


def _turned(fields: Mapping[str, str], page: int) -> str:
    return "?" + urlencode({**fields, "page": page})
