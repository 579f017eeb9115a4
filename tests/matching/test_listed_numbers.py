"""Retail numbers listed with 8, 12, 13 or 14 digits are one number, however many digits the reader gives."""

import pytest

from receiving.matching import reconcile
from receiving.model import Claim, How, LabelRead, OverReason, RawRead, ReadAssigned, Source
from receiving.reading import interpret
from tests.matching.scenes import NOON, carton, manifest, read
from tests.matching.test_reconcile import names
from tests.spoken import in_words

# 036000291452 is the worked example of a UPC-A in the literature; its check digit is 2 (weights 3 and 1: 58 + 2 = 60).
UPC = "036000291452"


def symbol(number: int, text: str, symbology: str) -> LabelRead:
    raw = read(number, text).raw
    return interpret(RawRead(raw.read_id, raw.read_at, Source.SCANNER, text, symbology, raw.place, raw.by))


@pytest.mark.parametrize("listed", [UPC, f"0{UPC}", f"00{UPC}"])
@pytest.mark.parametrize(("text", "symbology"), [(UPC, "]E0"), (f"0{UPC}", "]E0"), (f"01{UPC:0>14}", "]C1"), (UPC, "")])
def test_a_upc_a_matches_with_12_13_or_14_digits(listed: str, text: str, symbology: str) -> None:
    expected = manifest(carton("01", code=0, barcode=listed), carton("02"))
    result = reconcile(expected, [symbol(1, text, symbology)])
    assert (names(result.received), result.received[0].how, result.over) == (["01"], How.BARCODE, ())


def test_an_ean_8_matches_with_14_digits() -> None:
    result = reconcile(manifest(carton("01", code=0, barcode="96385074")), [symbol(1, "96385074", "]E4")])
    assert names(result.received) == ["01"]
    by_gtin = reconcile(manifest(carton("01", code=0, barcode="00000096385074")), [symbol(1, "96385074", "]E4")])
    assert names(by_gtin.received) == ["01"]


def test_one_number_listed_in_two_lengths_is_one_code_on_two_cartons() -> None:
    expected = manifest(carton("01", (1, 1), code=0, barcode=UPC), carton("02", (1, 2), code=0, barcode=f"0{UPC}"))
    assert [q.cartons for q in reconcile(expected, [symbol(1, f"0{UPC}", "]E0")]).questions] == [("01", "02")]


def test_numbers_of_other_lengths_keep_their_zeros() -> None:
    result = reconcile(manifest(carton("01", code=0, barcode="12345")), [symbol(1, "0012345", "")])
    assert names(result.received) == []


def test_a_stray_is_found_on_another_shipment_that_lists_it_with_12_digits() -> None:
    other = manifest(carton("07", code=0, barcode=UPC), shipment="SH-2", store="0422")
    result = reconcile(manifest(carton("01", (1, 1))), [symbol(1, f"0{UPC}", "]E0")], others=[other])
    assert [(over.why, over.carton) for over in result.over] == [(OverReason.OTHER_STORE, "07")]


def test_a_carton_that_a_person_names_is_here_by_its_number_whatever_its_length() -> None:
    one = symbol(1, f"0{UPC}", "]E0")
    assert one.claim == Claim(barcode=f"0{UPC}", gtin=f"00{UPC}")
    said = ReadAssigned("n1", NOON, "Ana", one.read_id, "01")
    result = reconcile(manifest(carton("01", code=0, barcode=UPC)), [one], [said])
    assert result.received[0].how is How.BARCODE


def test_a_wrong_check_digit_that_label_and_manifest_share_is_received_with_a_warning() -> None:
    expected = manifest(carton("01", code=0, barcode="395200000000000199"))
    result = reconcile(expected, [symbol(1, "00395200000000000199", "]C1")])
    assert names(result.received) == ["01"]
    assert in_words(result.explanations[0]).endswith(
        "on the manifest, though SSCC '395200000000000199' has check digit 9; its first 17 digits give 7"
    )
