"""GS1 application identifiers (AI) as GS1 states them: what each holds, and which of them need or exclude each other.

`gs1_dictionary.txt` beside this file is the GS1 Barcode Syntax Dictionary; its head names source, licence and notation.
General Specifications, figure 7.8.5-2 (lengths without a separator) and section 4.13 (pairs), say the same for people.
"""

import re
from collections.abc import Callable, Iterator
from collections.abc import Set as AbstractSet
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from itertools import product

from receiving.messages import Message, Text, listing, message
from receiving.model import has_valid_check_digit

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


def required_with(ai: str, found: AbstractSet[str]) -> Iterator[Text]:
    """What this AI needs beside it and ``found`` lacks: one of its choices."""
    for choices in ENTRIES[ai].required if ai in ENTRIES else ():
        if not any(all(_members(one) & found for one in choice.split("+")) for choice in choices):
            yield listing(map(_choice_words, choices), choice=True)


def _choice_words(choice: str) -> Text:
    """One AI, or those that have to stand together, in brackets."""
    ais = [f"({ai})" for ai in choice.split("+")]
    if len(ais) == 1:
        return ais[0]
    return message("{ai} with {others}", ai=ais[0], others=listing(ais[1:]))


def excluded_with(ai: str, found: AbstractSet[str]) -> AbstractSet[str]:
    """The AIs of ``found`` that may not stand beside this one."""
    forms = ENTRIES[ai].excluded if ai in ENTRIES else ()
    return frozenset().union(*(_members(form) & found for form in forms)) - {ai}


@cache
def _members(form: str) -> AbstractSet[str]:
    """The AIs of a form: a set, so that a label of many elements is judged in time linear to their number."""
    return frozenset("".join(digits) for digits in product(*("0123456789" if c == "n" else c for c in form)))


# What a value of the right form must be besides: facts of GS1 that the AI table of biip does not hold.
#
# Which AI follows which rule is in `gs1_dictionary`, whose names the rules carry; what they mean is in the GS1 General
# Specifications, sections 3 and 7.9. Not checked, because no carton is told by them: coupon contents (8110, 8112), and
# membership in the code lists of countries, currencies, package types and media types.


CSET_82 = "!\"%&'()*+,-./0123456789:;<=>?ABCDEFGHIJKLMNOPQRSTUVWXYZ_abcdefghijklmnopqrstuvwxyz"
"""The characters of GS1 AI values, in the order of their check values (General Specifications, figure 7.11-1)."""

_CSET_32 = "23456789ABCDEFGHJKLMNPQRSTUVWXYZ"
_PRIMES = (2, 3, 5, 7, 11, 13, 17, 19, 23, 29, 31, 37, 41, 43, 47, 53, 59, 61, 67, 71, 73, 79, 83)
_DAYS = (31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)


def value_fault(ai: str, value: str) -> Text:
    """What is wrong with a value whose characters and length are right; empty where nothing is."""
    for name, part in _rules_of(ai):
        holds, fault = RULES[name]
        if value[part] and not holds(value[part]):
            return fault.filled(part=repr(value[part]))
    return ""


@cache
def _rules_of(ai: str) -> tuple[tuple[str, slice], ...]:
    components = ENTRIES[ai].components if ai in ENTRIES else ()
    return tuple((name, slice(one.start, one.end)) for one in components for name in one.rules if name in RULES)


def _full(pattern: str) -> Callable[[str], bool]:
    compiled = re.compile(pattern, re.ASCII)
    return lambda value: compiled.fullmatch(value) is not None


def _is_number(value: str) -> bool:
    return value.isascii() and value.isdigit()


def _check_pair(value: str) -> bool:
    """The two check characters of a GMN: prime weights from the right, modulo 1021, in characters of CSET 32."""
    model = value[:-2]
    if len(value) < 2 or len(model) > len(_PRIMES) or any(char not in CSET_82 for char in model):
        return False
    total = sum(CSET_82.index(char) * prime for char, prime in zip(reversed(model), _PRIMES, strict=False)) % 1021
    return value[-2:] == _CSET_32[total >> 5] + _CSET_32[total & 31]


def _date(value: str, *, day_needed: bool) -> bool:
    """YYMMDD; the two digits of the year never mean 1900 or 2100, so every fourth year is a leap year."""
    if len(value) != 6 or not _is_number(value):
        return False
    year, month, day = int(value[:2]), int(value[2:4]), int(value[4:])
    if not 1 <= month <= 12 or (day == 0 and day_needed):
        return False
    return day <= _DAYS[month - 1] - (month == 2 and year % 4 != 0)


def _long_date(value: str) -> bool:
    leap = _is_number(value[:4]) and int(value[:4]) % 4 == 0 and (value[2:4] != "00" or int(value[:4]) % 400 == 0)
    return len(value) == 8 and _date(f"{'00' if leap else '01'}{value[4:]}", day_needed=True)


def _piece_of_total(value: str) -> bool:
    half = len(value) // 2
    return len(value) % 2 == 0 and bool(half) and _is_number(value) and 1 <= int(value[:half]) <= int(value[half:])


def _position_of_end(value: str) -> bool:
    position, slash, end = value.partition("/")
    numbers = all(_is_number(part) and part[0] != "0" for part in (position, end))
    return bool(slash) and numbers and int(position) <= int(end)


def _iban(value: str) -> bool:
    """ISO 13616: the check digits make the number 1 modulo 97, letters counted as 10 to 35."""
    if not re.fullmatch(r"[A-Z]{2}[0-9]{2}[0-9A-Z]{6,30}", value):
        return False
    return int("".join(str(int(char, 36)) for char in value[4:] + value[:4])) % 97 == 1


def _at_most(limit: int) -> Callable[[str], bool]:
    return lambda value: len(value) == 10 and _is_number(value) and int(value) <= limit


RULES: dict[str, tuple[Callable[[str], bool], Message]] = {
    "csum": (has_valid_check_digit, message("{part} has a wrong check digit")),
    "csumalpha": (_check_pair, message("{part} has a wrong pair of check characters")),
    "gcppos1": (_full(r"[0-9]{4}.*"), message("{part} does not begin with a company prefix of digits")),
    "gcppos2": (
        _full(r".[0-9]{4}.*"),
        message("{part} does not hold a company prefix of digits after its first digit"),
    ),
    "hasnondigit": (_full(r".*[^0-9].*"), message("{part} has digits only")),
    "hh": (_full(r"[01][0-9]|2[0-3]"), message("{part} is not an hour of the day")),
    "hhmi": (_full(r"(?:[01][0-9]|2[0-3])[0-5][0-9]|9999"), message("{part} is not a time of day")),
    "hyphen": (_full(r"-+"), message("{part} is not a hyphen")),
    "iban": (_iban, message("{part} is not an international bank account number")),
    "importeridx": (_full(r"[-0-9A-Za-z_]"), message("{part} is not an importer index")),
    "iso5218": (_full(r"[0129]"), message("{part} is not a code of ISO/IEC 5218")),
    "latitude": (_at_most(1_800_000_000), message("{part} is not a latitude")),
    "longitude": (_at_most(3_600_000_000), message("{part} is not a longitude")),
    "mi": (_full(r"[0-5][0-9]"), message("{part} is not a minute")),
    "nonzero": (_full(r"[0-9]*[1-9][0-9]*"), message("{part} is zero")),
    "nozeroprefix": (_full(r"0|[^0].*"), message("{part} begins with 0")),
    "pcenc": (_full(r"(?:[^%]|%[0-9A-Fa-f]{2})*"), message("{part} holds a percent sign that encodes no character")),
    "pieceoftotal": (_piece_of_total, message("{part} is not a piece of a total")),
    "posinseqslash": (_position_of_end, message("{part} is not a position of a sequence")),
    "ss": (_full(r"[0-5][0-9]"), message("{part} is not a second")),
    "winding": (_full(r"[019]"), message("{part} is not a winding direction")),
    "yesno": (_full(r"[01]"), message("{part} is neither 0 nor 1")),
    "yymmd0": (lambda value: _date(value, day_needed=False), message("{part} is not a date YYMMDD")),
    "yymmdd": (lambda value: _date(value, day_needed=True), message("{part} is not a date YYMMDD with a day")),
    "yyyymmdd": (_long_date, message("{part} is not a date YYYYMMDD")),
    "zero": (_full(r"0+"), message("{part} is not zero")),
}
"""The rules by name: does the value hold to it, and what is said of the part of it that does not."""
