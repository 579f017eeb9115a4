"""Which codes guided reading may look for."""

import pytest

from receiving.model import Carton, CartonKind, ExpectedCode, Manifest, Sscc
from receiving.reading.candidates import expected_codes


def manifest(*cartons, shipment="S1"):
    return Manifest(shipment, "0417", tuple(Carton(str(n), CartonKind.TRAY, **row) for n, row in enumerate(cartons)))


def test_an_sscc_is_looked_for_in_gs1_128_behind_ai_00():
    codes = expected_codes([manifest({"sscc": Sscc("106141411234567897")})])
    assert codes == (ExpectedCode("00106141411234567897", "]C1"),)


@pytest.mark.parametrize(
    ("barcode", "symbologies"),
    [
        ("5412345000013", ["]E0", "]C0", "]A0"]),
        ("416000336108", ["]E0", "]C0", "]A0"]),
        ("02345673", ["]E4", "]C0", "]A0"]),
        ("05412345000013", ["]I1", "]C0", "]A0"]),
        ("5412345000014", ["]C0", "]A0"]),
        ("KX-0147", ["]C0", "]A0"]),
        ("kx_0147", ["]C0"]),
        ("010541234500001310AB", ["]C1", "]C0", "]A0"]),
        ("Größe 7", []),
    ],
)
def test_a_plain_barcode_is_looked_for_where_its_form_may_be_printed(barcode, symbologies):
    """EAN-13 5412345000013, UPC-A 416000336108, EAN-8 02345673: GS1 check digit vectors."""
    codes = expected_codes([manifest({"barcode": barcode})])
    assert [code.symbology for code in codes] == symbologies
    assert {code.raw for code in codes} <= {barcode}


def test_every_code_stands_once_in_manifest_order():
    first, second = manifest({"barcode": "b_2"}, {"barcode": "b_1"}), manifest({"barcode": "b_1"}, shipment="S2")
    assert [code.raw for code in expected_codes([first, second])] == ["b_2", "b_1"]
    assert expected_codes([]) == ()
