"""What a notice says reaches the manifest or is named: places where a value went missing or came twice.

The messages are written from ASC X12 856 (004010) and UN/EDIFACT DESADV D.96A and D.01B, whose segment groups say what
belongs to what; the codes are those of the published lists named in ``receiving/expected/edi_codes.py``.
"""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from receiving.expected import ManifestFile, read_manifests
from receiving.model import Carton
from tests.expected.edi_messages import DESPATCH, STANDARD, edifact, sscc, x12
from tests.expected.edi_values import values_in_notices


def read(data: bytes | str) -> ManifestFile:
    return read_manifests("notice", data.encode() if isinstance(data, str) else data)


def levels(*parts: str) -> bytes:
    return x12(("BSN*00*W*20260301*0800", "HL*1**S", "N1*ST**92*1", *parts))


def message(*parts: str) -> str:
    return edifact(("BGM+351+W+9", "NAD+DP+1::92", *parts))


def goods(carton: Carton) -> list[tuple[str, int | None]]:
    return [(line.item, line.qty) for line in carton.contents]


def notes(found: ManifestFile) -> str:
    return "\n".join([*map(str, found.warnings), *map(str, found.not_understood), *map(str, found.unused)])


# X12 ----------------------------------------------------------------------------------------------------------------


def test_a_mark_at_the_item_does_not_double_its_contents() -> None:
    found = read(levels("HL*2*1*O", "HL*3*2*I", "LIN**VN*A", "SN1**10*EA", f"MAN*GM*{sscc(1)}"))
    assert [(c.carton, goods(c)) for c in found.manifests[0]] == [(sscc(1), [("A", 10)])]


@pytest.mark.parametrize(
    ("party", "store", "left_out"),
    [
        ("N1*ST*Shop 5", "Shop 5", []),
        ("N1*ST**92*5", "5", []),
        ("N1*ST*Shop*92*5", "5", ["N1 ST element 2: 1 not used (Shop)"]),
        ("N1*ST*Shop*92", "Shop", ["N1 ST element 3: 1 not used (92)"]),
    ],
)
def test_of_a_store_its_number_is_taken_or_else_its_name_and_the_other_is_listed(
    party: str, store: str, left_out: list[str]
) -> None:
    found = read(x12(("BSN*00*W", "HL*1**S", party, "HL*2*1*P", f"MAN*GM*{sscc(1)}")))
    assert ([m.store for m in found], [str(each) for each in found.unused]) == ([store], left_out)


@pytest.mark.parametrize("second", ["", f"*GM*{sscc(3)}*{sscc(4)}"])
def test_a_range_of_marks_is_all_used_in_either_place_of_its_segment(second: str) -> None:
    """MAN01 to 03 and MAN04 to 06: qualifier, first number, last number (X12 004010, data elements 88 and 87)."""
    found = read(x12(("BSN*00*W", "HL*1**S", "N1*ST**92*1", "HL*2*1*P", f"MAN*GM*{sscc(1)}*{sscc(2)}{second}")))
    assert [c.carton for c in found.manifests[0]] == [sscc(n) for n in (1, 2, 3, 4)[: 4 if second else 2]]
    assert found.unused == ()


def test_packs_that_hold_orders_take_the_store_of_their_order() -> None:
    # BSN05 0003: shipment, packaging, order, item.
    def pack(n: int, store: str) -> tuple[str, ...]:
        top = f"HL*{n}*1*P", f"MAN*GM*{sscc(n)}", f"HL*{n + 1}*{n}*O", f"PRF*PO{n}", f"N1*BY**92*{store}"
        return (*top, f"HL*{n + 2}*{n + 1}*I", "LIN**VN*A", "SN1**3*EA")

    found = read(levels(*pack(2, "0417"), *pack(5, "0418"), *pack(8, "0417")))
    assert [(m.store, [c.carton for c in m]) for m in found] == [("0417", [sscc(2), sscc(8)]), ("0418", [sscc(5)])]
    assert [goods(c) for m in found for c in m] == [[("A", 3)]] * 3
    named = [[value for name, value in m.references if name == "order"] for m in found]
    assert named == [["PO2", "PO8"], ["PO5"]], "each store's manifest names its own orders"


def test_a_pack_with_orders_of_two_stores_is_listed_for_the_first_and_said() -> None:
    orders = ("HL*3*2*O", "N1*BY**92*0417", "HL*4*2*O", "N1*BY**92*0418")
    found = read(levels("HL*2*1*P", f"MAN*GM*{sscc(1)}", *orders))
    assert [m.store for m in found] == ["0417"]
    assert "its goods go to several stores (0417, 0418)" in notes(found)


def test_packs_below_an_item_share_its_quantity() -> None:
    packs = ("HL*4*3*P", f"MAN*GM*{sscc(1)}", "HL*5*3*P", f"MAN*GM*{sscc(2)}")
    found = read(levels("HL*2*1*O", "HL*3*2*I", "LIN**VN*A", "SN1**10*EA", *packs))
    assert [goods(c) for c in found.manifests[0]] == [[("A", 5)], [("A", 5)]]
    odd = read(levels("HL*2*1*O", "HL*3*2*I", "LIN**VN*A", "SN1**11*EA", *packs))
    assert [goods(c) for c in odd.manifests[0]] == [[("A", None)], [("A", None)]]
    assert "how an item is spread over its packages is not said: 11 EA in 2 packages" in notes(odd)


@pytest.mark.parametrize("qualifier", ["LS", "LA", "2I", "LV", "97"])
def test_numbers_of_a_pack_by_reference_are_numbers_of_its_carton(qualifier: str) -> None:
    found = read(levels("HL*2*1*P", f"MAN*GM*{sscc(1)}", f"REF*{qualifier}*4711", "HL*3*1*P", f"REF*{qualifier}*4712"))
    assert [c.codes for c in found.manifests[0]] == [(sscc(1), "4711"), ("4712",)]


def test_a_packaging_specification_is_not_a_number_of_its_carton() -> None:
    # Element 128, 98: container/packaging specification number, the same for every carton of its kind.
    found = read(
        levels("HL*2*1*P", f"MAN*GM*{sscc(1)}", "REF*98*SPEC-7", "HL*3*1*P", f"MAN*GM*{sscc(2)}", "REF*98*SPEC-7")
    )
    assert [c.codes for c in found.manifests[0]] == [(sscc(1),), (sscc(2),)]
    assert "REF 98: 2 not used" in notes(found)


def test_a_colour_is_not_an_item() -> None:
    found = read(levels("HL*2*1*P", f"MAN*GM*{sscc(1)}", "HL*3*2*I", "LIN**BO*RED*VN*A*IZ*XL"))
    (line,) = found.manifests[0].cartons[0].contents
    assert (line.item, line.item_numbers) == ("A", ())
    assert "1 not used (BO, RED, IZ" in notes(found)


def test_every_mark_of_a_pack_is_kept() -> None:
    found = read(levels("HL*2*1*P", f"MAN*GM*{sscc(1)}**CP*1Z1", "MAN*CP*1Z2", "MAN*ZZ*X9"))
    assert found.manifests[0].cartons[0].codes == (sscc(1), "1Z1", "1Z2", "X9")


def test_loads_of_an_item_are_cartons() -> None:
    loads = ("CLD*2*10*CTN90", "REF*LS*S1", "REF*LS*S2", "CLD*1*5*CTN90", "REF*LS*S3")
    found = read(levels("HL*2*1*O", "HL*3*2*I", "LIN**BP*A", "SN1**25*EA", *loads))
    assert [(c.codes, goods(c)) for c in found.manifests[0]] == [
        (("S1",), [("A", 10)]),
        (("S2",), [("A", 10)]),
        (("S3",), [("A", 5)]),
    ]
    assert "CLD" not in "".join(map(str, found.warnings))
    short = read(levels("HL*2*1*O", "HL*3*2*I", "LIN**BP*A", "SN1**25*EA", *loads[:3]))
    assert "the loads (CLD) of an item do not add up to its units (SN1): 20 and 25" in notes(short)


def test_a_load_that_says_no_quantity_counts_for_none_of_its_item() -> None:
    loads = ("CLD*1*10*CTN90", "REF*LS*S1", "CLD*1**CTN90", "REF*LS*S2")
    assert "add up" not in notes(read(levels("HL*2*1*O", "HL*3*2*I", "LIN**BP*A", "SN1**10*EA", *loads)))
    short = read(levels("HL*2*1*O", "HL*3*2*I", "LIN**BP*A", "SN1**11*EA", *loads))
    assert "the loads (CLD) of an item do not add up to its units (SN1): 10 and 11" in notes(short)


def test_an_order_without_packages_keeps_its_number() -> None:
    found = read(levels("HL*2*1*O", "PRF*PO-7", "HL*3*2*I", "LIN**VN*A", "SN1**1*EA"))
    assert ("order", "PO-7") in found.manifests[0].references


def test_all_numbers_of_an_item_are_kept() -> None:
    found = read(levels("HL*2*1*P", f"MAN*GM*{sscc(1)}", "HL*3*2*I", "LIN**VN*A*UP*614141999996*IN*77*PO*PO-8"))
    (line,) = found.manifests[0].cartons[0].contents
    assert (line.item, line.item_numbers) == ("A", ("614141999996", "77"))
    assert "LIN elements 8, 9: 1 not used (PO, PO-8)" in notes(found)


@pytest.mark.parametrize(
    ("unit", "kg"),
    [("01", 4.536), ("LB", 4.536), ("50", 10.0), ("KG", 10.0)],
    ids=["actual lb", "lb", "actual kg", "kg"],
)
def test_units_of_weight_by_the_code_list(unit: str, kg: float) -> None:
    found = read(levels("HL*2*1*P", f"MAN*GM*{sscc(1)}", f"MEA*PD*G*10*{unit}"))
    assert found.manifests[0].cartons[0].weight_kg == kg


def test_a_weight_without_a_unit_is_named() -> None:
    found = read(levels("HL*2*1*P", f"MAN*GM*{sscc(1)}", "MEA*PD*G*10"))
    assert found.manifests[0].cartons[0].weight_kg is None
    assert "MEA PD: 1 not used (G, 10)" in notes(found)


def test_a_package_count_that_the_notice_does_not_list_is_said() -> None:
    short = read(levels("TD1*CTN*5", "HL*2*1*P", f"MAN*GM*{sscc(1)}"))
    assert "TD1 counts 5 packages (CTN), the notice lists 1" in notes(short)
    two = ("TD1*PLT*1", "TD1*CTN*1", "TD1*BOX*1", "HL*2*1*T", f"MAN*GM*{sscc(9)}")
    right = read(levels(*two, "HL*3*2*P", f"MAN*GM*{sscc(1)}", "HL*4*2*P", f"MAN*GM*{sscc(2)}"))
    assert right.warnings == ()


def test_pails_are_packages_and_no_pallets() -> None:
    # Element 103: PAL is a pail, PLT a pallet.
    short = read(levels("TD1*PAL*5", "HL*2*1*P", f"MAN*GM*{sscc(1)}"))
    assert "TD1 counts 5 packages (PAL), the notice lists 1" in notes(short)


def test_a_carton_that_comes_again_keeps_its_weight_and_the_number_printed_on_it() -> None:
    order = ("HL*2*1*O", "PRF*PO1", "HL*3*2*P", f"MAN*GM*{sscc(1)}")
    again = ("HL*4*1*O", "PRF*PO2", "HL*5*4*P", f"MAN*GM*{sscc(1)}**CA*C-17", "PO4*1*****10*KG***40*30*20*CM")
    (carton,) = read(levels(*order, *again)).manifests[0]
    assert (carton.weight_kg, carton.length_cm, carton.height_cm) == (10.0, 40.0, 20.0)
    assert "C-17" in carton.codes


def test_the_weight_that_td1_counts_for_several_cartons_is_no_weight_of_each() -> None:
    # TD102 counts the packages whose weight TD107 is; a tare's cartons together weigh what the tare does.
    several = read(levels("HL*2*1*P", "TD1*CTN*3****G*30*KG", f"MAN*GM*{sscc(1)}*{sscc(3)}"))
    assert [c.weight_kg for c in several.manifests[0]] == [None, None, None]
    assert "TD1 CTN: 1 not used (3, G, 30)" in notes(several)
    tare = read(levels("HL*2*1*T", "TD1*CTN*2****G*30*KG", f"MAN*GM*{sscc(9)}", "HL*3*2*P", f"MAN*GM*{sscc(1)}"))
    assert {c.carton: c.weight_kg for c in tare.manifests[0]} == {sscc(9): 30.0, sscc(1): None}
    one = read(levels("HL*2*1*P", f"MAN*GM*{sscc(1)}", "TD1*CTN*1****G*30*KG"))
    assert [c.weight_kg for c in one.manifests[0]] == [30.0]


def test_two_weights_of_a_carton_that_comes_again_are_said() -> None:
    pack = ("HL*2*1*P", f"MAN*GM*{sscc(1)}", "PO4*1*****10*KG")
    found = read(levels(*pack, "HL*3*1*P", f"MAN*GM*{sscc(1)}", "PO4*1*****12*KG"))
    assert found.manifests[0].cartons[0].weight_kg == 12.0
    assert "weight 10 and 12 kg" in notes(found)


def test_what_no_carton_needs_is_listed_once_with_how_often() -> None:
    found = read(levels("HL*2*1*P", f"MAN*GM*{sscc(1)}", *(f"REF*ZZ*{n}" for n in range(12))))
    assert "REF ZZ: 12 not used (0, 1, 2 ...)" in [str(unused) for unused in found.unused]


def test_a_fault_that_repeats_is_one_line() -> None:
    packs = [part for n in range(2, 17) for part in (f"HL*{n}*1*P", f"MAN*GM*1234567890123{n:03d}")]
    found = read(levels(*packs))
    (line,) = map(str, found.warnings)
    assert line.startswith("segment 7 (MAN/GIN): SSCCs are wrong; the cartons are kept")
    assert line.count("has 16 digits") == 15


# EDIFACT ------------------------------------------------------------------------------------------------------------


def test_each_pack_has_its_own_measures() -> None:
    five = ("PAC+1++CT", "MEA+PD+AAB+KGM:5", f"GIN+BJ+{sscc(1)}")
    nine = ("PAC+1++CT", "MEA+PD+AAB+KGM:9", "MEA+PD+HT+CMT:30", f"GIN+BJ+{sscc(2)}")
    cartons = read(message("CPS+1", *five, *nine)).manifests[0].cartons
    assert [(c.weight_kg, c.height_cm) for c in cartons] == [(5.0, None), (9.0, 30.0)]


def test_the_weight_of_several_packages_together_is_no_weight_of_each() -> None:
    # Data element 6313: AAD is the consignment's (D.96A: the total) gross weight, AAB that of one.
    several = read(message("CPS+1", "PAC+2++CT", "MEA+PD+AAD+KGM:20", f"GIN+BJ+{sscc(1)}+{sscc(2)}"))
    assert [c.weight_kg for c in several.manifests[0]] == [None, None]
    assert "MEA PD: 1 not used (AAD, KGM, 20)" in notes(several)
    counted = read(message("CPS+1", "PAC+2++CT", "MEA+PD+AAD+KGM:20"))
    assert [c.weight_kg for c in counted.manifests[0]] == [None, None]
    one = read(message("CPS+1", "PAC+1++CT", "MEA+PD+AAD+KGM:20", f"GIN+BJ+{sscc(1)}"))
    assert [c.weight_kg for c in one.manifests[0]] == [20.0]
    assert "MEA" not in notes(one)


def test_a_weight_of_all_packages_of_a_level_is_no_weight_of_each() -> None:
    pair = ("PAC+1++CT", f"GIN+BJ+{sscc(1)}", "PAC+1++CT", f"GIN+BJ+{sscc(2)}")
    found = read(message("CPS+1", "MEA+PD+AAD+KGM:20", *pair))
    assert [c.weight_kg for c in found.manifests[0]] == [None, None]
    assert "MEA PD: 1 not used (AAD, KGM, 20)" in notes(found)
    alone = read(message("CPS+1", "MEA+PD+AAD+KGM:20", *pair[:2]))
    assert [c.weight_kg for c in alone.manifests[0]] == [20.0]


def test_the_weight_of_the_cargo_on_a_vessel_is_no_weight_of_a_package() -> None:
    found = read(message("CPS+1", "PAC+1++CT", "MEA+AAE+ABZ+KGM:9000", f"GIN+BJ+{sscc(1)}"))
    assert found.manifests[0].cartons[0].weight_kg is None
    assert "MEA AAE: 1 not used (ABZ, KGM, 9000)" in notes(found)


def test_a_total_of_packages_that_the_message_does_not_list_is_said() -> None:
    # Data element 6069: 11 is the total number of packages.
    packs = ("CPS+1", "PAC+1++PX", f"GIN+BJ+{sscc(9)}", "CPS+2+1", "PAC+2++CT", f"GIN+BJ+{sscc(1)}+{sscc(2)}")
    warning = "CNT+11 counts 5 packages, the message lists 3 (1 that holds others)"
    assert warning in notes(read(message(*packs, "CNT+11:5")))
    for right in ("CNT+11:3", "CNT+11:2", "CNT+11:1"):
        assert "CNT" not in notes(read(message(*packs, right)))


@pytest.mark.parametrize(("unit", "value", "kg"), [("KGM", "5", 5.0), ("TNE", "0.05", 50.0), ("LBR", "10", 4.536)])
def test_units_of_weight_of_recommendation_20(unit: str, value: str, kg: float) -> None:
    found = read(message("CPS+1", "PAC+1", f"MEA+PD+AAB+{unit}:{value}", f"GIN+BJ+{sscc(1)}"))
    assert found.manifests[0].cartons[0].weight_kg == kg


def test_goods_are_in_the_package_that_their_line_names() -> None:
    one = ("LIN+1++A:SA", "QTY+12:4", "PCI+33E", f"GIN+BJ+{sscc(1)}")
    two = ("LIN+2++B:SA", "QTY+12:6", "PCI+33E", f"GIN+BJ+{sscc(2)}")
    expected = [(sscc(1), [("A", 4)]), (sscc(2), [("B", 6)])]
    found = read(message("CPS+1", *one, *two))
    assert [(c.carton, goods(c)) for c in found.manifests[0]] == expected
    named = read(message("CPS+1", "PAC+2++CT", f"GIN+BJ+{sscc(1)}+{sscc(2)}", *one, *two))
    assert [(c.carton, goods(c)) for c in named.manifests[0]] == expected


def test_a_line_in_two_packages_says_how_many_are_in_each() -> None:
    line = ("LIN+1++A:SA", "QTY+12:10", "PCI+33E", "QTY+12:7", f"GIN+BJ+{sscc(1)}", "PCI+33E", f"GIN+BJ+{sscc(2)}")
    found = read(message("CPS+1", *line))
    assert [(c.carton, goods(c)) for c in found.manifests[0]] == [(sscc(1), [("A", 7)]), (sscc(2), [("A", 3)])]


def test_two_lines_in_one_package_are_one_carton() -> None:
    one = ("LIN+1++A:SA", "QTY+12:4", "PCI+33E", f"GIN+BJ+{sscc(1)}")
    two = ("LIN+2++B:SA", "QTY+12:6", "PCI+33E", f"GIN+BJ+{sscc(1)}")
    found = read(message("CPS+1", *one, *two))
    assert [(c.carton, goods(c)) for c in found.manifests[0]] == [(sscc(1), [("A", 4), ("B", 6)])]


@pytest.mark.parametrize(
    "labels", [("GIR+3+S1:ML+S2:ML",), ("GIR+3+S1:ML", "GIR+3+S2:ML"), ("GIN+ML+S1+S2",), ("GIN+ML+S1:S2",)]
)
def test_label_numbers_name_cartons(labels: tuple[str, ...]) -> None:
    found = read(message("CPS+1", "PAC+2++BOX", "PCI+17", *labels, "LIN+1++A:IN", "QTY+12:8"))
    assert [(c.codes, goods(c)) for c in found.manifests[0]] == [(("S1",), [("A", 4)]), (("S2",), [("A", 4)])]
    assert "name no carton" not in notes(found)


def test_label_numbers_beside_ssccs_are_numbers_of_the_same_cartons() -> None:
    found = read(message("CPS+1", "PAC+2", f"GIN+BJ+{sscc(1)}+{sscc(2)}", "GIR+3+S1:ML+S2:ML"))
    assert [c.codes for c in found.manifests[0]] == [(sscc(1), "S1"), (sscc(2), "S2")]


def test_the_master_label_is_a_number_of_its_package() -> None:
    outer = ("CPS+1", "PAC+1++PALLET", "PCI+17", "RFF+AAT:M900")
    inner = ("CPS+2+1", "PAC+2++BOX", "PCI+17", "GIR+3+S1:ML+S2:ML", "LIN+1++A:IN", "QTY+12:8")
    found = read(message(*outer, *inner))
    assert [(c.codes, c.outer) for c in found.manifests[0]] == [(("M900",), ""), (("S1",), "M900"), (("S2",), "M900")]


def test_a_party_that_no_package_goes_to_is_said_to_be_left_out() -> None:
    found = read(edifact(("BGM+351+W+9", "NAD+DP+MAIN::92", "CPS+1", "LOC+7+SHOP", "PAC+1", f"GIN+BJ+{sscc(1)}")))
    assert [m.store for m in found] == ["SHOP"]
    assert "NAD DP: 1 not used (MAIN" in notes(found)


def test_levels_that_name_themselves_are_top_levels_and_none_is_lost() -> None:
    # As published notices of D.93A write it: CPS+1+1 before each package.
    packs = ("CPS+1+1", "PAC+1++34", f"GIN+BJ+{sscc(1)}", "LIN+1", "CPS+1+1", "PAC+1++34", f"GIN+BJ+{sscc(2)}", "LIN+1")
    found = read(message(*packs))
    assert [(c.carton, c.outer) for c in found.manifests[0]] == [(sscc(1), ""), (sscc(2), "")]
    assert "names a parent" not in notes(found)
    unnumbered = read(message("CPS+1+1", "PAC+1++34", "CPS+1+1", "PAC+1++34"))
    assert len(unnumbered.manifests[0].cartons) == 2


def test_ssccs_under_a_qualifier_of_another_list_are_taken_by_their_check_digit_and_said() -> None:
    found = read(message("CPS+1", "PAC+2++34", f"GIN+SS+{sscc(1)}+{sscc(2)}"))
    assert [c.carton for c in found.manifests[0]] == [sscc(1), sscc(2)]
    assert "GIN+SS: its numbers are SSCCs by their length and check digit" in notes(found)
    plain = read(message("CPS+1", "PAC+1++34", "GIN+SS+123456789012345678"))
    assert plain.manifests[0].cartons[0].codes == ()
    assert "GIN SS: 1 not used" in notes(plain)


def test_a_second_document_number_is_listed_and_changes_nothing() -> None:
    two = read(edifact(("BGM+351+W+9", "BGM+231+X+1", "NAD+DP+1::92", "CPS+1", "PAC+1", f"GIN+BJ+{sscc(1)}")))
    assert [m.shipment for m in two] == ["W"]
    assert "BGM 231: 1 not used (X, 1)" in notes(two)
    again = read(x12(("BSN*00*W*20260301*0800", "BSN*01*X", "HL*1**S", "N1*ST**92*1", "HL*2*1*P", f"MAN*GM*{sscc(1)}")))
    assert [m.shipment for m in again] == ["W"]
    assert "BSN 01: 1 not used (X)" in notes(again)


def test_a_count_of_the_packages_next_below_is_right_too() -> None:
    pallet = ("CPS+2+1", "PAC+1++201", f"GIN+BJ+{sscc(1)}", "CPS+3+2", "PAC+2++CT", f"GIN+BJ+{sscc(2)}+{sscc(3)}")
    for right in ("1", "2", "3"):
        assert "PAC declares" not in notes(read(message("CPS+1", f"PAC+{right}", *pallet)))
    assert "that the levels below list: 4 and 3" in notes(read(message("CPS+1", "PAC+4", *pallet)))


def test_a_fault_of_the_same_words_is_said_once_with_how_often() -> None:
    found = read(message("CPS+5", "PAC+3++CT", f"GIN+BJ+{sscc(1)}+{sscc(2)}+{sscc(3)}", "LIN+1++A:SA", "QTY+12:9"))
    (line,) = [str(warning) for warning in found.warnings if "share one list" in str(warning)]
    assert line.endswith("what each holds is not told apart: 3 at CPS 5 (3 times)")


@pytest.mark.parametrize("qualifier", ["BU", "VZ", "WA", "WB"])
def test_license_plates_name_cartons(qualifier: str) -> None:
    found = read(message("CPS+1", "PAC+2++BOX", f"GIN+{qualifier}+JUN123456789A1+JUN123456789A2", "LIN+1++A:IN"))
    assert [c.codes for c in found.manifests[0]] == [("JUN123456789A1",), ("JUN123456789A2",)]


# Both ---------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("text", [x12(STANDARD).decode(), edifact(DESPATCH)], ids=["x12", "edifact"])
def test_used_and_listed_are_all(text: str) -> None:
    found = read(text)
    assert found.used + found.listed + sum(left.values for left in found.unused) == values_in_notices(text)


WORD = re.compile(r"QQ[0-9]{4}")
X12_EXTRA = ("REF*LS*?", "REF*ZZ*?", "MAN*CP*?", "MAN*GM*?", "N1*SF*?", "PID*F****?", "LIN**VN*?*UP*?", "PO4*1*?*EA",
             "TD5*B*2*?*M*?", "DTM*011*?", "PRF*?", "NTE**?", "MEA*PD*G*?*LB", "SDQ*EA*92*?*4", "N1*BY*?*92*?",
             "CLD*1*4*?", "TD1*CTN*1****G*?*LB", "SLN*1**I*?", "MAN*UC*?**CP*?", "HL*9*1*P", "HL*8*1*O",
             "HL*7*8*I")  # fmt: skip
EDI_EXTRA = ("RFF+AAT:?", "RFF+ZZZ:?", "RFF+ON:?", "GIN+ML+?", "GIN+BJ+?", "GIN+SRV+?", "GIR+3+?:ML", "PCI+33E+?",
             "LIN+4++?:SA", "PIA+5+?:SA+?:IN", "PIA+1+?:NB", "IMD+F++:::?", "NAD+BY+?", "LOC+7+?", "MEA+PD+AAB+KGM:?",
             "QTY+12:?", "QTY+1:?", "PAC+1++?", "CPS+9+1", "CPS+8", "FTX+AAI+++?", "TDT+20++30++?",
             "DTM+11:?:102")  # fmt: skip


@st.composite
def with_words(draw: st.DrawFn, extra: tuple[str, ...]) -> tuple[str, ...]:
    """Segments in any order, each value of which is a word that is found again anywhere."""
    parts = draw(st.lists(st.sampled_from(extra), min_size=1, max_size=12))
    count = iter(range(10_000))
    return tuple(re.sub(r"\?", lambda _: f"QQ{next(count):04d}", part) for part in parts)


def lost(found: ManifestFile, text: str) -> list[str]:
    """The words of a text that are nowhere: not on a manifest, in no warning, and not counted as not used."""
    everything = repr(found.manifests) + notes(found)
    untold = [word for word in WORD.findall(text) if word not in everything]
    beyond_examples = sum(max(0, left.values - len(left.examples)) for left in found.unused if left.segments > 1)
    return untold[beyond_examples:]


@given(with_words(X12_EXTRA), st.integers(0, len(STANDARD) - 1))
def test_no_value_of_an_x12_notice_is_lost(extra: tuple[str, ...], at: int) -> None:
    text = x12((*STANDARD[:at], *extra, *STANDARD[at:])).decode()
    found = read(text)
    assert found.used + found.listed + sum(left.values for left in found.unused) == values_in_notices(text)
    assert not lost(found, text)


@given(with_words(EDI_EXTRA), st.integers(1, len(DESPATCH) - 1))
def test_no_value_of_a_despatch_advice_is_lost(extra: tuple[str, ...], at: int) -> None:
    text = edifact((*DESPATCH[:at], *extra, *DESPATCH[at:]))
    found = read(text)
    assert found.used + found.listed + sum(left.values for left in found.unused) == values_in_notices(text)
    assert not lost(found, text)
