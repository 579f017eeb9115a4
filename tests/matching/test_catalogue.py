"""What labels may say of a carton's number and of how many there are, by the manifest.

How large a carton looks beside the others tells torn labels apart; it never outweighs a code.
"""

from dataclasses import replace
from datetime import timedelta
from itertools import pairwise
from math import exp

import pytest
from hypothesis import given
from hypothesis import strategies as st

from receiving.matching import reconcile
from receiving.matching.catalogue import SPREAD, Catalogue, Elsewhere, Sizes, _above, number_of, plain_text
from receiving.model import Carton, CartonKind, Manifest, NoteWithdrawn, Outcome, SizeClass, SizeStated
from tests.matching.scenes import NOON, at, carton, manifest, read, sscc
from tests.matching.test_reconcile import explanation_of, names
from tests.spoken import in_words

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


SMALL, LARGE, LONG = SizeClass.SMALL, SizeClass.LARGE, SizeClass.LONG


def sized(name: str, edges: tuple[float, float, float], *cells: tuple[int, int]) -> Carton:
    return replace(carton(name, *cells), length_cm=edges[0], width_cm=edges[1], height_cm=edges[2])


def cube(name: str, edge_cm: float, *cells: tuple[int, int]) -> Carton:
    return sized(name, (edge_cm, edge_cm, edge_cm), *cells)


def size_stated(number: int, size: SizeClass, note: str = "n1", minute: int = 0) -> SizeStated:
    read_id = read(number, sscc=sscc(1)).read_id
    return SizeStated(note, NOON + timedelta(minutes=minute), "Ana", read_id, size)


TWO = manifest(cube("01", 20, (1, 1)), cube("02", 45, (1, 1)), cube("03", 44, (1, 2)))


def test_the_classes_are_cut_at_the_widest_gaps_of_the_manifest() -> None:
    assert Sizes.of(TWO).classes == (SMALL, LARGE)
    assert Sizes.of(TWO).cuts_cm == (pytest.approx((20 * 44) ** 0.5),)
    three = manifest(*(cube(f"{n:02}", edge) for n, edge in enumerate((10, 11, 20, 21, 40, 52), 1)))
    assert Sizes.of(three).cuts_cm == (pytest.approx((11 * 20) ** 0.5), pytest.approx((21 * 40) ** 0.5))


def test_cartons_that_look_alike_have_no_classes() -> None:
    assert Sizes.of(manifest(cube("01", 40), cube("02", 44), cube("03", 48))).classes == ()
    assert Sizes.of(manifest(carton("01"), carton("02"))).classes == ()


def test_a_long_carton_is_long_before_all_else() -> None:
    sizes = Sizes.of(manifest(cube("01", 40), sized("02", (180, 20, 15))))
    assert sizes.classes == (SizeClass.MEDIUM, LONG)
    assert sizes.chance(LONG, sized("03", (180, 20, 15))) > 0.95
    assert sizes.chance(LONG, cube("04", 40)) < 0.05


@pytest.mark.parametrize(
    ("deviations", "chance"), [(0.0, 0.5), (0.5, 0.6915), (1.0, 0.8413), (2.0, 0.9772), (-1.0, 0.1587)]
)
def test_a_glance_errs_as_the_normal_distribution_says(deviations: float, chance: float) -> None:
    """Of the logarithm of the edge, with `SPREAD` as its standard deviation; cumulative normal from memory."""
    assert _above(40 * exp(deviations * SPREAD), 40) == pytest.approx(chance, abs=5e-5)


edges = st.floats(1, 300)

boxes = st.tuples(edges, edges, edges)


@given(st.lists(boxes, min_size=1, max_size=8), boxes)
def test_the_chances_of_all_classes_sum_to_one(sizes_cm: list[tuple[float, float, float]], one: object) -> None:
    sizes = Sizes.of([sized(f"{n:02}", edges) for n, edges in enumerate(sizes_cm, 1)])
    chances = [sizes.chance(each, sized("99", one)) for each in sizes.classes]  # type: ignore[arg-type]
    assert all(0 < chance <= 1 for chance in chances)
    assert not chances or sum(chances) == pytest.approx(1)
    assert all(one < two for one, two in pairwise(sizes.cuts_cm))


def test_a_torn_label_on_a_large_carton_is_the_large_one_of_its_place() -> None:
    torn = read(1, address=at(1, 1), photo="p", label=1)
    asked = reconcile(TWO, [torn])
    assert [(q.cartons, q.sizes, q.size) for q in asked.questions] == [(("01", "02"), (SMALL, LARGE), None)]
    result = reconcile(TWO, [torn], [size_stated(1, LARGE)])
    assert (names(result.received), result.questions) == (["02"], ())
    assert "on a large carton" in in_words(explanation_of(result, 1))
    assert explanation_of(result, 1).odds is not None


def test_of_two_sizes_the_later_counts_and_one_taken_back_does_not() -> None:
    torn = read(1, address=at(1, 1), photo="p", label=1)
    notes = [size_stated(1, LARGE, "n1"), size_stated(1, SMALL, "n2", minute=1)]
    assert names(reconcile(TWO, [torn], notes).received) == ["01"]
    back = NoteWithdrawn("n3", NOON + timedelta(hours=1), "Ana", "n2")
    assert names(reconcile(TWO, [torn], [*notes, back]).received) == ["02"]


def test_sizes_close_to_each_other_leave_the_question_open() -> None:
    near = manifest(cube("01", 30, (1, 1)), cube("02", 38, (1, 1)))
    result = reconcile(near, [read(1, address=at(1, 1))], [size_stated(1, LARGE)])
    assert [(q.cartons, q.sizes, q.size) for q in result.questions] == [(("01", "02"), (SMALL, LARGE), LARGE)]


def test_cartons_of_one_size_are_not_asked_about_by_size() -> None:
    alike = manifest(cube("01", 45, (1, 1)), cube("02", 46, (1, 1)), cube("03", 15, (1, 2)))
    assert reconcile(alike, [read(1, address=at(1, 1))]).questions[0].sizes == ()


def test_a_size_never_outweighs_a_code() -> None:
    result = reconcile(TWO, [read(1, sscc=sscc(1001))], [size_stated(1, LARGE)])
    assert names(result.received) == ["01"]
    assert explanation_of(result, 1).outcome is Outcome.MATCHED


def test_a_size_printed_on_the_label_counts_as_one_that_was_said() -> None:
    result = reconcile(TWO, [read(1, address=at(1, 1), size=SMALL)])
    assert names(result.received) == ["01"]


def test_a_size_alone_points_to_no_carton() -> None:
    result = reconcile(TWO, [read(1, "SIZE L", symbology="", size=LARGE, photo="p", label=1)])
    assert (names(result.received), result.questions) == ([], ())


@given(st.sampled_from(list(SizeClass)), st.integers(1, 3))
def test_whatever_is_said_every_carton_has_one_state(size: SizeClass, row: int) -> None:
    expected: Manifest = TWO
    result = reconcile(
        expected, [read(1, address=at(1, row)), read(2, kind="tray")], [size_stated(1, size), size_stated(2, size)]
    )
    assert len(result.cartons) == 3
    assert len(result.explanations) == 2


def test_a_size_tells_a_carton_of_ours_from_a_visitor_of_the_same_place() -> None:
    ours = manifest(cube("01", 20, (1, 1)), cube("02", 45, (1, 2)))
    theirs = Manifest("SH-2", "0422", (cube("31", 45, (1, 1)), cube("32", 45, (2, 2))))
    over_read = read(9, sscc=theirs.cartons[1].sscc)
    torn = read(1, address=at(1, 1), photo="p", label=1)
    asked = reconcile(ours, [over_read, torn], others=[theirs])
    assert [(q.cartons, q.sizes) for q in asked.questions] == [(("01",), (SMALL, LARGE))]
    result = reconcile(ours, [over_read, torn], [size_stated(1, SMALL)], others=[theirs])
    assert (names(result.received), result.questions) == (["01"], ())
    other = reconcile(ours, [over_read, torn], [size_stated(1, LARGE)], others=[theirs])
    assert names(other.received) == []


def test_a_size_alone_makes_no_over_of_a_label_but_asks() -> None:
    ours = manifest(cube("01", 20, (1, 1)), cube("02", 80, (1, 2)))
    theirs = Manifest("SH-2", "0422", (cube("31", 80, (1, 1)), cube("32", 80, (2, 2))))
    reads = [read(9, sscc=theirs.cartons[1].sscc), read(1, address=at(1, 1), photo="p", label=1)]
    result = reconcile(ours, reads, [size_stated(1, LARGE)], others=[theirs])
    assert [(q.cartons, q.size) for q in result.questions] == [(("01",), LARGE)]
    assert [over.read_ids for over in result.extra] == [(reads[0].read_id,)]
