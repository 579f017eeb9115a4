"""Symbols of an independent encoder (Zint, in zxing-cpp), decoded by zxing-cpp, become the claims that they should.

The bytes and the AIM identifier of each symbol are the decoder's own; nothing here is made by our code but the claim.
"""

import numpy as np
import pytest
import zxingcpp

from receiving.model import Address, Claim, Sscc
from receiving.reading.claims import claim_of
from receiving.reading.patterns import LabelPattern, default_patterns
from receiving.reading.symbology import symbology_words

SSCC = "106141411234567897"
UNIT = f"(00){SSCC}"
ENVELOPE = f"[)>\x1e06\x1dJ{SSCC}\x1d13Q7/24\x1e\x04"
LINK = f"https://id.gs1.org/00/{SSCC}"


def decoded(symbology, content, **options):
    symbol = zxingcpp.create_barcode(content, getattr(zxingcpp.BarcodeFormat, symbology), **options)
    (found,) = zxingcpp.read_barcodes(np.asarray(symbol.to_image(scale=4, add_quiet_zones=True)))
    return found.bytes.decode("latin-1"), found.symbology_identifier


@pytest.mark.parametrize(
    ("symbology", "identifier", "name"),
    [
        ("Code128", "]C1", "GS1-128"),
        ("DataMatrix", "]d2", "GS1 DataMatrix"),
        ("QRCode", "]Q3", "GS1 QR code"),
        ("Aztec", "]z1", "Aztec"),
    ],
)
def test_gs1_carriers_claim_their_sscc(symbology, identifier, name):
    text, found = decoded(symbology, UNIT, gs1=True)
    assert (found, symbology_words(found)) == (identifier, name)
    assert claim_of(text, found, by_hand=False) == Claim(sscc=Sscc(SSCC), elements=(("00", SSCC),))


@pytest.mark.parametrize("symbology", ["PDF417", "DataMatrix", "QRCode", "Aztec"])
def test_an_iso_15434_envelope_in_any_2d_symbol_claims_its_licence_plate(symbology):
    claim = claim_of(*decoded(symbology, ENVELOPE), by_hand=False)
    assert (claim.sscc, claim.carton_n, claim.carton_total, claim.warnings) == (Sscc(SSCC), 7, 24, ())


@pytest.mark.parametrize("link", [LINK, LINK.upper()])
@pytest.mark.parametrize("symbology", ["DataMatrix", "QRCode", "Aztec"])
def test_a_digital_link_in_any_2d_symbol_claims_its_sscc(symbology, link):
    assert claim_of(*decoded(symbology, link), by_hand=False).sscc == Sscc(SSCC)


@pytest.mark.parametrize(
    ("symbology", "content", "barcode", "gtin"),
    [
        ("EAN13", "5412345000013", "5412345000013", "05412345000013"),
        ("EAN8", "02345673", "02345673", "00000002345673"),
        ("UPCA", "416000336108", "0416000336108", "00416000336108"),
        ("ITF14", "05412345000013", "05412345000013", "05412345000013"),
        ("ITF", "123456", "123456", ""),
        ("Code39", "KX-0147", "KX-0147", ""),
        ("Code93", "KX-0147", "KX-0147", ""),
        ("Codabar", "A12345B", "A12345B", ""),
        ("MaxiCode", "KX-0147", "KX-0147", ""),
        ("MicroPDF417", "KX-0147", "KX-0147", ""),
        ("Telepen", "KX-0147", "KX-0147", ""),
    ],
)
def test_plain_symbols_claim_their_barcode(symbology, content, barcode, gtin):
    assert claim_of(*decoded(symbology, content), by_hand=False) == Claim(barcode=barcode, gtin=gtin)


def test_databar_claims_its_gtin():
    claim = claim_of(*decoded("DataBarExp", "(01)05412345000013(10)AB", gs1=True), by_hand=False)
    assert (claim.gtin, claim.elements) == ("05412345000013", (("01", "05412345000013"), ("10", "AB")))


def test_an_address_in_an_internal_ai_is_read_by_a_pattern():
    place = LabelPattern("place", r"C(?P<column>\d+)R(?P<row>\d+)", element="91")
    text, found = decoded("Code128", f"{UNIT}(400)PO1(91)C3R2", gs1=True)
    claim = claim_of(text, found, by_hand=False, patterns=(place,))
    assert claim.elements == (("00", SSCC), ("400", "PO1"), ("91", "C3R2"))
    assert (claim.sscc, claim.address) == (Sscc(SSCC), Address("", 3, 2))


def test_a_plain_symbol_that_says_column_and_row_claims_an_address():
    claim = claim_of(*decoded("Code128", "COL 3 ROW 2"), by_hand=False, patterns=default_patterns())
    assert claim.address == Address("", 3, 2)


def test_a_photo_read_and_a_keyboard_read_of_one_symbol_claim_the_same():
    text, found = decoded("Code128", f"{UNIT}(400)PO1", gs1=True)
    assert claim_of(text, found, by_hand=False) == claim_of(f"{found}{text}\r", by_hand=True)
