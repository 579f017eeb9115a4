"""A list of stores: the zone, the public holidays and the lead days of many stores in one table."""

from collections.abc import Callable, Iterable
from datetime import time
from typing import Any, TypeVar

from receiving.errors import FileFaults
from receiving.expected import cells
from receiving.expected import layout as layout_values
from receiving.expected.csv_rows import csv_rows, decode_table
from receiving.expected.table import Columns, Findings, RowReader, split_header
from receiving.messages import message
from receiving.model import StoreDetails
from receiving.sheets import csv_text

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
