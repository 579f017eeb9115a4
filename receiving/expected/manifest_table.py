"""Rows of a manifest table (CSV or XLSX) -> manifests; the columns are those of the manifest contract."""

from collections.abc import Iterable
from datetime import date

from receiving.expected import cells
from receiving.expected.carton_rows import CartonRows, ShipmentRows
from receiving.expected.shipment_rules import check_shipments
from receiving.expected.table import Columns, Findings, Row, RowReader, split_header
from receiving.model import Address, Carton, CartonKind, ContentLine, Manifest

MANIFEST_COLUMNS = Columns(
    known=(
        *("shipment", "store", "carton", "sscc", "barcode", "outer", "kind", "section", "column", "row", "open_first"),
        *("item", "description", "qty", "unit", "weight_kg", "length_cm", "width_cm", "height_cm", "dispatch_date"),
        "references",
    ),
    required=("shipment", "store", "carton", "kind"),
)


def manifests_of(rows: Iterable[Row], found: Findings) -> tuple[Manifest, ...]:
    """The manifests of a table; empty when ``found`` has faults after the last row was read."""
    header, below = split_header(rows, MANIFEST_COLUMNS, found)
    shipments: dict[str, ShipmentRows] = {}
    for row in below:
        if header is not None and not row.blank:
            _take(RowReader(header, row, found), shipments)
    if header is not None and not shipments and not found.faults:
        found.fault(header.line, 0, "there is no row below the header; a manifest has one row for each carton")
    check_shipments(shipments.values(), found)
    return () if found.faults else tuple(shipment.done() for shipment in shipments.values())


def _take(row: RowReader, shipments: dict[str, ShipmentRows]) -> None:
    row.check_width()
    shipment = row.required("shipment", cells.parse_id)
    store = row.required("store", cells.parse_id)
    carton = _carton(row)
    line = _content(row)
    dispatch = row.read("dispatch_date", cells.parse_date)
    references = row.read("references", cells.parse_references) or ()
    if not shipment or not store:
        return
    whole = shipments.setdefault(shipment, ShipmentRows(shipment, row.line, store, dispatch, references))
    _agree(row, whole, store, dispatch, references)
    if carton:
        _add(row, whole, carton, line)


def _carton(row: RowReader) -> Carton | None:
    carton = row.required("carton", cells.parse_id)
    kind = row.required("kind", cells.parse_kind)
    made = Carton(
        carton=carton or "",
        kind=kind or CartonKind.OTHER,
        sscc=row.read("sscc", cells.parse_sscc),
        barcode=row.read("barcode", cells.parse_id) or "",
        outer=row.read("outer", cells.parse_id) or "",
        open_first=row.read("open_first", cells.parse_yes_no) or False,
        weight_kg=row.read("weight_kg", cells.parse_measure),
        length_cm=row.read("length_cm", cells.parse_measure),
        width_cm=row.read("width_cm", cells.parse_measure),
        height_cm=row.read("height_cm", cells.parse_measure),
    )
    return made if carton else None


def _content(row: RowReader) -> ContentLine | None:
    section = row.read("section", cells.parse_id) or ""
    line = ContentLine(
        section=section,
        address=_address(row, section),
        item=row.read("item", cells.parse_id) or "",
        description=row.read("description", cells.parse_text) or "",
        qty=row.read("qty", cells.parse_count),
        unit=row.read("unit", cells.parse_id) or "",
    )
    return None if line == ContentLine() else line


def _address(row: RowReader, section: str) -> Address | None:
    column, across = row.text("column"), row.text("row")
    if column and not across:
        row.fault("row", f"column {cells.shown(column)} has no row; an address needs both")
    if across and not column:
        row.fault("column", f"row {cells.shown(across)} has no column; an address needs both")
    at = row.read("column", cells.parse_position), row.read("row", cells.parse_position)
    return Address(section, at[0], at[1]) if at[0] and at[1] else None


def _agree(
    row: RowReader,
    whole: ShipmentRows,
    store: str,
    dispatch: date | None,
    references: tuple[tuple[str, str], ...],
) -> None:
    first = f"line {whole.line} says"
    if store != whole.store:
        row.fault("store", f"shipment {whole.shipment!r} goes to store {store!r} here; {first} {whole.store!r}")
    if dispatch != whole.dispatch_date:
        here, there = dispatch or "no dispatch date", whole.dispatch_date or "none"
        if row.column("dispatch_date") and (dispatch or not row.text("dispatch_date")):
            row.fault("dispatch_date", f"shipment {whole.shipment!r} has {here} here; {first} {there}")
    if references != whole.references:
        row.fault("references", f"shipment {whole.shipment!r} has other references here than at line {whole.line}")


def _add(row: RowReader, whole: ShipmentRows, carton: Carton, line: ContentLine | None) -> None:
    rows = whole.cartons.setdefault(carton.carton, CartonRows(row, carton))
    for name in ("kind", "sscc", "barcode", "outer", "open_first", *_MEASURES):
        here, there = getattr(carton, name), getattr(rows.head, name)
        if here != there and row.column(name) and not row.faulty(name):
            has = f"{name} {_value(here)}" if _value(here) else f"no {name}"
            says = f"line {rows.line} says {_value(there) or 'none'}"
            row.fault(name, f"carton {carton.carton!r} has {has} here; {says}")
    if line is not None:
        rows.contents.append(line)


_MEASURES = ("weight_kg", "length_cm", "width_cm", "height_cm")


def _value(value: object) -> str:
    """The value in quotes; empty where there is none."""
    if isinstance(value, bool):
        return "'yes'" if value else "'no'"
    return repr(str(value)) if value not in (None, "") else ""
