"""Layout TOML -> `Layout`; every fault of the file at once, with the line and column of its key."""

import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from difflib import get_close_matches
from typing import Any

from receiving.errors import Fault, LayoutFaults, told_by
from receiving.expected.decoding import decode_table, looks_like_utf16
from receiving.expected.layout_values import (
    Check,
    country,
    floor_length,
    number,
    region,
    section_columns,
    text,
    time_of_day,
    time_zone,
    whole_number,
)
from receiving.expected.table import MOST_GUESSED
from receiving.expected.toml_places import TomlPlaces, parser_place, quoted_names, without_place
from receiving.messages import Text, figure, joined, message, plural
from receiving.model import Bay, Cart, Layout

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
    source, fault, said = decode_table(data)
    if said and not fault:
        fault = Fault(0, 0, _UTF16 if looks_like_utf16(data) else _NOT_UTF8)
    if len(data) > MAX_LAYOUT_BYTES:
        fault = Fault(
            0,
            0,
            message(
                "the file has {number} bytes; a layout has at most {most}",
                number=figure(len(data)),
                most=figure(MAX_LAYOUT_BYTES),
            ),
        )
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
            what = message("{key} {wrong}", key=key, wrong=told_by(error))
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
