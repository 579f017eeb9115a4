"""The codes that are read in notices against published code lists, whose names stand in edi_code_lists.json."""

import json
import re
from collections.abc import Iterable, Mapping
from pathlib import Path

import pytest

from receiving.closing import recadv, x12_861
from receiving.expected import edi_codes as codes

LISTS = json.loads((Path(__file__).parent / "edi_code_lists.json").read_text())
USED: dict[str, Iterable[str]] = {
    "X12 88": codes.SSCC_MARKS | codes.PRINTED_MARKS,
    "X12 103": codes.X12_PALLETS,
    "X12 98": codes.X12_STORE_PARTIES + codes.X12_SHIPMENT_STORE_PARTIES,
    "X12 128": codes.X12_CARTON_REFERENCES | codes.X12_REFERENCES.keys(),
    "X12 235": codes.X12_OTHER_THAN_ITEMS | set(codes.X12_ITEM_PREFERENCE),
    "X12 353": codes.X12_CANCEL | codes.X12_REPLACE,
    "X12 355": codes.X12_KILOGRAMS.keys() | codes.X12_CENTIMETRES.keys(),
    "X12 374": codes.X12_DATES,
    "X12 735": codes.PACKAGE_LEVELS,
    "EDIFACT 1153": codes.CARTON_REFERENCES | codes.REFERENCES.keys(),
    "EDIFACT 1225": codes.CANCEL | codes.REPLACE,
    "EDIFACT 2005": codes.DATES,
    "EDIFACT 3035": codes.STORE_PARTIES,
    "EDIFACT 3227": codes.PLACE_OF_DELIVERY,
    "EDIFACT 6063": (codes.DESPATCHED,),
    "EDIFACT 6069": (codes.TOTAL_UNITS, codes.LINE_COUNT, codes.PACKAGE_COUNT),
    "EDIFACT 6313": codes.GROSS_WEIGHT | codes.TOTAL_WEIGHT | codes.SIZES,
    "EDIFACT 6411": codes.RECOMMENDATION_20_KILOGRAMS.keys() | codes.RECOMMENDATION_20_CENTIMETRES.keys(),
    "EDIFACT 7143": codes.OTHER_THAN_ITEMS | set(codes.ITEM_PREFERENCE),
    "EDIFACT 7405": codes.SSCC_NUMBERS | codes.LABEL_NUMBERS,
}
MEANT: Mapping[str, tuple[Iterable[str], str]] = {
    "X12 88": (codes.SSCC_MARKS, r"SSCC-18|UCC/EAN-128"),
    "X12 103": (codes.X12_PALLETS, r"Pallet|Skid"),
    "X12 128": (codes.X12_CARTON_REFERENCES, r"Label|Package|Tracking|Bar-Coded|License Plate"),
    "X12 235": (codes.X12_ITEM_PREFERENCE, r"Item|Part|Style|SKU|EAN|U\.P\.C\.|ISBN"),
    "X12 353": (codes.X12_CANCEL, r"Cancel|Delete"),
    "X12 374": (codes.X12_DATES, r"Ship|Delivery"),
    "EDIFACT 1153": (codes.CARTON_REFERENCES, r"[Ll]abel|Package"),
    "EDIFACT 2005": (codes.DATES, r"[Dd]espatch|[Dd]elivery"),
    "EDIFACT 3035": (codes.STORE_PARTIES, r"[Cc]onsignee|Delivery|Ship to|Buyer"),
    "EDIFACT 6313": (codes.GROSS_WEIGHT | codes.TOTAL_WEIGHT, r"[Gg]ross weight|^Weight$"),
    "EDIFACT 7143": (codes.ITEM_PREFERENCE, r"article|item|part number|Article|Trade Item|UPC|ISBN"),
    "EDIFACT 7405": (codes.LABEL_NUMBERS, r"label|package|15459"),
}
"""Codes that must mean a thing of this kind: one list mistaken for another would show here."""


ADVICE: Mapping[str, tuple[Iterable[str], str]] = {
    "X12 66": (("UL", "92"), r"Global Location Number|Assigned by Buyer"),
    "X12 88": (("GM", "CA"), r"SSCC-18|Shipper-Assigned Case Number"),
    "X12 128": ((*x12_861.REFERENCES.values(), "SI"), r"Order|Lading|Carrier|Packing List|Shipment"),
    "X12 235": ((*x12_861.GTIN_QUALIFIERS.values(), "VN"), r"U\.P\.C\.|EAN|Vendor"),
    "X12 353": ((x12_861.ORIGINAL, x12_861.REPLACE), r"^Original$|^Replace$"),
    "EDIFACT 1225": ((recadv.ORIGINAL, recadv.REPLACE), r"^Original$|^Replace$"),
    "EDIFACT 1153": ((recadv.PREVIOUS,), r"^Reference number to previous message$"),
    "X12 962": ((x12_861.DOCK_ADVICE,), r"^Receiving Dock Advice$"),
    "X12 355": ({*x12_861.UNITS.values(), x12_861.CARTON}, r"Each|Piece|Set|Kit|Carton"),
    "X12 374": (("050",), r"^Received$"),
    "X12 412": ((x12_861.DAMAGED, x12_861.SHORT, x12_861.OVER), r"^Damaged|Short$|Over$"),
}
"""The codes that a receiving advice is written with."""


@pytest.mark.parametrize("element", ADVICE)
def test_a_receiving_advice_means_by_its_codes_what_published_lists_say(element: str) -> None:
    used, kind = ADVICE[element]
    for code in used:
        assert re.search(kind, LISTS[element][code]), (element, code)


def test_the_conditions_of_a_receiving_advice_are_the_right_ones_of_the_list() -> None:
    listed = LISTS["X12 412"]
    names = {
        "Damaged Product or Container": x12_861.DAMAGED,
        "Quantity Short": x12_861.SHORT,
        "Quantity Over": x12_861.OVER,
    }
    assert {listed[code]: code for code in names.values()} == names


@pytest.mark.parametrize("element", USED)
def test_every_code_is_in_a_published_list(element: str) -> None:
    assert set(USED[element]) - LISTS[element].keys() == set()


@pytest.mark.parametrize("element", MEANT)
def test_a_code_means_what_it_is_used_for(element: str) -> None:
    used, kind = MEANT[element]
    for code in used:
        assert re.search(kind, LISTS[element][code]), (code, LISTS[element][code])


def test_no_code_is_an_items_number_and_none_at_once() -> None:
    assert not codes.X12_OTHER_THAN_ITEMS & set(codes.X12_ITEM_PREFERENCE)
    assert not codes.OTHER_THAN_ITEMS & set(codes.ITEM_PREFERENCE)


X12_UNITS = {
    "Pound": 0.45359237, "Kilogram": 1.0, "Gram": 0.001, "Ounce": 0.028349523125, "Metric Ton": 1000.0,
    "Centimeter": 1.0, "Millimeter": 0.1, "Meter": 100.0, "Inch": 2.54, "Foot": 30.48, "Yard": 91.44,
}  # fmt: skip
"""Names of units in element 355, the longest word first; NIST Special Publication 811, appendix B: exact."""


@pytest.mark.parametrize(("code", "factor"), [*codes.X12_KILOGRAMS.items(), *codes.X12_CENTIMETRES.items()])
def test_a_unit_of_x12_has_the_factor_of_its_name(code: str, factor: float) -> None:
    word = LISTS["X12 355"][code].removeprefix("Actual ").partition(" -")[0]
    assert factor == X12_UNITS[word if word in X12_UNITS else word.removesuffix("s")]


def test_a_unit_of_recommendation_20_has_the_factor_that_its_annex_gives() -> None:
    listed = {code: float(conversion) for code, (_, conversion) in LISTS["EDIFACT 6411"].items()}
    for code, factor in codes.RECOMMENDATION_20_KILOGRAMS.items():
        assert factor == pytest.approx(listed[code], rel=2e-7), "annex I gives seven digits of an ounce"
    for code, factor in codes.RECOMMENDATION_20_CENTIMETRES.items():
        assert factor == pytest.approx(listed[code] * 100)
