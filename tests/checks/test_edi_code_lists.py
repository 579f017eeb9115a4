"""The codes that are read in notices against published code lists, whose names stand in edi_code_lists.json."""

import json
import re
from collections.abc import Iterable, Mapping
from pathlib import Path

import pytest

from receiving.expected import edi_codes as codes

LISTS = json.loads((Path(__file__).parent / "edi_code_lists.json").read_text())
USED: dict[str, Iterable[str]] = {
    "X12 88": codes.SSCC_MARKS | codes.PRINTED_MARKS,
    "X12 98": codes.X12_STORE_PARTIES + codes.X12_SHIPMENT_STORE_PARTIES,
    "X12 128": codes.X12_CARTON_REFERENCES | codes.X12_REFERENCES.keys(),
    "X12 235": codes.X12_OTHER_THAN_ITEMS | set(codes.X12_ITEM_PREFERENCE),
    "X12 353": codes.X12_CANCEL | codes.X12_REPLACE,
    "X12 374": codes.X12_DATES,
    "X12 735": codes.PACKAGE_LEVELS,
    "EDIFACT 1153": codes.CARTON_REFERENCES | codes.REFERENCES.keys(),
    "EDIFACT 1225": codes.CANCEL | codes.REPLACE,
    "EDIFACT 2005": codes.DATES,
    "EDIFACT 3035": codes.STORE_PARTIES,
    "EDIFACT 3227": codes.PLACE_OF_DELIVERY,
    "EDIFACT 6313": codes.GROSS_WEIGHT,
    "EDIFACT 7143": codes.OTHER_THAN_ITEMS | set(codes.ITEM_PREFERENCE),
    "EDIFACT 7405": codes.SSCC_NUMBERS | codes.LABEL_NUMBERS,
}
MEANT: Mapping[str, tuple[Iterable[str], str]] = {
    "X12 88": (codes.SSCC_MARKS, r"SSCC-18|UCC/EAN-128"),
    "X12 128": (codes.X12_CARTON_REFERENCES, r"Label|Package|Tracking|Bar-Coded|License Plate"),
    "X12 235": (codes.X12_ITEM_PREFERENCE, r"Item|Part|Style|SKU|EAN|U\.P\.C\.|ISBN"),
    "X12 353": (codes.X12_CANCEL, r"Cancel|Delete"),
    "X12 374": (codes.X12_DATES, r"Ship|Delivery"),
    "EDIFACT 1153": (codes.CARTON_REFERENCES, r"[Ll]abel|Package"),
    "EDIFACT 6313": (codes.GROSS_WEIGHT, r"[Gg]ross weight"),
    "EDIFACT 7143": (codes.ITEM_PREFERENCE, r"article|item|part number|Article|Trade Item|UPC|ISBN"),
    "EDIFACT 7405": (codes.LABEL_NUMBERS, r"label|package|15459"),
}
"""Codes that must mean a thing of this kind: one list mistaken for another would show here."""


@pytest.mark.parametrize("element", USED)
def test_every_code_is_in_a_published_list_or_said_to_be_from_memory(element: str) -> None:
    remembered = set(codes.FROM_MEMORY.get(element, ()))
    assert set(USED[element]) - LISTS.get(element, {}).keys() == remembered


@pytest.mark.parametrize("element", MEANT)
def test_a_code_means_what_it_is_used_for(element: str) -> None:
    used, kind = MEANT[element]
    for code in set(used) - set(codes.FROM_MEMORY.get(element, ())):
        assert re.search(kind, LISTS[element][code]), (code, LISTS[element][code])


def test_no_code_is_an_items_number_and_none_at_once() -> None:
    assert not codes.X12_OTHER_THAN_ITEMS & set(codes.X12_ITEM_PREFERENCE)
    assert not codes.OTHER_THAN_ITEMS & set(codes.ITEM_PREFERENCE)
