"""The tables that a programme brings beside its manifests: the kit, and the list of stores.

The kit says where each item hangs; it gives addresses to a notice that carries none. The list of stores gives the zone,
the public holidays and the lead days of many stores.
"""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import time
from functools import cached_property
from typing import Any, TypeVar

from receiving.errors import FileFaults
from receiving.expected import cells
from receiving.expected import layout as layout_values
from receiving.expected.table import Columns, Findings, RowReader, split_header
from receiving.expected.table_files import csv_rows, decode_table
from receiving.messages import Text, message
from receiving.model import Address, Carton, CartonKind, ContentLine, Manifest, StoreDetails
from receiving.sheets import csv_text

KIT_COLUMNS = Columns(
    known=("item", "section", "column", "row", "kind", "description", "open_first"),
    required=("item",),
)


MOST_PLACES = 500
"""Places of one item among which a carton's goods are divided."""


@dataclass(frozen=True)
class KitPlace:
    """One place of one item; an item that hangs in several places has one of these for each."""

    item: str
    section: str = ""
    address: Address | None = None
    kind: CartonKind | None = None
    description: str = ""
    open_first: bool = False

    def __post_init__(self) -> None:
        if self.address is not None and self.address.section != self.section:
            raise ValueError(f"item {self.item!r} names section {self.section!r} and address {self.address}")


@dataclass(frozen=True)
class Kit:
    """All places of a kit, in file order. Items are compared without regard to case."""

    places: tuple[KitPlace, ...] = ()

    @cached_property
    def _by_item(self) -> dict[str, tuple[KitPlace, ...]]:
        found: dict[str, list[KitPlace]] = {}
        for place in self.places:
            found.setdefault(place.item.casefold(), []).append(place)
        return {item: tuple(places) for item, places in found.items()}

    def of(self, item: str) -> tuple[KitPlace, ...]:
        """The places of this item, none when the kit does not know it."""
        return self._by_item.get(item.casefold(), ())


def read_kit(name: str, data: bytes) -> Kit:
    """A kit CSV: item, section, column, row, and optionally kind, description, open_first; raises `FileFaults`."""
    text, fault, _ = decode_table(data)
    if fault:
        raise FileFaults(name, (fault,))
    found = Findings()
    header, rows = split_header(csv_rows(text, KIT_COLUMNS, found), KIT_COLUMNS, found)
    places = [_place(RowReader(header, row, found)) for row in rows if header is not None and not row.blank]
    if header is not None and not places:
        found.fault(
            header.line, 0, message("there is no row below the header; a kit has one row for each place of an item")
        )
    if found.faults:
        raise FileFaults(name, found.sorted_faults())
    return Kit(tuple(place for place in places if place is not None))


def _place(row: RowReader) -> KitPlace | None:
    row.check_width()
    item = row.required("item", cells.parse_id)
    section = row.read("section", cells.parse_id) or ""
    if bool(row.text("column")) != bool(row.text("row")):
        row.fault(
            "row" if row.text("column") else "column",
            message("column and row are given both or neither"),
        )
    column, across = row.read("column", cells.parse_position), row.read("row", cells.parse_position)
    return KitPlace(
        item=item or "",
        section=section,
        address=Address(section, column, across) if column and across else None,
        kind=row.read("kind", cells.parse_kind),
        description=row.read("description", cells.parse_text) or "",
        open_first=row.read("open_first", cells.parse_yes_no) or False,
    )


def write_kit_csv(kit: Kit) -> str:
    """The CSV that `read_kit` reads back equal."""
    return csv_text(KIT_COLUMNS.known, map(_kit_row, kit.places))


def _kit_row(place: KitPlace) -> tuple[object, ...]:
    at = (place.address.column, place.address.row) if place.address else ("", "")
    tail = (place.kind or "", place.description, "yes" if place.open_first else "no")
    return (place.item, place.section, *at, *tail)


def with_kit(manifest: Manifest, kit: Kit, found: Findings) -> Manifest:
    """The manifest with the kit's sections, addresses, kinds and open-first marks where it has none of its own."""
    return replace(manifest, cartons=tuple(_carton(manifest.shipment, carton, kit, found) for carton in manifest))


def _carton(shipment: str, carton: Carton, kit: Kit, found: Findings) -> Carton:
    contents: list[ContentLine] = []
    for line in carton.contents:
        contents += _joined(
            message("shipment {shipment}, carton {carton}", shipment=repr(shipment), carton=repr(carton.carton)),
            line,
            kit.of(line.item),
            found,
        )
    places = [place for line in carton.contents if line.item for place in kit.of(line.item)]
    kinds = {place.kind for place in places if place.kind}
    kind = next(iter(kinds)) if carton.kind is CartonKind.OTHER and len(kinds) == 1 else carton.kind
    first = carton.open_first or any(place.open_first for place in places)
    return replace(carton, contents=tuple(contents), kind=kind, open_first=first)


def _joined(where: Text, line: ContentLine, places: tuple[KitPlace, ...], found: Findings) -> Iterator[ContentLine]:
    if not places or not line.item or line.address is not None or (line.section and not _in(line.section, places)):
        yield line
        return
    of_section = tuple(p for p in places if not line.section or p.section.casefold() == line.section.casefold())
    share, left = divmod(line.qty, len(of_section)) if line.qty else (None, 0)
    if left or share == 0 or len(of_section) > MOST_PLACES:
        sections = {place.section for place in of_section}
        values = {"where": where, "item": repr(line.item), "number": len(of_section)}
        if line.qty:
            words = message(
                "{where}: {qty} of item {item} cannot be divided among its {number} kit places", qty=line.qty, **values
            )
            found.warn(0, words)
        else:
            found.warn(0, message("{where}: item {item} cannot be divided among its {number} kit places", **values))
        yield replace(line, section=sections.pop() if len(sections) == 1 else line.section)
        return
    for place in of_section:
        described = line.description or place.description
        yield replace(line, section=place.section, address=place.address, qty=share, description=described)


def _in(section: str, places: Iterable[KitPlace]) -> bool:
    return any(place.section.casefold() == section.casefold() for place in places)


STORE_COLUMNS = Columns(
    known=("store", "name", "time_zone", "country", "region", "lead_days", "order_cut_off"),
    required=("store",),
)
V = TypeVar("V")


def read_stores(name: str, data: bytes) -> tuple[StoreDetails, ...]:
    """The stores of a CSV, each once, in file order; raises `FileFaults` with every fault."""
    text, fault, _ = decode_table(data)
    if fault:
        raise FileFaults(name, (fault,))
    found = Findings()
    header, rows = split_header(csv_rows(text, STORE_COLUMNS, found), STORE_COLUMNS, found)
    lines: dict[str, int] = {}
    stores = [_store(RowReader(header, row, found), lines) for row in rows if header is not None and not row.blank]
    if header is not None and not stores:
        found.fault(header.line, 0, message("there is no row below the header; a list of stores has one row for each"))
    if found.faults:
        raise FileFaults(name, found.sorted_faults())
    return tuple(stores)


def _store(row: RowReader, lines: dict[str, int]) -> StoreDetails:
    row.check_width()
    store = row.required("store", cells.parse_id) or ""
    first = lines.setdefault(store, row.line)
    if store and first != row.line:
        row.fault(
            "store",
            message("store {store} is at line {first} too; keep one of the two rows", store=repr(store), first=first),
        )
    region = row.read("region", _checked(layout_values.region)) or ""
    if region and not row.text("country"):
        row.fault("country", message("the region {region} has no country; name both or neither", region=region))
    return StoreDetails(
        store=store,
        name=row.read("name", _checked(layout_values.text)) or "",
        time_zone=row.read("time_zone", _checked(layout_values.time_zone)) or "",
        country=row.read("country", _checked(layout_values.country)) or "",
        region=region,
        lead_days=row.read("lead_days", cells.parse_count),
        order_cut_off=row.read("order_cut_off", _time_of_day),
    )


def _checked(check: Callable[[Any], V]) -> Callable[[str], V]:
    return check


def _time_of_day(text: str) -> time:
    """A spreadsheet leaves the zero of 9:30 out."""
    return layout_values.time_of_day(text.zfill(5) if text[1:2] == ":" else text)


def write_stores_csv(stores: Iterable[StoreDetails]) -> str:
    """The CSV that `read_stores` reads back equal."""
    return csv_text(STORE_COLUMNS.known, map(_row, stores))


def _row(each: StoreDetails) -> tuple[object, ...]:
    cut_off = f"{each.order_cut_off:%H:%M}" if each.order_cut_off else ""
    return each.store, each.name, each.time_zone, each.country, each.region, each.lead_days or "", cut_off
