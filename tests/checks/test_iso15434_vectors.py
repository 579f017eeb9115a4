"""ISO/IEC 15434 and plain vectors of a reference parser (Apache-2.0; source in the file): all must agree."""

import json
from pathlib import Path

from receiving.reading.claims import claim_of

FILE = Path(__file__).parent / "data" / "iso15434_vectors.json"


def vectors():
    return json.loads(FILE.read_text(encoding="utf-8"))["vectors"]


def test_the_fields_of_every_envelope_agree():
    rows = [row for row in vectors() if "fields" in row]
    assert len(rows) == 2
    for row in rows:
        claim = claim_of(row["input"], by_hand=False)
        assert claim.elements == tuple(map(tuple, row["fields"]))
        assert claim.warnings == ()


def test_the_elements_of_every_element_string_without_identifier_agree():
    """One vector agrees; the other one is published with a GTIN whose check digit is wrong, and is not taken."""
    rows = [row for row in vectors() if "ais" in row]
    assert len(rows) == 2
    for row in rows:
        claim = claim_of(row["input"], by_hand=False)
        assert claim.elements == tuple(map(tuple, row["ais"]))
        assert claim.gtin == "05412345000013"


def test_a_bare_ean_is_kept_as_barcode_and_becomes_a_gtin_when_its_symbol_says_so():
    row = next(row for row in vectors() if "ean_as_ai" in row)
    assert claim_of(row["input"]).barcode == row["input"]
    assert claim_of(row["input"], "]E0").gtin == row["ean_as_ai"][1]
