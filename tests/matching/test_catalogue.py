"""What labels may say of a carton's number and of how many there are, by the manifest."""

import pytest

from receiving.matching.catalogue import Catalogue, Elsewhere, number_of, plain_text
from receiving.model import CartonKind
from tests.matching.scenes import carton, manifest

OUTER = carton("90", kind=CartonKind.OUTER)


def test_a_label_may_count_all_cartons_or_those_without_the_outer_boxes() -> None:
    trays = [carton(f"{n:02}") for n in range(1, 6)]
    assert Catalogue(manifest(*trays), Elsewhere()).totals == {None, 5}
    assert Catalogue(manifest(*trays, OUTER), Elsewhere()).totals == {None, 5, 6}


@pytest.mark.parametrize(
    ("text", "number"),
    [("0", 0), ("07", 7), ("999999999", 999_999_999), ("1000000000", None), ("", None), ("-1", None), ("٣", None)],
)
def test_an_id_of_up_to_nine_digits_is_a_number(text: str, number: int | None) -> None:
    assert number_of(text) == number


def test_gaps_and_case_that_people_leave_out_make_no_difference() -> None:
    assert plain_text("KX-01\u00a047 Straße") == plain_text("kx01 47\u202fSTRASSE") == "kx0147strasse"
