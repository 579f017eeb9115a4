"""Manifests -> CSV as the manifest contract has it; reading it back gives equal manifests."""

from collections.abc import Iterable, Iterator
from decimal import Decimal

from receiving.expected.cells import write_references
from receiving.expected.manifest_table import WRITTEN
from receiving.model import Carton, ContentLine, Manifest
from receiving.sheets import csv_text


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
        yield head | _content(line)


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


def _content(line: ContentLine) -> dict[str, str]:
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
