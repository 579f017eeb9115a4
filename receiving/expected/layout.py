"""Layout files: TOML -> `Layout`, every fault at once with line and column of its key; and `Layout` -> TOML."""

import json
import re
import tomllib
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import time
from decimal import Decimal
from difflib import get_close_matches
from math import isfinite
from typing import Any
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from receiving.errors import Fault, LayoutFaults, words_of_error
from receiving.expected.table import MOST_GUESSED
from receiving.expected.table_files import decode_table, looks_like_utf16
from receiving.messages import Text, figure, joined, message, plural
from receiving.model import Bay, Cart, Layout
from receiving.model.hidden_characters import find_hidden_character

# What the values of a layout file must be; each check returns the value or says in words what is wrong.


Check = Callable[[Any], Any]

_LARGEST = 100_000
_COUNTRY, _REGION = re.compile("[A-Z]{2}"), re.compile("[A-Z0-9]{1,3}")


def text(value: Any) -> str:
    """A text of 1 to 120 characters on one line."""
    if isinstance(value, int) and not isinstance(value, bool):
        raise ValueError(
            message(
                'is the number {value}; put it in quotes, e.g. "{quoted}", so that zeros are kept',
                value=format(value, ".20g"),
                quoted=format(value, "04.12g"),
            )
        )
    if not isinstance(value, str) or not value.strip():
        raise ValueError(message("is {value}; expected a text in quotes", value=_shown(value)))
    if len(value) > 120 or find_hidden_character(value, lines=False) is not None:
        raise ValueError(message("is {value}; expected one line of at most 120 characters", value=_shown(value)))
    return value.strip()


def number(value: Any) -> float:
    """A number above 0: metres, centimetres or kilograms, as the key's name says."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise ValueError(message("is {value}; expected a number above 0, without quotes", value=_shown(value)))
    if not (isinstance(value, int) or isfinite(value)) or not 0 < value <= _LARGEST:
        raise ValueError(
            message(
                "is {value}; expected a number above 0 and at most {most}",
                value=_shown(value),
                most=figure(_LARGEST),
            )
        )
    return float(value)


def floor_length(value: Any) -> float:
    """A length of at least 0: centimetres of floor, where 0 says that no floor is kept."""
    return 0.0 if value == 0 and isinstance(value, int | float) and not isinstance(value, bool) else number(value)


def whole_number(value: Any) -> int:
    """A whole number of at least 1."""
    if isinstance(value, bool) or not isinstance(value, int) or not 1 <= value <= _LARGEST:
        raise ValueError(message("is {value}; expected a whole number of at least 1", value=_shown(value)))
    return value


def section_columns(value: Any) -> tuple[int, ...]:
    """A list of section columns, each a whole number from 1 to 9999, each once."""
    if not isinstance(value, list) or not value:
        raise ValueError(message("is {value}; expected a list of column numbers, e.g. [1, 2, 3]", value=_shown(value)))
    bad = [c for c in value if isinstance(c, bool) or not isinstance(c, int) or not 1 <= c <= 9999]
    if bad:
        raise ValueError(message("holds {value}; a column is a whole number from 1 to 9999", value=_shown(bad[0])))
    if len(set(value)) != len(value):
        twice = Counter(value).most_common(1)[0][0]
        raise ValueError(message("names column {column} twice", column=twice))
    return tuple(value)


def time_zone(value: Any) -> str:
    """The name of a zone in the IANA time zone database."""
    name = text(value)
    try:
        ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise ValueError(
            message('is {value}; expected an IANA time zone, e.g. "America/Chicago"', value=_shown(value))
        ) from None
    return name


def country(value: Any) -> str:
    """Two letters of ISO 3166-1."""
    name = text(value).upper()
    if not _COUNTRY.fullmatch(name):
        raise ValueError(message('is {value}; expected the two letters of a country, e.g. "US"', value=_shown(value)))
    return name


def region(value: Any) -> str:
    """The part of an ISO 3166-2 code after the country, e.g. "TX"."""
    name = text(value).upper()
    if not _REGION.fullmatch(name):
        raise ValueError(
            message('is {value}; expected the letters of a state or province, e.g. "TX"', value=_shown(value))
        )
    return name


def time_of_day(value: Any) -> time:
    """A time of the day: a TOML local time, or "14:00"."""
    try:
        at = value if isinstance(value, time) else time.fromisoformat(text(value))
    except ValueError:
        at = None
    if at is None or at.tzinfo is not None:
        raise ValueError(message('is {value}; expected a time of the day, e.g. "14:00"', value=_shown(value)))
    return at.replace(second=0, microsecond=0)


def _shown(value: Any) -> Text:
    try:
        return f"{value!r}"[:60]
    except ValueError:
        return message("a number with thousands of digits")


# Where keys stand in a TOML text: the standard parser gives values without their lines.


_TABLE = re.compile(r"\s*\[(\[?)\s*([A-Za-z0-9_-]+)\s*\]\]?")
_KEY = re.compile(r"\s*([A-Za-z0-9_-]+|\"[^\"\n]{0,80}\"|'[^'\n]{0,80}')\s*=")

Path = tuple[str, int, str]
"""Table name, its 0-based number among the tables of that name, key (empty: the table itself)."""


class TomlPlaces:
    """The 1-based line and column of tables and keys, found by their looks; (0, 0) for what is written otherwise."""

    def __init__(self, text: str) -> None:
        self._places: dict[Path, tuple[int, int]] = {}
        self._counts: dict[str, int] = {}
        table = ("", 0)
        for number, line in enumerate(text.splitlines(), start=1):
            if header := _TABLE.match(line):
                table = self._next(header[2])
                self._places[(*table, "")] = (number, header.start(2) + 1)
            elif key := _KEY.match(line):
                name = key[1].strip("\"'")
                self._places.setdefault((*table, name), (number, key.start(1) + 1))

    def _next(self, name: str) -> tuple[str, int]:
        number = self._counts.get(name, -1) + 1
        self._counts[name] = number
        return name, number

    def of(self, *paths: Path) -> tuple[int, int]:
        """The place of the first of these paths that the text shows."""
        return next((self._places[path] for path in paths if path in self._places), (0, 0))


def parser_place(message: str) -> tuple[int, int]:
    """The line and column that the TOML parser's message names, (0, 0) when it names none."""
    named = re.search(r"\(at line ([0-9]+), column ([0-9]+)\)", message)
    return (int(named[1]), int(named[2])) if named else (0, 0)


def without_place(message: str) -> str:
    """The TOML parser's message without the place at its end."""
    return re.sub(r" \(at (line [0-9]+, column [0-9]+|end of document)\)$", "", message)


def quoted_names(names: Sequence[str]) -> str:
    """Names as a message lists them."""
    return ", ".join(repr(name) for name in names)


_STORE: dict[str, Check] = {"id": text, "walk_m": number}
_CART: dict[str, Check] = dict.fromkeys(("max_load_kg", "deck_length_cm", "deck_width_cm", "stack_height_cm"), number)
_BAY: dict[str, Check] = {
    "id": text,
    "section": text,
    "columns": section_columns,
    "width_cm": number,
    "staging_length_cm": floor_length,
    "staging_depth_cm": floor_length,
    "order": whole_number,
}
_OPTIONAL: dict[str, dict[str, Check]] = {
    "store": {
        "keep_clear_cm": number,
        "name": text,
        "time_zone": time_zone,
        "country": country,
        "region": region,
        "lead_days": whole_number,
        "order_cut_off": time_of_day,
    },
    "bay": {"aisle_width_cm": number, "keep_clear_cm": number},
}
"""Keys that a table may have; what is left out is None in the value."""


_DEEP_KEY = re.compile(r"(?:[^\s.=]{1,100}[ \t]{0,9}\.[ \t]{0,9}){21}")
"""The standard parser takes quadratic time for keys of many parts."""

MAX_LAYOUT_BYTES = 200_000
"""A bay takes about 200 bytes."""


_NOT_UTF8 = message("the file is not UTF-8; a layout is TOML, which is UTF-8: save it so and load it again")
_UTF16 = message("the file is in UTF-16; a layout is TOML, which is UTF-8: save it so and load it again")


def read_layout(name: str, data: bytes) -> Layout:
    """The layout in a TOML file; raises `LayoutFaults` with all its faults."""
    if len(data) > MAX_LAYOUT_BYTES:
        number, most = figure(len(data)), figure(MAX_LAYOUT_BYTES)
        words = message("the file has {number} bytes; a layout has at most {most}", number=number, most=most)
        raise LayoutFaults(name, (Fault(0, 0, words),))
    source, fault, stated = decode_table(data)
    if stated and not fault:
        fault = Fault(0, 0, _UTF16 if looks_like_utf16(data) else _NOT_UTF8)
    if deep := _DEEP_KEY.search(source):
        fault = Fault(
            source.count("\n", 0, deep.start()) + 1, 0, message("a key of more than 20 parts; a layout has no such key")
        )
    if fault:
        raise LayoutFaults(name, (fault,))
    try:
        tables = tomllib.loads(source)
    except tomllib.TOMLDecodeError as error:
        raise LayoutFaults(name, (_syntax(source, str(error)),)) from error
    except (ValueError, RecursionError) as error:
        raise LayoutFaults(
            name, (Fault(0, 0, message("the TOML cannot be read: {fault}", fault=str(error))),)
        ) from error
    reader = _Reader(TomlPlaces(source))
    layout = reader.layout(tables)
    if layout is None or reader.faults:
        raise LayoutFaults(name, tuple(sorted(reader.faults, key=lambda f: (f.line, f.column))))
    return layout


def _syntax(source: str, what: str) -> Fault:
    line, column = parser_place(what)
    if not line:
        line = source.count("\n") + 1
    return Fault(line, column, message("this is not TOML: {fault}", fault=without_place(what)))


@dataclass
class _Reader:
    """Turns tables into values and collects what is wrong with them."""

    places: TomlPlaces
    faults: list[Fault] = field(default_factory=list)

    def layout(self, tables: Mapping[str, Any]) -> Layout | None:
        """The layout, or None; `faults` says why."""
        self._unknown(("", 0), tables, ("store", "cart", "bay"))
        store = self._table("store", 0, tables.get("store"), _STORE)
        cart = self._table("cart", 0, tables.get("cart"), _CART)
        bays = [self._table("bay", at, bay, _BAY) for at, bay in enumerate(self._bays(tables))]
        self._bays_agree(bays)
        if self.faults:
            return None
        given = {key: store[key] for key in _OPTIONAL["store"] if key in store}
        return Layout(store["id"], store["walk_m"], Cart(**cart), tuple(_bay(bay) for bay in bays), **given)

    def _bays(self, tables: Mapping[str, Any]) -> Sequence[Any]:
        bays = tables.get("bay", [])
        if not isinstance(bays, list) or not bays:
            self._fault(
                (("bay", 0, ""), ("", 0, "bay")), message("there is no [[bay]]; a layout has at least one"), "bay"
            )
            return ()
        return bays

    def _table(self, name: str, at: int, table: Any, checks: Mapping[str, Check]) -> dict[str, Any]:
        if not isinstance(table, dict):
            values = {"name": name, "keys": ", ".join(checks)}
            what = message("[{name}] is missing; it holds {keys}", **values)
            if table is not None:
                what = message("[{name}] is {value}, not a table; it holds {keys}", value=repr(table)[:40], **values)
            self._fault(((name, at, ""), ("", 0, name)), what, name)
            return {}
        known = {**checks, **_OPTIONAL.get(name, {})}
        self._unknown((name, at), table, tuple(known))
        strange = [key for key in table if key not in known]
        return {
            key: self._value((name, at), key, table, check, strange)
            for key, check in known.items()
            if key in checks or key in table
        }

    def _value(
        self, where: tuple[str, int], key: str, table: Mapping[str, Any], check: Check, strange: Sequence[str]
    ) -> Any:
        if key not in table:
            if not self._misspelt(key, strange):
                self._fault(((*where, ""),), message("{key} is missing in [{table}]", key=key, table=where[0]), key)
            return None
        try:
            return check(table[key])
        except ValueError as error:
            what = message("{key} {fault}", key=key, fault=words_of_error(error))
            self._fault(((*where, key), (*where, "")), what, key)
            return None

    def _misspelt(self, key: str, strange: Sequence[str]) -> bool:
        """One of the strange keys stands for it, and is named as such."""
        others = [other[:60] for other in strange] if len(strange) <= MOST_GUESSED else []
        return any(get_close_matches(other, [key], n=1, cutoff=0.7) for other in others)

    def _unknown(self, table: tuple[str, int], keys: Mapping[str, Any], known: Sequence[str]) -> None:
        for key in keys:
            if key in known:
                continue
            absent = [k for k in known if k not in keys] if len(keys) <= MOST_GUESSED else []
            near = get_close_matches(key[:60], absent, n=1, cutoff=0.7)
            hint = message("known are {names}", names=quoted_names(known))
            if near:
                hint = message("did you mean {name}?", name=repr(near[0]))
            what = message("{key} is not known", key=repr(key)[:60])
            if table[0]:
                what = message("{key} is not known in [{table}]", key=repr(key)[:60], table=table[0])
            self._fault(((*table, key), (key, 0, ""), (*table, "")), joined(what, hint, separator="; "), key[:60])

    def _bays_agree(self, bays: Sequence[Mapping[str, Any]]) -> None:
        ids: dict[str, int] = {}
        orders: dict[int, int] = {}
        held: dict[tuple[str, int], int] = {}
        for at, bay in enumerate(bays):
            self._once(at, "id", bay.get("id"), ids, bays)
            self._once(at, "order", bay.get("order"), orders, bays)
            self._columns(at, bay, held, bays)

    def _once(self, at: int, key: str, value: Any, seen: dict[Any, int], bays: Sequence[Mapping[str, Any]]) -> None:
        if value is None:
            return
        first = seen.setdefault(value, at)
        if first != at:
            line = self.places.of(("bay", first, key))[0]
            values = {"key": key, "value": repr(value), "line": line}
            what = message("{key} {value} is given to the bay at line {line} too", **values)
            if key == "order":
                bay = repr(bays[first].get("id"))
                what = message("{key} {value} is given to bay {bay} at line {line} too", bay=bay, **values)
            self._fault((("bay", at, key), ("bay", at, "")), what, key)

    def _columns(
        self, at: int, bay: Mapping[str, Any], held: dict[tuple[str, int], int], bays: Sequence[Mapping[str, Any]]
    ) -> None:
        section = bay.get("section") or ""
        taken: dict[int, list[int]] = {}
        for column in bay.get("columns") or ():
            first = held.setdefault((section.casefold(), column), at)
            if first != at:
                taken.setdefault(first, []).append(column)
        for first, columns in taken.items():
            what = plural(
                len(columns),
                "column {columns} of section {section} hangs in bay {bay} already; bays must not overlap",
                "columns {columns} of section {section} hang in bay {bay} already; bays must not overlap",
                columns=", ".join(map(str, columns[:20])),
                section=repr(section),
                bay=repr(bays[first].get("id")),
            )
            self._fault((("bay", at, "columns"), ("bay", at, "")), what, "columns")

    def _fault(self, paths: Sequence[tuple[str, int, str]], what: Text, key: str) -> None:
        self.faults.append(Fault(*self.places.of(*paths), what, key))


def _bay(values: Mapping[str, Any]) -> Bay:
    return Bay(bay=values["id"], **{key: value for key, value in values.items() if key != "id"})


# `Layout` -> TOML as the layout contract has it; reading it back gives an equal layout.


_AISLES_NOT_STATED = (
    "# No aisle is measured yet: add aisle_width_cm to each [[bay]], and here keep_clear_cm, the width to stay free."
)


def write_layout_toml(layout: Layout) -> str:
    """The text of a layout file: store, cart, then the bays as they stand in the layout."""
    cart = layout.cart
    lines = [
        "[store]",
        f"id = {_text(layout.store)}",
        f"walk_m = {_number(layout.walk_m)}            # back room to section, one way",
        *_given("keep_clear_cm", layout.keep_clear_cm, "width of every aisle that must stay free"),
        *_store_calendar(layout),
        *([] if any(bay.aisle_width_cm for bay in layout.bays) else [_AISLES_NOT_STATED]),
        "",
        "[cart]",
        *(f"{key} = {_number(getattr(cart, key))}" for key in cart.__dataclass_fields__),
    ]
    for bay in layout.bays:
        lines += ["", "[[bay]]", *_bay_as_toml(bay)]
    return "\n".join(lines) + "\n"


def _bay_as_toml(bay: Bay) -> list[str]:
    return [
        f"id = {_text(bay.bay)}",
        f"section = {_text(bay.section)}",
        f"columns = [{', '.join(map(str, bay.columns))}]",
        f"width_cm = {_number(bay.width_cm)}",
        f"staging_length_cm = {_number(bay.staging_length_cm)}   # floor kept for cartons in front of the bay",
        f"staging_depth_cm = {_number(bay.staging_depth_cm)}",
        *_given("aisle_width_cm", bay.aisle_width_cm, "from the fixture to what faces it"),
        *_given("keep_clear_cm", bay.keep_clear_cm, "width of this aisle that must stay free"),
        f"order = {bay.order}   # 1 is set first",
    ]


def _store_calendar(layout: Layout) -> list[str]:
    """The keys that say when the store works and how long an order takes; none where the layout does not say."""
    cut_off = layout.order_cut_off.isoformat("minutes") if layout.order_cut_off else ""
    texts = {"name": layout.name, "time_zone": layout.time_zone, "country": layout.country, "region": layout.region}
    lines = [f"{key} = {_text(value)}" for key, value in texts.items() if value]
    lines += [f"lead_days = {layout.lead_days}   # working days from an order to its arrival"] * bool(layout.lead_days)
    return lines + [f'order_cut_off = "{cut_off}"   # a later order counts from the next working day'] * bool(cut_off)


def _given(key: str, value: float | None, meaning: str) -> list[str]:
    return [] if value is None else [f"{key} = {_number(value)}   # {meaning}"]


def _text(value: str) -> str:
    """A basic string; JSON's escapes are TOML's too, but for surrogate pairs, which are written as they are."""
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007F")


def _number(value: float) -> str:
    return f"{int(value)}" if value == int(value) else format(Decimal(repr(value)), "f")
