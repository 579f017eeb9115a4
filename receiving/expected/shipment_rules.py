"""The rules that hold among the cartons of a file: unique SSCCs, outer boxes that exist, something to match by."""

from collections.abc import Iterable, Sequence

from receiving.expected.carton_rows import CartonRows, ShipmentRows
from receiving.expected.table import Findings
from receiving.messages import message
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
        found.warn(0, message("{named}: no carton is marked open_first; is the column filled?", named=_named(unmarked)))


def _named(shipments: Sequence[str]) -> str:
    """One fault that many shipments share is one line."""
    if len(shipments) == 1:
        return f"shipment {shipments[0]!r}"
    more = ", ..." if len(shipments) > _MOST_NAMED else ""
    return f"{len(shipments):,} shipments ({', '.join(map(repr, shipments[:_MOST_NAMED]))}{more})"


def _unique_sscc(
    shipment: ShipmentRows, rows: CartonRows, seen: dict[str, tuple[str, CartonRows]], found: Findings
) -> None:
    sscc = rows.head.sscc
    if sscc is None:
        return
    name, first = seen.setdefault(str(sscc), (shipment.shipment, rows))
    pallet = name != shipment.shipment and first.head.kind is rows.head.kind is CartonKind.OUTER
    if first is not rows and not pallet:  # one outer box may hold cartons for several stores
        where = f"line {first.line} gave it to carton {first.head.carton!r}"
        of = "" if name == shipment.shipment else f" of shipment {name!r}"
        rows.row.fault(
            "sscc",
            message(
                "SSCC {sscc} is on carton {carton} too; {where}{of}",
                sscc=sscc,
                carton=repr(rows.head.carton),
                where=where,
                of=of,
            ),
        )


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
            ring = " in ".join(repr(name) for name in [*names[names.index(at) :], at])
            shipment.cartons[at].row.fault("outer", message("outer boxes go round in a circle: {ring}", ring=ring))
        settled.update(walk)


def _matchable(rows: CartonRows, found: Findings) -> None:
    head = rows.head
    named = head.codes or any(line.address for line in rows.contents)
    if not named:
        what = f"carton {head.carton!r} has no sscc, no barcode and no address: only its printed number can match it"
        found.warn(rows.line, what)


def _shared_barcodes(shipment: ShipmentRows, found: Findings) -> None:
    first: dict[str, CartonRows] = {}
    for rows in shipment.cartons.values():
        head = rows.head
        if not head.barcode or head.sscc is not None:
            continue
        other = first.setdefault(head.barcode, rows)
        if other is not rows:
            both = f"cartons {other.head.carton!r} (line {other.line}) and {head.carton!r} carry the same barcode"
            found.warn(
                rows.line,
                message(
                    "{both} {barcode} and no sscc; a label cannot tell them apart",
                    both=both,
                    barcode=repr(head.barcode),
                ),
                0,
                "barcode",
            )
