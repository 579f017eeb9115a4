"""What tells cartons, kits and lanes apart: facts as text, compared and stored, without a word of any language."""

import json
from collections.abc import Mapping
from hashlib import sha256

from receiving.dispatch.calendar import StoreTerms
from receiving.model import Carton, CartonKind, Manifest


def carton_item(carton: Carton) -> str:
    """What is in a carton and where it belongs; empty where its manifest does not say.

    >>> carton_item(Carton("01", CartonKind.TAGS))
    ''
    """
    lines = sorted(
        (
            line.item or line.description,
            line.qty or 1,
            line.address.section if line.address else line.section,
            *((line.address.column, line.address.row) if line.address else (0, 0)),
        )
        for line in carton.contents
        if line.item or line.description
    )
    return _as_text({"kind": carton.kind.value, "lines": lines}) if lines else ""


def kind_alone(kind: CartonKind) -> str:
    """A carton of which no more than its kind is known."""
    return _as_text({"kind": kind.value, "lines": []})


def kit_of(manifest: Manifest) -> str:
    """What tells kits apart: the name that the manifest gives, else sections, cartons and a mark of what they hold.

    Empty where nobody can say what they hold.
    """
    named = dict(manifest.references).get("kit")
    items = sorted(carton_item(carton) for carton in manifest)
    if named or not any(items):
        return named or ""
    sections = list(dict.fromkeys(name for carton in manifest for name in carton.sections))
    mark = sha256("\n".join(items).encode()).hexdigest()[:4]
    return _as_text({"sections": sections, "cartons": len(items), "mark": mark})


def lane_of(manifest: Manifest, shipper: str, terms: StoreTerms) -> str:
    """The way that a shipment takes: from its shipper, by its carrier, to the region of its store; empty: not known."""
    carrier = dict(manifest.references).get("carrier", "")
    region = "-".join(part for part in (terms.country, terms.region) if part)
    return _as_text({"shipper": shipper, "carrier": carrier, "region": region}) if shipper or carrier else ""


def facts_of(name: str) -> Mapping[str, object]:
    """The facts in such a text; none in a name that a manifest gave.

    >>> facts_of('{"kind":"tray","lines":[]}'), facts_of("Spring {reset}")
    ({'kind': 'tray', 'lines': []}, {})
    """
    try:
        found = json.loads(name)
    except ValueError:
        return {}
    return found if isinstance(found, dict) and set(found) in _SHAPES else {}


_SHAPES = ({"kind", "lines"}, {"sections", "cartons", "mark"}, {"shipper", "carrier", "region"})


def _as_text(facts: Mapping[str, object]) -> str:
    return json.dumps(facts, ensure_ascii=False, separators=(",", ":"))
