"""The rules that hold among the cartons of a file: unique SSCCs, outer boxes that exist, something to match by."""

from collections.abc import Iterable, Sequence

from receiving.expected.carton_rows import CartonRows, ShipmentRows
from receiving.expected.table import Findings
from receiving.messages import Text, figure, message
from receiving.model import CartonKind

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
        return message("{number} shipments ({some}, ...)", number=figure(len(shipments)), some=some)
    return message("{number} shipments ({all})", number=figure(len(shipments)), all=some)


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
    settled: set[str] = set()
    for start in shipment.cartons:
        walk: dict[str, None] = {}
        at = start
        while at in shipment.cartons and at not in settled and at not in walk:
            walk[at] = None
            at = shipment.cartons[at].head.outer
        if at in walk:
            names = list(walk)
            ring = " > ".join(repr(name) for name in [*names[names.index(at) :], at])
            what = message("outer boxes go round in a circle, each in the next: {ring}", ring=ring)
            shipment.cartons[at].row.fault("outer", what)
        settled.update(walk)


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
