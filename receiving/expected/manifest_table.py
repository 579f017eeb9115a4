"""Manifest tables (CSV or XLSX): rows -> manifests, the rules that hold among cartons, and manifests -> CSV.

The columns are those of the manifest contract.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from decimal import Decimal

from receiving.expected import cells
from receiving.expected.cells import write_references
from receiving.expected.table import ColumnMapping, Columns, Findings, Row, RowReader, split_header
from receiving.messages import Message, Text, figure, message
from receiving.model import Address, Carton, CartonKind, ContentLine, Manifest
from receiving.model.limits import MOST_CARTONS
from receiving.sheets import csv_text

# Cartons and shipments while the rows of a table are read.


@dataclass
class CartonRows:
    """One carton while its rows are read: its first row, what that row said, and its contents so far."""

    row: RowReader
    head: Carton
    contents: list[ContentLine] = field(default_factory=list)

    @property
    def line(self) -> int:
        """The line of its first row."""
        return self.row.line

    def done(self) -> Carton:
        """The carton with its contents."""
        return replace(self.head, contents=tuple(self.contents))


@dataclass
class ShipmentRows:
    """One shipment while its rows are read; what all its rows must agree in, with the line that said it first."""

    shipment: str
    line: int
    store: str
    dispatch_date: date | None
    references: tuple[tuple[str, str], ...]
    cartons: dict[str, CartonRows] = field(default_factory=dict)

    def done(self) -> Manifest:
        """The manifest; its rules must have been checked."""
        cartons = tuple(rows.done() for rows in self.cartons.values())
        return Manifest(self.shipment, self.store, cartons, self.dispatch_date, self.references)


# The rules that hold among the cartons of a file: unique SSCCs, outer boxes that exist, something to match by.


_MOST_NAMED = 3


def check_shipments(shipments: Iterable[ShipmentRows], found: Findings) -> None:
    """Check all shipments of a file; faults and warnings go to ``found``."""
    seen: dict[str, tuple[str, CartonRows]] = {}
    unmarked: list[str] = []
    for shipment in shipments:
        for rows in shipment.cartons.values():
            _unique_sscc(shipment, rows, seen, found)
            _outer_exists(shipment, rows, found)
            _matchable(rows, found)
        _outer_cycles(shipment, found)
        _shared_barcodes(shipment, found)
        if not any(rows.head.open_first for rows in shipment.cartons.values()):
            unmarked.append(shipment.shipment)
    if unmarked:
        found.warn(
            0, message("{shipments}: no carton is marked open_first; is the column filled?", shipments=_named(unmarked))
        )


def _named(shipments: Sequence[str]) -> Text:
    """One fault that many shipments share is one line."""
    if len(shipments) == 1:
        return message("shipment {shipment}", shipment=repr(shipments[0]))
    some = ", ".join(map(repr, shipments[:_MOST_NAMED]))
    if len(shipments) > _MOST_NAMED:
        return message("{number} shipments ({shipments}, ...)", number=figure(len(shipments)), shipments=some)
    return message("{number} shipments ({shipments})", number=figure(len(shipments)), shipments=some)


def _unique_sscc(
    shipment: ShipmentRows, rows: CartonRows, seen: dict[str, tuple[str, CartonRows]], found: Findings
) -> None:
    sscc = rows.head.sscc
    if sscc is None:
        return
    name, first = seen.setdefault(str(sscc), (shipment.shipment, rows))
    pallet = name != shipment.shipment and first.head.kind is rows.head.kind is CartonKind.OUTER
    if first is not rows and not pallet:  # one outer box may hold cartons for several stores
        values = {
            "sscc": str(sscc),
            "carton": repr(rows.head.carton),
            "line": first.line,
            "other": repr(first.head.carton),
        }
        what = message("SSCC {sscc} is on carton {carton} too; line {line} gave it to carton {other}", **values)
        if name != shipment.shipment:
            what = message(
                "SSCC {sscc} is on carton {carton} too; line {line} gave it to carton {other} of shipment {shipment}",
                shipment=repr(name),
                **values,
            )
        rows.row.fault("sscc", what)


def _outer_exists(shipment: ShipmentRows, rows: CartonRows, found: Findings) -> None:
    outer, carton = rows.head.outer, rows.head.carton
    if not outer:
        return
    holder = shipment.cartons.get(outer)
    if holder is None:
        rows.row.fault(
            "outer",
            message(
                "carton {carton} travels in outer {outer}, which this shipment lacks",
                carton=repr(carton),
                outer=repr(outer),
            ),
        )
    elif holder.head.kind is not CartonKind.OUTER:
        kind = holder.head.kind.value
        found.warn(
            rows.line,
            message(
                "carton {carton} travels in {outer}, whose kind is {kind}, not 'outer'",
                carton=repr(carton),
                outer=repr(outer),
                kind=repr(kind),
            ),
            0,
            "outer",
        )


def _outer_cycles(shipment: ShipmentRows, found: Findings) -> None:
    """Walk outward from each carton once; a carton met again on the same walk stands in itself."""
    checked: set[str] = set()
    for start in shipment.cartons:
        walk: dict[str, None] = {}
        at = start
        while at in shipment.cartons and at not in checked and at not in walk:
            walk[at] = None
            at = shipment.cartons[at].head.outer
        if at in walk:
            names = list(walk)
            ring = " > ".join(repr(name) for name in [*names[names.index(at) :], at])
            what = message("outer boxes are inside each other in a circle: {ring}", ring=ring)
            shipment.cartons[at].row.fault("outer", what)
        checked.update(walk)


def _matchable(rows: CartonRows, found: Findings) -> None:
    head = rows.head
    named = head.codes or any(line.address for line in rows.contents)
    if not named:
        what = message(
            "carton {carton} has no sscc, no barcode and no address: only its printed number can match it",
            carton=repr(head.carton),
        )
        found.warn(rows.line, what)


def _shared_barcodes(shipment: ShipmentRows, found: Findings) -> None:
    first: dict[str, CartonRows] = {}
    for rows in shipment.cartons.values():
        head = rows.head
        if not head.barcode or head.sscc is not None:
            continue
        other = first.setdefault(head.barcode, rows)
        if other is not rows:
            found.warn(
                rows.line,
                message(
                    "cartons {carton} (line {line}) and {other} carry the same barcode {barcode} and no sscc; "
                    "a label cannot tell them apart",
                    carton=repr(other.head.carton),
                    line=other.line,
                    other=repr(head.carton),
                    barcode=repr(head.barcode),
                ),
                0,
                "barcode",
            )


TRACKING = ("tracking", *(f"tracking_{n}" for n in range(2, 10)))
"""Columns of further numbers on a carton's labels; each cell may hold several by ``;``."""

WRITTEN = (
    *("shipment", "store", "carton", "sscc", "barcode", "tracking", "outer", "kind", "section", "column", "row"),
    *("open_first", "item", "item_numbers", "description", "qty", "unit", "weight_kg", "length_cm", "width_cm"),
    *("height_cm", "visit_date", "references"),
)
"""The columns of a manifest that is written, in their order."""

OTHER_UNIT = {"weight_kg": "weight_lb", "length_cm": "length_in", "width_cm": "width_in", "height_cm": "height_in"}
"""The column that may hold a measure instead of the metric one of the same row."""

_IN_METRIC = {"weight_kg": 0.45359237, "length_cm": 2.54, "width_cm": 2.54, "height_cm": 2.54}
"""Kilograms of a pound, centimetres of an inch: both exact (NIST Special Publication 811, appendix B)."""

MANIFEST_COLUMNS = Columns(
    known=(*WRITTEN, *TRACKING[1:], *OTHER_UNIT.values(), "dispatch_date"),
    required=("shipment", "store", "carton", "kind"),
)


def manifests_of(rows: Iterable[Row], found: Findings, mappings: Sequence[ColumnMapping] = ()) -> tuple[Manifest, ...]:
    """The manifests of a table; empty when ``found`` has faults after the last row was read."""
    header, below = split_header(rows, MANIFEST_COLUMNS, found, mappings)
    shipments: dict[str, ShipmentRows] = {}
    for row in below:
        if header is not None and not row.blank:
            _take(RowReader(header, row, found), shipments)
        if found.hopeless:
            break
    if header is not None and not shipments and not found.faults:
        found.fault(header.line, 0, message("there is no row below the header; a manifest has one row for each carton"))
    check_shipments(shipments.values(), found)
    return () if found.faults else tuple(shipment.done() for shipment in shipments.values())


def _take(row: RowReader, shipments: dict[str, ShipmentRows]) -> None:
    row.check_width()
    shipment = row.required("shipment", cells.parse_id)
    store = row.required("store", cells.parse_id)
    carton = _carton(row)
    line = _content(row)
    dispatch = _day(row)
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
        weight_kg=_measure(row, "weight_kg"),
        length_cm=_measure(row, "length_cm"),
        width_cm=_measure(row, "width_cm"),
        height_cm=_measure(row, "height_cm"),
        numbers=_numbers(row),
    )
    return made if carton else None


def _day(row: RowReader) -> date | None:
    """The day of the visit, from whichever of its two columns is filled."""
    visit, dispatch = row.read("visit_date", cells.parse_date), row.read("dispatch_date", cells.parse_date)
    if visit and dispatch and visit != dispatch:
        row.fault(
            "visit_date",
            message(
                "the visit is on {visit} here and on {dispatch} in dispatch_date; keep one of the two",
                visit=visit.isoformat(),
                dispatch=dispatch.isoformat(),
            ),
        )
    return visit or dispatch


def _measure(row: RowReader, name: str) -> float | None:
    """A measure in metric units, from whichever of its two columns is filled; to the gram, to a tenth of a mm."""
    other = OTHER_UNIT[name]
    metric, us = row.read(name, cells.parse_measure), row.read(other, cells.parse_measure)
    if metric is not None and us is not None:
        row.fault(
            other,
            message(
                "{column} {value} is given beside {other} {metric}; keep one of the two in a row",
                column=other,
                value=float(us),
                other=name,
                metric=float(metric),
            ),
        )
    if us is None:
        return metric
    return round(us * _IN_METRIC[name], 3 if name == "weight_kg" else 2) or None


def _numbers(row: RowReader) -> tuple[str, ...]:
    return tuple(dict.fromkeys(number for name in TRACKING for number in row.read(name, cells.parse_ids) or ()))


def _content(row: RowReader) -> ContentLine | None:
    section = row.read("section", cells.parse_id) or ""
    line = ContentLine(
        section=section,
        address=_address(row, section),
        item=row.read("item", cells.parse_id) or "",
        description=row.read("description", cells.parse_text) or "",
        qty=row.read("qty", cells.parse_count),
        unit=row.read("unit", cells.parse_id) or "",
        item_numbers=row.read("item_numbers", cells.parse_ids) or (),
    )
    return None if line == ContentLine() else line


def _address(row: RowReader, section: str) -> Address | None:
    column, across = row.text("column"), row.text("row")
    if column and not across:
        row.fault("row", message("column {column} has no row; an address needs both", column=cells.quote(column)))
    if across and not column:
        row.fault("column", message("row {row} has no column; an address needs both", row=cells.quote(across)))
    at = row.read("column", cells.parse_position), row.read("row", cells.parse_position)
    return Address(section, at[0], at[1]) if at[0] and at[1] else None


def _agree(
    row: RowReader,
    whole: ShipmentRows,
    store: str,
    dispatch: date | None,
    references: tuple[tuple[str, str], ...],
) -> None:
    if store != whole.store:
        row.fault(
            "store",
            message(
                "shipment {shipment} goes to store {store} here; line {line} says {other}",
                shipment=repr(whole.shipment),
                store=repr(store),
                line=whole.line,
                other=repr(whole.store),
            ),
        )
    if dispatch != whole.dispatch_date:
        here: Text = dispatch.isoformat() if dispatch else message("no visit date")
        there: Text = whole.dispatch_date.isoformat() if whole.dispatch_date else message("none")
        name = "visit_date" if row.column("visit_date") else "dispatch_date"
        if row.column(name) and (dispatch or not row.text(name)):
            row.fault(
                name,
                message(
                    "shipment {shipment} has {here} here; line {line} says {there}",
                    shipment=repr(whole.shipment),
                    here=here,
                    line=whole.line,
                    there=there,
                ),
            )
    if references != whole.references:
        row.fault(
            "references",
            message(
                "shipment {shipment} has other references here than at line {line}",
                shipment=repr(whole.shipment),
                line=whole.line,
            ),
        )


def _too_many(shipment: str) -> Text:
    return message(
        "shipment {shipment} has more than {most_cartons} cartons; "
        "give each delivery to a store a shipment number of its own",
        shipment=repr(shipment),
        most_cartons=figure(MOST_CARTONS),
    )


def _add(row: RowReader, whole: ShipmentRows, carton: Carton, line: ContentLine | None) -> None:
    rows = whole.cartons.setdefault(carton.carton, CartonRows(row, carton))
    if len(whole.cartons) > MOST_CARTONS:
        what = _too_many(whole.shipment)
        row.found.give_up(row.line, row.column("carton"), what, "carton")
    if carton.numbers != rows.head.numbers and any(row.column(name) for name in TRACKING):
        here, there = (", ".join(map(repr, each.numbers)) or message("none") for each in (carton, rows.head))
        row.fault(
            "tracking",
            message(
                "carton {carton} has the numbers {here} here; line {line} says {there}",
                carton=repr(carton.carton),
                here=here,
                line=rows.line,
                there=there,
            ),
        )
    for name in ("kind", "sscc", "barcode", "outer", "open_first", *OTHER_UNIT):
        here, there = getattr(carton, name), getattr(rows.head, name)
        column = name if row.column(name) else OTHER_UNIT.get(name, name)
        if here != there and row.column(column) and not row.faulty(column):
            if column != name:
                here, there = row.text(column), rows.row.text(column)
            row.fault(column, _differs(carton.carton, column, _value(here), rows.line, _value(there)))
    if line is not None:
        rows.contents.append(line)


def _differs(carton: str, column: str, here: str, line: int, there: str) -> Message:
    values = {"carton": repr(carton), "column": column, "line": line, "there": there or message("none")}
    if here:
        return message("carton {carton} has {column} {here} here; line {line} says {there}", here=here, **values)
    return message("carton {carton} has no {column} here; line {line} says {there}", **values)


def _value(value: object) -> str:
    """The value in quotes; empty where there is none."""
    if isinstance(value, bool):
        return "'yes'" if value else "'no'"
    return repr(str(value)) if value not in (None, "") else ""


# Manifests -> CSV as the manifest contract has it; reading it back gives equal manifests.


def write_manifest_csv(manifests: Iterable[Manifest]) -> str:
    """One row for each content line, one for a carton without contents; CRLF, as RFC 4180 has it."""
    whole = tuple(manifests)
    asked = {"references": any(m.references for m in whole)}
    asked["tracking"] = any(carton.numbers for m in whole for carton in m)
    asked["item_numbers"] = any(line.item_numbers for m in whole for carton in m for line in carton.contents)
    columns = [name for name in WRITTEN if asked.get(name, True)]
    rows = (row for manifest in whole for carton in manifest for row in _rows(manifest, carton))
    return csv_text(columns, ([row.get(name, "") for name in columns] for row in rows))


def _rows(manifest: Manifest, carton: Carton) -> Iterator[dict[str, str]]:
    head = _head(manifest, carton)
    for line in carton.contents or (ContentLine(),):
        yield head | _content_cells(line)


def _head(manifest: Manifest, carton: Carton) -> dict[str, str]:
    return {
        "shipment": manifest.shipment,
        "store": manifest.store,
        "carton": carton.carton,
        "sscc": str(carton.sscc or ""),
        "barcode": carton.barcode,
        "tracking": "; ".join(carton.numbers),
        "outer": carton.outer,
        "kind": carton.kind.value,
        "open_first": "yes" if carton.open_first else "no",
        "weight_kg": measure(carton.weight_kg),
        "length_cm": measure(carton.length_cm),
        "width_cm": measure(carton.width_cm),
        "height_cm": measure(carton.height_cm),
        "visit_date": manifest.dispatch_date.isoformat() if manifest.dispatch_date else "",
        "references": write_references(manifest.references),
    }


def _content_cells(line: ContentLine) -> dict[str, str]:
    return {
        "section": line.section,
        "column": str(line.address.column) if line.address else "",
        "row": str(line.address.row) if line.address else "",
        "item": line.item,
        "description": line.description,
        "qty": str(line.qty or ""),
        "unit": line.unit,
        "item_numbers": "; ".join(line.item_numbers),
    }


def measure(value: float | None) -> str:
    """A measure without an exponent and without a needless ``.0``."""
    if value is None:
        return ""
    text = format(Decimal(repr(value)), "f")
    return text.rstrip("0").rstrip(".") if "." in text else text
