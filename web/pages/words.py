"""Dates, places, counts and cartons as a person reads them."""

from collections.abc import Iterable
from datetime import date, datetime

from receiving.model import Address, Carton, DataScope
from web.units import sizes, weight

MAX_PLACES_NAMED = 3


def counted(number: int, one: str, many: str = "") -> str:
    """A number with its noun.

    >>> counted(1, "carton"), counted(3, "box", "boxes")
    ('1 carton', '3 boxes')
    """
    return f"{number} {one if number == 1 else many or one + 's'}"


def listed(words: Iterable[str]) -> str:
    """Words joined as in a sentence.

    >>> listed(["a", "b", "c"])
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
    return f"{'carton' if len(ids) == 1 else 'cartons'} {listed(ids)}" if ids else ""


def bays_words(bays: Iterable[str]) -> str:
    """Bays by their names.

    >>> bays_words(["B1"]), bays_words(["M1", "M2"])
    ('bay B1', 'bays M1 and M2')
    """
    names = list(bays)
    return f"{'bay' if len(names) == 1 else 'bays'} {listed(names)}" if names else ""


def visit_words(visit: date | None, today: date) -> str:
    """When the rep's visit is, seen from today.

    >>> visit_words(date(2026, 3, 5), date(2026, 3, 4))
    'Visit tomorrow, Thu 5 Mar'
    """
    if visit is None:
        return "No visit planned"
    days = (visit - today).days
    near = {-1: "Visit was yesterday, ", 0: "Visit today, ", 1: "Visit tomorrow, "}
    far = "Visit was on " if days < 0 else "Visit on "
    year = f" {visit.year}" if visit.year != today.year else ""
    return f"{near.get(days, far)}{visit:%a} {visit.day} {visit:%b}{year}"


def moment_words(at: datetime | None, now: datetime) -> str:
    """A time of the day where it was today, else with its date; in the time zone of ``now``, which is named.

    >>> from datetime import UTC
    >>> moment_words(datetime(2026, 3, 4, 14, 5, tzinfo=UTC), datetime(2026, 3, 5, 9, 0, tzinfo=UTC))
    'Wed 4 Mar, 14:05 UTC'
    """
    if at is None:
        return ""
    local = at.astimezone(now.tzinfo)
    if local.date() == now.date():
        return f"{local:%H:%M %Z}"
    year = f" {local.year}" if local.year != now.year else ""
    return f"{local:%a} {local.day} {local:%b}{year}, {local:%H:%M %Z}"


def limit_words(scope: DataScope) -> str:
    """What another program is limited to; empty where it is to nothing.

    >>> limit_words(DataScope(frozenset({"0417"}), frozenset({"Spring", "Fall"})))
    'of stores 0417 and programmes Fall, Spring alone'
    """
    named = (("stores", scope.stores), ("programmes", scope.programmes))
    parts = [f"{what} {', '.join(sorted(names))}" for what, names in named if names is not None]
    return f"of {' and '.join(parts)} alone" if parts else ""


def where_words(carton: Carton) -> str:
    """The planogram places that a carton is for, by section; a few by name, the rest by number."""
    addresses = carton.addresses
    if not addresses:
        whole = "whole section" if len(carton.sections) == 1 else "whole sections"
        return f"{listed(carton.sections)}, {whole}" if carton.sections else ""
    named = addresses[:MAX_PLACES_NAMED]
    by_section: dict[str, list[Address]] = {}
    for address in named:
        by_section.setdefault(address.section, []).append(address)
    parts = [_section_places(section, places) for section, places in by_section.items()]
    more = len(addresses) - len(named)
    return "; ".join(parts) + (f" and {counted(more, 'more place')}" if more else "")


def _section_places(section: str, places: list[Address]) -> str:
    cells = ", ".join(f"column {place.column} row {place.row}" for place in places)
    return f"{section}: {cells}" if section else cells


def size_words(carton: Carton) -> str:
    """Weight and size of the closed carton, as far as the manifest says."""
    sides = [side for side in (carton.length_cm, carton.width_cm, carton.height_cm) if side is not None]
    size = sizes(sides) if sides else ""
    return ", ".join(part for part in (weight_words(carton), size) if part)


def weight_words(carton: Carton) -> str:
    """The weight, or nothing where the manifest is silent."""
    return weight(carton.weight_kg, digits=3) if carton.weight_kg is not None else ""


def shown_text(raw: str) -> str:
    r"""A label's text with its separators and other control characters made visible.

    >>> shown_text("10AB\x1d21X")
    '10AB␝21X'
    """
    return "".join(chr(0x2400 + ord(mark)) if ord(mark) < 0x20 else mark for mark in raw)
