"""GS1 application identifiers (AI) as GS1 states them: what each holds, and which of them need or exclude each other.

`gs1_dictionary.txt` beside this file is the GS1 Barcode Syntax Dictionary; its head names source, licence and notation.
General Specifications, figure 7.8.5-2 (lengths without a separator) and section 4.13 (pairs), say the same for people.
"""

import re
from collections.abc import Iterator
from collections.abc import Set as AbstractSet
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from itertools import product

_COMPONENT = re.compile(r"\[?([NXYZ])(\.\.)?(\d+)([,a-z0-9]*)\]?([,a-z0-9]*)")
_LINE = re.compile(r"(\d+)(?:-(\d+))? +([*?]*) *([^#]*)# ?(.*)")


@dataclass(frozen=True)
class Component:
    """One part of an AI's value: the characters ``start`` to ``end`` of it, at most, and the rules that they follow."""

    start: int
    end: int
    rules: tuple[str, ...]


@dataclass(frozen=True)
class Entry:
    """One AI. ``length`` counts the characters of its value where it needs no separator behind it, else it is 0.

    ``required``: of each row one choice must stand on the same label, a choice being AIs joined by "+"; ``excluded``:
    AIs that may not, with ``n`` for any digit; ``link_orders``: for a key of a Digital Link, the orders in which its
    qualifiers may follow.
    """

    ai: str
    title: str
    length: int
    in_link_query: bool
    components: tuple[Component, ...]
    required: tuple[tuple[str, ...], ...]
    excluded: tuple[str, ...]
    link_orders: tuple[tuple[str, ...], ...]


def _entries() -> dict[str, Entry]:
    text = files("receiving.reading").joinpath("gs1_dictionary.txt").read_text(encoding="utf-8")
    lines = (line for line in text.splitlines() if line and not line.startswith("#"))
    return {entry.ai: entry for line in lines for entry in _entries_of(line)}


def _entries_of(line: str) -> Iterator[Entry]:
    """The entry of a line, or of each AI of its range."""
    found = _LINE.fullmatch(line)
    assert found is not None, line
    first, last, flags, spec, title = found.groups()
    components, attributes = _parts(spec)
    for number in range(int(first), int(last or first) + 1):
        yield Entry(
            ai=f"{number:0{len(first)}d}",
            title=title.strip(),
            length=components[-1].end if "*" in flags else 0,
            in_link_query="?" in flags,
            components=components,
            required=tuple(tuple(value.split(",")) for name, value in attributes if name == "req"),
            excluded=tuple(ai for name, value in attributes if name == "ex" for ai in value.split(",")),
            link_orders=tuple(
                tuple(filter(None, order.split(",")))
                for name, value in attributes
                if name == "dlpkey"
                for order in value.split("|")
            ),
        )


def _parts(spec: str) -> tuple[tuple[Component, ...], list[tuple[str, str]]]:
    """The components, each behind the one before, and the attributes by name."""
    components: list[Component] = []
    attributes = []
    for word in spec.split():
        part = _COMPONENT.fullmatch(word)
        if part is None:
            name, _, value = word.partition("=")
            attributes.append((name, value))
            continue
        start = components[-1].end if components else 0
        rules = tuple(filter(None, (part[4] + part[5]).split(",")))
        components.append(Component(start, start + int(part[3]), rules))
    return tuple(components), attributes


ENTRIES = _entries()
PREDEFINED_LENGTHS = {ai[:2]: len(ai) + entry.length for ai, entry in ENTRIES.items() if entry.length}
"""First two digits -> characters of AI and value together, for elements that need no separator."""

LINK_KEYS = {ai: entry.link_orders for ai, entry in ENTRIES.items() if entry.link_orders}
"""Keys of a Digital Link path, and the orders in which their qualifiers may follow."""

NOT_IN_LINK_QUERY = frozenset(ai for ai, entry in ENTRIES.items() if not entry.in_link_query)


def required_with(ai: str, found: AbstractSet[str]) -> Iterator[str]:
    """What this AI needs beside it and ``found`` lacks, in words."""
    for choices in ENTRIES[ai].required if ai in ENTRIES else ():
        if not any(all(_members(one) & found for one in choice.split("+")) for choice in choices):
            yield " or ".join("(" + choice.replace("+", ") with (") + ")" for choice in choices)


def excluded_with(ai: str, found: AbstractSet[str]) -> AbstractSet[str]:
    """The AIs of ``found`` that may not stand beside this one."""
    forms = ENTRIES[ai].excluded if ai in ENTRIES else ()
    return frozenset().union(*(_members(form) & found for form in forms)) - {ai}


@cache
def _members(form: str) -> AbstractSet[str]:
    """The AIs of a form: a set, so that a label of many elements is judged in time linear to their number."""
    return frozenset("".join(digits) for digits in product(*("0123456789" if c == "n" else c for c in form)))
