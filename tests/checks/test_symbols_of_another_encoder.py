"""GS1 symbols drawn by another encoder, read from the picture to the claim.

The pictures in ``symbols/`` were made with bwip-js 4 (MIT; it is BWIPP, the Barcode Writer in Pure PostScript), which
shares no code with our readers: `bcid` gs1-128, gs1datamatrix, gs1qrcode, gs1dlqrcode, gs1dldatamatrix and itf14,
scale 3.
"""

from datetime import UTC, datetime
from pathlib import Path

import pytest

from receiving.model import Claim, RawRead, Source
from receiving.reading import interpret, read_photo

SYMBOLS = Path(__file__).parent / "symbols"
SSCC, GTIN = "395200000000000012", "09521234543213"
ELEMENTS = (("01", GTIN), ("10", "ABC123"), ("21", "7788"))


def claim_on(picture: str) -> tuple[str, Claim]:
    path = SYMBOLS / f"{picture}.png"
    (symbol,) = read_photo(path.name, path.read_bytes()).symbols
    raw = RawRead("r", datetime(2026, 3, 2, tzinfo=UTC), Source.PHOTO, symbol.raw, symbol.symbology)
    return symbol.symbology, interpret(raw).claim


@pytest.mark.parametrize(
    ("picture", "symbology"),
    [("gs1_128_sscc", "]C1"), ("gs1_datamatrix_sscc", "]d2"), ("link_qr", "]Q1"), ("link_datamatrix", "]d1")],
)
def test_an_sscc_is_read_from_every_carrier(picture: str, symbology: str) -> None:
    seen, claim = claim_on(picture)
    assert seen == symbology
    assert str(claim.sscc) == SSCC
    assert claim.warnings == ()


@pytest.mark.parametrize(
    ("picture", "symbology"),
    [("gs1_128_elements", "]C1"), ("gs1_datamatrix_elements", "]d2"), ("gs1_qr_elements", "]Q3")],
)
def test_elements_with_a_separator_are_cut_apart(picture: str, symbology: str) -> None:
    seen, claim = claim_on(picture)
    assert seen == symbology
    assert claim.elements == ELEMENTS


def test_an_itf_14_is_a_plain_carton_barcode() -> None:
    _, claim = claim_on("itf_14")
    assert (claim.barcode, claim.gtin) == (GTIN, GTIN)
