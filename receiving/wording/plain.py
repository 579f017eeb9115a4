"""One photo, one shipment as plain values: what the commands, the export and the API write as JSON.

The keys stay as they are, and words in it are English: programs rely on both.
"""

from collections.abc import Mapping
from typing import Any

from receiving.model import (
    Address,
    CartonFinding,
    LabelRead,
    Manifest,
    OtherShipment,
    PhotoReading,
    Reconciliation,
    StagingPlan,
    Symbol,
    UnreadRegion,
)
from receiving.wording import finding_words, whose_words, words_of

Plain = dict[str, Any]


def reading_as_json(
    photo: str, reading: PhotoReading, claims: tuple[LabelRead, ...], cartons: Mapping[str, tuple[str, str]]
) -> Plain:
    """One photo: its symbols, each with what it claims, and the regions that need a closer look.

    ``cartons`` gives the shipment and carton of a read by its id, where a manifest knows it.
    """
    return {
        "photo": photo,
        "ms": round(reading.ms, 1),
        "width_px": reading.width_px,
        "height_px": reading.height_px,
        "symbols": [
            _symbol(s, read, cartons.get(read.read_id, ("", "")))
            for s, read in zip(reading.symbols, claims, strict=True)
        ],
        "unread": [_unread(region) for region in reading.unread],
        "advice": reading.advice,
        "refused": list(reading.refused),
    }


def _symbol(symbol: Symbol, read: LabelRead, known: tuple[str, str]) -> Plain:
    claim = read.claim
    shipment, carton = known
    return {
        "raw": symbol.raw,
        "symbology": symbol.symbology,
        "sscc": str(claim.sscc) if claim.sscc else None,
        "address": _address(claim.address) if claim.address else None,
        "quad_px": [list(corner) for corner in symbol.quad_px],
        "reader": symbol.reader,
        "guided": symbol.guided,
        "confidence": round(symbol.confidence, 4),
        "label": symbol.label,
        "alternatives": list(symbol.alternatives),
        "carton": carton or claim.carton or None,
        "shipment": shipment or None,
        "open_first": claim.open_first,
        "warnings": list(map(str, claim.warnings)),
    }


def _unread(region: UnreadRegion) -> Plain:
    return {"quad_px": [list(corner) for corner in region.quad_px], "advice": region.advice}


def _address(address: Address) -> Plain:
    return {"section": address.section or None, "column": address.column, "row": address.row}


def reconciliation_as_json(
    found: Reconciliation, plan: StagingPlan, manifest: Manifest, names: dict[str, str]
) -> Plain:
    """One shipment's state and plan; ``names`` gives the file name of a photo by its SHA-256."""
    return {
        "shipment": found.shipment,
        "store": found.store,
        "expected": found.expected,
        "received": [_received(finding) for finding in found.received],
        "short": [_short(finding) for finding in found.short],
        "over": [
            {"raw": o.raw, "why": o.why.value, "belongs_to": str(whose_words(o)) or None, "evidence": list(o.read_ids)}
            for o in found.over
        ],
        "duplicates": [
            {"carton": d.carton, "raw": d.raw, "why": str(words_of(d.why)), "evidence": list(d.read_ids)}
            for d in found.duplicates
        ],
        "questions": [
            {
                "prompt": str(words_of(q.why)),
                "cartons": list(q.cartons),
                "again": list(q.again),
                "evidence": list(q.read_ids),
            }
            for q in found.questions
        ],
        "not_understood": [
            {"raw": u.raw, "why": str(words_of(u.why)), "evidence": list(u.read_ids)} for u in found.unclear
        ],
        "looks_like": _looks_like(found.looks_like),
        "unreadable": [
            {"photo": names.get(u.photo, u.photo), "quad_px": [list(c) for c in u.quad_px], "advice": u.advice}
            for u in found.unreadable
        ],
        "reads": [
            {"read": e.read_id, "outcome": e.outcome.value, "carton": e.carton or None, "why": str(words_of(e.why))}
            for e in found.explanations
        ],
        "open_first": [{"carton": o.carton, "found": o.found} for o in plan.open_first],
        "staging": staging_as_json(plan),
    }


def _looks_like(other: OtherShipment | None) -> Plain | None:
    if other is None:
        return None
    return {
        "shipment": other.shipment,
        "store": other.store,
        "log_odds": round(other.log_odds, 2),
        "labels": other.labels,
        "own_labels": other.own,
    }


def _received(finding: CartonFinding) -> Plain:
    first = finding.carton.addresses[:1]
    return {
        "carton": finding.carton.carton,
        "sscc": str(finding.carton.sscc) if finding.carton.sscc else None,
        "column": first[0].column if first else None,
        "row": first[0].row if first else None,
        "how": finding.how.value if finding.how else None,
        "evidence": list(finding.evidence),
        "why": str(finding_words(finding)),
        "confidence": round(finding.confidence, 4),
    }


def _short(finding: CartonFinding) -> Plain:
    return {
        "carton": finding.carton.carton,
        "sscc": str(finding.carton.sscc) if finding.carton.sscc else None,
        "kind": finding.carton.kind.value,
        "state": finding.state.value,
        "why": str(finding_words(finding)),
        "addresses": [_address(address) for address in finding.carton.addresses],
    }


def staging_as_json(plan: StagingPlan) -> Plain:
    """The plan: trips, bays, how good it is, cautions, and what stays in the back room."""
    return {
        "trips": [
            {
                "trip": t.trip,
                "cartons": list(t.cartons),
                "load_kg": round(t.load_kg, 2),
                "wave": t.wave,
                "stops": list(t.stops),
                "lifted_off": list(t.lifted_off),
            }
            for t in plan.trips
        ],
        "bays": [
            {
                "bay": b.bay,
                "cartons": list(b.cartons),
                "wave": b.wave,
                "dug_out": list(b.dug_out),
                "restacked": list(b.restacked),
            }
            for b in plan.bays
        ],
        "bound": {
            "trips": plan.bound.planned,
            "trips_at_least": plan.bound.at_least,
            "stops": plan.stop_bound.planned,
            "stops_at_least": plan.stop_bound.at_least,
            "search_s": plan.search_s,
        },
        "cautions": [{"carton": c.carton or None, "text": str(c.text)} for c in plan.cautions],
        "held": [{"carton": h.carton, "why": str(h.why)} for h in plan.held],
    }
