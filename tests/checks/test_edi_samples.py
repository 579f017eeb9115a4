"""Published EDI samples: cartons, warnings and lines written from the standards and from each file's known defects.

The files (licence and origin of each in their INDEX.json) are not part of this repository. What is expected was
written by hand from ASC X12 856 and UN/EDIFACT DESADV: a pack (HL P) or a numbered package (GIN+BJ) is a carton;
goods outside of one are listed; a check digit is GS1 General Specifications 7.9.1; SE, GE, IEA, UNT, UNZ and CTT
count what stands before them.
"""

from pathlib import Path

import pytest

from receiving.errors import ManifestFaults
from receiving.expected import ManifestFile, SourceFormat, read_manifests
from tests.expected.edi_values import values_in_notices

SAMPLES = Path(__file__).parent / "data" / "edi"

WRONG = "SSCCs are wrong; the cartons are kept, and a label with exactly this number is received"


def read(name: str) -> ManifestFile:
    return read_manifests(name, (SAMPLES / name).read_bytes())


def warnings(found: ManifestFile) -> list[str]:
    return [str(warning) for warning in found.warnings]


def contents(found: ManifestFile) -> list[tuple[str, list[tuple[str, int | None, str]]]]:
    (manifest,) = found.manifests
    return [(c.carton, [(line.item, line.qty, line.unit) for line in c.contents]) for c in manifest]


def test_pack_with_an_sscc_that_fails_its_check() -> None:
    # ISA not padded, SE01 36 for 18 segments, CTT01 1 for 4 levels, CTT02 5 for 24 units; MAN*GM 20 digits from 01.
    found = read("x12_856_test_parse_856_x12types.edi")
    assert found.source_format is SourceFormat.X12
    (manifest,) = found.manifests
    assert (manifest.shipment, manifest.store) == ("SHIPMENT ID", "12345678")
    assert manifest.references == (
        ("carrier", "ABCD"),
        ("routing", "###5D"),
        ("bill of lading", "REFERENCE ID"),
        ("shipped", "2023-10-14"),
        ("order", "0123456789"),
    )
    # LIN*IB*PRODUCT1*EN*PRODUCT2...: of these qualifiers the GTIN (EN) is preferred to the ISBN.
    assert contents(found) == [("01234567891011121314", [("PRODUCT2", 24, "EA")])]
    assert (manifest.cartons[0].sscc, manifest.cartons[0].barcode) == (None, "01234567891011121314")
    assert warnings(found) == [
        "segment 1 (ISA): the ISA header is not padded to its fixed lengths; it was read all the same",
        "segment 6 (TD1): TD1 counts 24 packages (CTN25), the notice lists 1",
        f"segment 14 (MAN/GIN): {WRONG}: SSCC '01234567891011121314' has 20 digits; an SSCC has 18",
        "segment 19 (CTT): CTT01 counts 1 levels; the transaction has 4 HL segments",
        "segment 19 (CTT): CTT02 says 5 units in all; the SN1 segments add up to 24",
        "segment 20 (SE): SE01 counts the segments wrongly: it says 36, there are 18",
    ]
    assert found.not_understood == ()
    assert [str(left) for left in found.unused] == [
        "BSN 00 elements 3, 4: 1 not used (20231014, 1831)",
        "TD1 elements 6, 7, 8: 1 not used (G, 295.15625, LB)",
        "TD5 B element 4: 1 not used (M)",
        "N1 ST: 1 not used (COMPANY, 15, 12345678)",  # the store is that of BY below the order, the same here
        "N1 BY element 2: 1 not used (BUYER COMPANY1)",
        "LIN elements 6, 7: 1 not used (PO, PRODUCT3)",
    ]


@pytest.mark.parametrize(
    ("name", "shipment", "goods", "declared", "counted", "at"),
    [
        ("x12_856_test_856_with_carrier_details_x12types.edi", "SHIP002", [("123456789", 10, "EA")], 15, 18, (14, 20)),
        (
            "x12_856_test_856_with_line_items_x12types.edi",
            "SHIP003",
            [("123456789", 10, "EA"), ("987654321", 5, "EA")],
            13,
            17,
            (10, 19),
        ),
    ],
)
def test_packs_with_a_number_that_is_too_short(
    name: str,
    shipment: str,
    goods: list[tuple[str, int | None, str]],
    declared: int,
    counted: int,
    at: tuple[int, int],
) -> None:
    found = read(name)
    assert (found.manifests[0].shipment, found.manifests[0].store) == (shipment, "BUYER COMPANY")
    assert contents(found) == [("1234567890123456", goods)]
    assert warnings(found)[-2:] == [
        f"segment {at[0]} (MAN/GIN): {WRONG}: SSCC '1234567890123456' has 16 digits; an SSCC has 18",
        f"segment {at[1]} (SE): SE01 counts the segments wrongly: it says {declared}, there are {counted}",
    ]
    assert len(found.warnings) == 2 + ("carrier" in name)  # of which TD1 counts 5 packages, and one is listed


def test_goods_below_an_order_without_packs_and_newline_as_terminator() -> None:
    # HL S/O/I; ISA12 00400; CTT*4*30 is right (four HL, 24 + 6 units).
    found = read("x12_856_004060_x12types.edi")
    (manifest,) = found.manifests
    assert (manifest.shipment, manifest.store, manifest.cartons) == ("829716", "XYZ RETAIL", ())
    assert [str(entry.text) for entry in found.not_understood] == [
        "24 EA VP 87787D, UP 999999310145 BLUE WIDGET",
        "6 EA VP 99887D, UP 999999311746 RED WIDGET",
    ]
    assert warnings(found) == [
        "segment 3 (CPS/HL): shipments name no carton, only goods: 829716",
        "segment 6 (TD1): TD1 counts 2 packages (PCS), the notice lists 0",
    ]


def test_a_receiving_advice_of_x12_is_no_notice() -> None:
    with pytest.raises(ManifestFaults, match="transaction set '861' is not an advance ship notice"):
        read("x12_861_full_x12types.edi")


def test_two_pallets_in_a_message_with_broken_service_characters() -> None:
    # UNA with five characters; two MEA end in a typographic quote; 41 segments once mended, so UNT+40 is right; no UNZ.
    found = read("edifact_desadv_message1_effektor.edi")
    assert found.source_format is SourceFormat.EDIFACT
    (manifest,) = found.manifests
    assert (manifest.shipment, manifest.store) == ("DES587441", "5412345123453")
    assert contents(found) == [
        ("354107380000001051", [("5410738000152", 20, "")]),
        ("354107380000001068", [("5410738000169", 5, ""), ("5410738000176", 3, ""), ("5410738000183", 12, "")]),
    ]
    first, second = manifest.cartons
    assert (str(first.sscc), str(second.sscc)) == ("354107380000001051", "354107380000001068")
    assert (first.weight_kg, first.length_cm, first.width_cm, second.weight_kg) == (263.2, 120.0, 80.0, 305.1)
    inside = "packages inside have no number of their own; they are not listed one by one: 20 (CT) (2 times)"
    lost = 'a line break is where the terminator "\'" should be'
    assert warnings(found) == [
        "segment 1 (UNA): UNA has five service characters instead of six; the reserved one is taken to be left out",
        f"segment 21 (MEA): {lost}: after 'MEA+PD+WD+MMT:800', after 'MEA+PD+LN+MMT:1200'",
        f"segment 25 (PAC): {inside}",
        "segment 41 (UNZ): the interchange is not closed by UNZ; it may be cut off",
    ]
    assert found.not_understood == ()


def test_one_pallet_with_differences_to_the_order_and_a_byte_order_mark() -> None:
    # PAC+3 and one GIN+BJ; QVR -5 and 9; CNT+1:62 for 50 units; CNT+2:2 for one LIN; UNT+35 for 36 segments.
    found = read("edifact_desadv_message2_effektor.edi")
    (manifest,) = found.manifests
    assert (manifest.shipment, manifest.store) == ("73000152018851234", "7350000001228")
    assert contents(found) == [("373000152000023055", [("1250", 50, "")])]
    assert manifest.cartons[0].weight_kg == 500.0
    assert warnings(found) == [
        "segment 16 (PAC): what PAC declares differs from the numbers given for its packages: 3 and 1 at CPS 1",
        "segment 32 (QVR): the shipper reports a difference to the order: -5 for item '07300015200154', "
        "9 for item '07300015200154'",
        "segment 35 (CNT): CNT+1 says 62 units in all; the despatched quantities add up to 50",
        "segment 36 (CNT): CNT+2 counts 2 lines; the message has 1",
        "segment 37 (UNT): UNT counts the segments of its message wrongly: it says 35, there are 36",
    ]
    assert [str(entry.text) for entry in found.not_understood] == ["2 packages of CPS 1"]


def test_goods_without_any_package() -> None:
    found = read("edifact_desadv_D96A_phpedifact.edi")
    (manifest,) = found.manifests
    assert (manifest.shipment, manifest.store, manifest.cartons) == ("Y02197250", "01131116", ())
    assert [str(entry.text) for entry in found.not_understood] == [
        "1 9780738507330 MUNCIE THE MIDDLE",
        "1 9781568361871 ROADS TO SATA A 2",
    ]
    assert warnings(found) == ["segment 2 (CPS/HL): shipments name no carton, only goods: Y02197250"]


def test_a_receiving_advice_of_edifact_is_no_notice() -> None:
    with pytest.raises(ManifestFaults, match="message 'RECADV' is not a despatch advice"):
        read("edifact_recadv_D01B_smooks.edi")


@pytest.mark.parametrize("file", sorted(SAMPLES.glob("*.edi")), ids=lambda path: path.name)
def test_every_value_of_a_sample_is_used_or_listed(file: Path) -> None:
    try:
        found = read(file.name)
    except ManifestFaults:
        assert "861" in file.name or "recadv" in file.name
        return
    left = sum(unused.values for unused in found.unused)
    assert found.used + found.listed + left == values_in_notices(file.read_text(encoding="utf-8-sig"))
    assert found.used > 0
