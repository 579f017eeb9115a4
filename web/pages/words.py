"""Dates, places, counts and cartons as a person reads them."""

from collections.abc import Iterable
from datetime import date, datetime
from functools import lru_cache

from receiving.messages import Day, Message, Text, day_seen, joined, listing, message, plural, time_seen
from receiving.model import Address, Carton, DataScope
from receiving.service import SetAside
from web.units import sizes, weight

MAX_PLACES_NAMED = 3


def count_words(number: int, one: str, many: str = "") -> str:
    """A number with its noun.

    >>> count_words(1, "carton"), count_words(3, "box", "boxes")
    ('1 carton', '3 boxes')
    """
    return f"{number} {one if number == 1 else many or one + 's'}"


def join_words(words: Iterable[str]) -> str:
    """Words joined as in a sentence.

    >>> join_words(["a", "b", "c"])
    'a, b and c'
    """
    *first, last = [word for word in words if word] or [""]
    return f"{', '.join(first)} and {last}" if first else last


def cartons_words(cartons: Iterable[str]) -> str:
    """Cartons by their ids.

    >>> cartons_words(["01"]), cartons_words(["01", "02"])
    ('carton 01', 'cartons 01 and 02')
    """
    ids = list(cartons)
    return f"{'carton' if len(ids) == 1 else 'cartons'} {join_words(ids)}" if ids else ""


def bays_words(bays: Iterable[str]) -> Text:
    """Bays by their names.

    >>> str(bays_words(["B1"])), str(bays_words(["M1", "M2"]))
    ('bay B1', 'bays M1 and M2')
    """
    names = list(bays)
    return plural(len(names), "bay {bays}", "bays {bays}", bays=listing(names)) if names else ""


def day_words(day: date | None) -> Text:
    """A day as a person reads it, without its year; empty where there is none.

    >>> str(day_words(date(2026, 12, 1)))
    'Tue 1 Dec'
    """
    return Day(day) if day else ""


def visit_words(visit: date | None, today: date) -> Message:
    """When the rep's visit is, seen from today.

    >>> str(visit_words(date(2026, 3, 5), date(2026, 3, 4)))
    'Visit tomorrow, Thu 5 Mar'
    """
    if visit is None:
        return message("No visit planned")
    day = day_seen(visit, today)
    match (visit - today).days:
        case -1:
            return message("Visit was yesterday, {day}", day=day)
        case 0:
            return message("Visit today, {day}", day=day)
        case 1:
            return message("Visit tomorrow, {day}", day=day)
        case days if days < 0:
            return message("Visit was on {day}", day=day)
    return message("Visit on {day}", day=day)


def moment_words(at: datetime | None, now: datetime) -> Text:
    """A time as `time_seen` gives it; empty where there is none."""
    return time_seen(at, now) if at else ""


def limit_words(scope: DataScope) -> Text:
    """What another program is limited to; empty where it is to nothing.

    >>> str(limit_words(DataScope(frozenset({"0417"}), frozenset({"Spring", "Fall"}))))
    'of stores 0417 and programmes Fall, Spring alone'
    """
    stores, programmes = (", ".join(sorted(names or ())) for names in (scope.stores, scope.programmes))
    if scope.stores is None and scope.programmes is None:
        return ""
    if scope.programmes is None:
        return message("of stores {stores} alone", stores=stores)
    if scope.stores is None:
        return message("of programmes {programmes} alone", programmes=programmes)
    return message("of stores {stores} and programmes {programmes} alone", stores=stores, programmes=programmes)


def where_words(carton: Carton) -> Text:
    """The planogram places that a carton is for, by section; a few by name, the rest by number."""
    addresses = carton.addresses
    if not addresses:
        sections = listing(carton.sections)
        if not sections.items:
            return ""
        return plural(
            len(carton.sections), "{sections}, whole section", "{sections}, whole sections", sections=sections
        )
    return _addresses_words(addresses)


@lru_cache(maxsize=4096)  # a page of 400 cartons says them again after each scan
def _addresses_words(addresses: tuple[Address, ...]) -> Text:
    named = addresses[:MAX_PLACES_NAMED]
    by_section: dict[str, list[Address]] = {}
    for address in named:
        by_section.setdefault(address.section, []).append(address)
    places = joined(*(_section_places(section, within) for section, within in by_section.items()), separator="; ")
    more = len(addresses) - len(named)
    if not more:
        return places
    return plural(more, "{places} and {number} more place", "{places} and {number} more places", places=places)


def _section_places(section: str, places: list[Address]) -> Text:
    cells = joined(*map(_cell, places), separator=", ")
    return message("{section}: {places}", section=section, places=cells) if section else cells


def _cell(place: Address) -> Message:
    return message("column {column} row {row}", column=place.column, row=place.row)


def size_words(carton: Carton) -> Text:
    """Weight and size of the closed carton, as far as the manifest says."""
    sides = [side for side in (carton.length_cm, carton.width_cm, carton.height_cm) if side is not None]
    size = sizes(sides) if sides else ""
    parts = [part for part in (weight_words(carton), size) if part]
    return joined(*parts, separator=", ") if parts else ""


def weight_words(carton: Carton) -> Text:
    """The weight, or nothing where the manifest is silent."""
    return weight(carton.weight_kg, digits=3) if carton.weight_kg is not None else ""


def shown_text(raw: str) -> str:
    r"""A label's text with its separators and other control characters made visible.

    >>> shown_text("10AB\x1d21X")
    '10AB␝21X'
    """
    return "".join(chr(0x2400 + ord(mark)) if ord(mark) < 0x20 else mark for mark in raw)


_ROW_WORDS = {
    "actions": message("An action"),
    "documents": message("A document"),
    "manifest_revisions": message("A revision of the manifest"),
    "notes": message("A note"),
    "photos": message("A photo's record"),
    "reads": message("A read"),
    "receipts": message("A receipt"),
}


def set_aside_words(row: SetAside) -> Message:
    """One sentence on a row that counts for nothing, because it cannot be read.

    >>> str(set_aside_words(SetAside("notes", "S-1", "6f1c", "JSON is malformed")))
    'A note cannot be read and does not count (shipment S-1, 6f1c).'
    """
    if row.table == "shipments":
        return message("Shipment {shipment} cannot be read and is not shown.", shipment=row.shipment)
    what, name = _ROW_WORDS[row.table], row.name[:12]
    if row.shipment:
        return message(
            "{kind} cannot be read and does not count (shipment {shipment}, {name}).",
            kind=what,
            shipment=row.shipment,
            name=name,
        )
    return message("{kind} cannot be read and does not count ({name}).", kind=what, name=name)
