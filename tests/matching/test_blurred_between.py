"""A blurred label that may be one of several expected cartons: the photo may rule some out; else a person is asked."""

import pytest

from receiving.matching import reconcile
from receiving.model import CartonState, How, LabelRead, Reconciliation
from tests.matching.scenes import carton, manifest, read, sscc

FOUR = manifest(*(carton(f"{n:02}", (n, 1)) for n in range(1, 5)))


def clear(n: int, photo: str = "p", label: int = 1, x: float = 500.0) -> LabelRead:
    """The whole label of carton ``n``, elsewhere in a photo than the blurred one."""
    return read(100 + n, sscc=sscc(1000 + n), photo=photo, label=label, x=x)


def blurred(*cartons: int, photo: str = "p", number: int = 1, label: int = 9) -> LabelRead:
    """A guided read that cannot tell these cartons apart."""
    first, *others = cartons
    return read(
        number, sscc=sscc(1000 + first), photo=photo, label=label, guided=True,
        alternatives=tuple(f"00{sscc(1000 + n)}" for n in others),
    )  # fmt: skip


def received(found: Reconciliation) -> dict[str, How]:
    return {f.carton.carton: f.how for f in found.cartons if f.state is CartonState.RECEIVED and f.how}


@pytest.mark.parametrize(("seen", "left"), [(1, "02"), (2, "01")])
def test_of_two_the_one_that_is_elsewhere_in_the_photo_is_ruled_out(seen: int, left: str) -> None:
    found = reconcile(FOUR, [clear(seen), blurred(1, 2)])
    assert received(found) == {f"{seen:02}": How.SSCC, left: How.GUIDED}
    assert found.questions == ()


@pytest.mark.parametrize(("seen", "other"), [("01", "02"), ("02", "01")])
def test_one_that_is_on_another_photo_is_not_ruled_out(seen: str, other: str) -> None:
    """The same label may be seen clearly on one photo and blurred on the next."""
    found = reconcile(FOUR, [clear(int(seen), photo="q"), blurred(1, 2)])
    assert received(found) == {seen: How.SSCC}
    (question,) = found.questions
    assert (question.cartons, question.again) == ((other,), (seen,))


def test_of_three_with_one_ruled_out_the_other_two_are_asked_about() -> None:
    found = reconcile(FOUR, [clear(1), blurred(1, 2, 3)])
    assert received(found) == {"01": How.SSCC}
    (question,) = found.questions
    assert set(question.cartons) >= {"02", "03"}


def test_of_three_with_two_ruled_out_the_third_is_here() -> None:
    found = reconcile(FOUR, [clear(1), clear(3, label=2, x=900), blurred(1, 2, 3)])
    assert received(found) == {"01": How.SSCC, "03": How.SSCC, "02": How.GUIDED}
    assert found.questions == ()


def test_a_blurred_look_at_cartons_that_are_all_here_adds_none_and_asks_nothing() -> None:
    found = reconcile(FOUR, [clear(1), clear(2, label=2, x=900), blurred(1, 2)])
    assert received(found) == {"01": How.SSCC, "02": How.SSCC}
    assert found.questions == () and found.over == ()


def test_nothing_known_is_one_question_for_all_looks_at_the_label() -> None:
    found = reconcile(FOUR, [blurred(1, 2), blurred(1, 2, photo="q", number=2)])
    assert received(found) == {}
    (question,) = found.questions
    assert question.cartons == ("01", "02")
    assert len(question.read_ids) == 2


def test_two_blurred_labels_are_two_questions() -> None:
    found = reconcile(FOUR, [blurred(1, 2), blurred(3, 4, number=2, label=8)])
    assert sorted(question.cartons for question in found.questions) == [("01", "02"), ("03", "04")]


def test_a_guided_read_that_fits_one_carton_alone_receives_it() -> None:
    found = reconcile(FOUR, [blurred(3)])
    assert received(found) == {"03": How.GUIDED}


@pytest.mark.parametrize(("cartons", "asked"), [(6, True), (7, False)])
def test_a_question_has_at_most_six_answers(cartons: int, asked: bool) -> None:
    many = manifest(*(carton(f"{n:02}", (n, 1)) for n in range(1, 9)))
    found = reconcile(many, [blurred(*range(1, cartons + 1))])
    assert bool(found.questions) == asked
    assert received(found) == {}
