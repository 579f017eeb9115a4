"""SSCCs with a wrong check digit are explained, never counted, and held against the carton that was meant.

A blurred label that may be one of several expected cartons: the photo may rule some out; else a person is asked.
"""

import pytest

from receiving.matching import reconcile
from receiving.matching.catalogue import one_slip_apart
from receiving.model import (
    CartonState,
    How,
    LabelRead,
    Outcome,
    OverReason,
    RawRead,
    ReadAssigned,
    Reconciliation,
    Source,
)
from receiving.reading import interpret
from tests.matching.scenes import NOON, at, carton, manifest, read, sscc
from tests.matching.test_reconcile import explanation_of, names
from tests.spoken import in_words


def entered(number: int, text: str, symbology: str = "", source: Source = Source.TYPED) -> LabelRead:
    """What a person typed, or a scanner sent, as the reading room understands it."""
    raw = read(number, text).raw
    return interpret(RawRead(raw.read_id, raw.read_at, source, text, symbology, raw.place, raw.by))


def mistyped(code: int, place: int = -1) -> str:
    digits = list(str(sscc(code)))
    digits[place] = str((int(digits[place]) + 5) % 10)
    return "".join(digits)


# 9 and 2 weigh three, 5 weighs one: 27 + 5 + 6 = 38, and 2 makes it 40.
FAR = "952000000000000000"

WRONG = f"SSCC '{FAR}' has check digit 0; its first 17 digits give 2: retype or scan again."


@pytest.mark.parametrize(
    ("text", "symbology"),
    [(FAR, ""), (f"00{FAR}", ""), (f"(00){FAR}", ""), (f"00{FAR}", "]C1"), (f"9520 {FAR[4:]}", "")],
)
def test_an_sscc_with_a_wrong_check_digit_is_explained_by_that_and_is_no_extra_carton(
    text: str, symbology: str
) -> None:
    result = reconcile(manifest(carton("01", (1, 1))), [entered(1, text, symbology)])
    assert [(over.why, in_words(over)) for over in result.over] == [(OverReason.NOT_A_CARTON_LABEL, WRONG)]
    assert (result.extra, result.questions) == ((), ())
    assert (explanation_of(result, 1).outcome, in_words(explanation_of(result, 1))) == (Outcome.OVER, WRONG)


@pytest.mark.parametrize("place", [0, 4, 16, 17])
def test_digits_one_slip_away_from_an_open_carton_are_a_question_and_no_match(place: int) -> None:
    expected = manifest(carton("01", (1, 1)), carton("07", (1, 2), code=5007))
    result = reconcile(expected, [entered(1, mistyped(5007, place))])
    assert names(result.received) == []
    assert [q.cartons for q in result.questions] == [("07",)]
    prompt = in_words(result.questions[0])
    assert prompt.startswith(f"SSCC '{mistyped(5007, place)}' has check digit ")
    assert prompt.endswith(
        ": retype or scan again. An SSCC of the manifest is one slip away. Is it carton 07, or none of this shipment?"
    )
    assert (result.over, explanation_of(result, 1).outcome) == ((), Outcome.QUESTION)


def test_the_answer_of_a_person_brings_the_carton() -> None:
    expected, typed = manifest(carton("07", (1, 2))), entered(1, mistyped(1007))
    result = reconcile(expected, [typed], [ReadAssigned("n1", NOON, "Ana", typed.read_id, "07")])
    assert (names(result.received), result.questions) == (["07"], ())


def test_digits_one_slip_away_from_a_carton_that_is_here_are_explained_by_their_fault_alone() -> None:
    typed = entered(2, mistyped(1007))
    result = reconcile(manifest(carton("07", (1, 2))), [read(1, sscc=sscc(1007)), typed])
    assert (result.complete, result.questions) == (True, ())
    assert in_words(explanation_of(result, 2)) == " ".join(map(str, typed.claim.warnings))


def test_digits_between_two_serial_numbers_ask_for_the_open_ones_of_the_two() -> None:
    one, two = str(sscc(1001)), str(sscc(1002))
    between = two[:17] + one[17]
    expected = manifest(carton("01", (1, 1)), carton("02", (1, 2)))
    assert [q.cartons for q in reconcile(expected, [entered(1, between)]).questions] == [("01", "02")]
    result = reconcile(expected, [entered(1, between), read(2, sscc=sscc(1001))])
    assert [q.cartons for q in result.questions] == [("02",)]
    assert in_words(result.questions[0]).endswith("Is it carton 02, carton 01 seen again, or none of this shipment?")


def test_one_slip_made_twice_is_one_question() -> None:
    result = reconcile(manifest(carton("07", (1, 2))), [entered(n, mistyped(1007)) for n in (1, 2)])
    assert [len(q.read_ids) for q in result.questions] == [2]


def test_a_digit_too_many_or_too_few_is_a_slip_as_well() -> None:
    code = str(sscc(1007))
    expected = manifest(carton("07", (1, 2)), carton("08", (1, 3)))
    for slip in (code[:9] + code[10:], code[:9] + "5" + code[9:]):
        result = reconcile(expected, [entered(1, slip)])
        assert [q.cartons for q in result.questions] == [("07",)], slip
        assert in_words(result.questions[0]).startswith(f"{slip} is not an SSCC, which has 18 digits.")


def test_a_position_on_the_label_decides_where_it_agrees_and_is_asked_for_where_it_does_not() -> None:
    expected = manifest(carton("01", (1, 1)), carton("07", (1, 2)))
    faulty = entered(1, f"00{mistyped(1007)}", "]C1").claim.warnings
    label = {"photo": "p", "label": 1}
    bad = read(1, f"00{mistyped(1007)}", elements=(("00", mistyped(1007)),), warnings=faulty, **label)  # type: ignore[arg-type]
    agrees = reconcile(expected, [bad, read(2, address=at(1, 2), **label)])  # type: ignore[arg-type]
    assert names(agrees.received) == ["07"]
    differs = reconcile(expected, [bad, read(2, address=at(1, 1), **label)])  # type: ignore[arg-type]
    assert [q.cartons for q in differs.questions] == [("07", "01")]


def test_a_misprinted_symbol_beside_a_right_one_of_its_label_changes_nothing() -> None:
    label = {"photo": "p", "label": 1}
    bad = read(1, f"00{mistyped(1007)}", elements=(("00", mistyped(1007)),), warnings=("wrong",), **label)  # type: ignore[arg-type]
    result = reconcile(manifest(carton("07", (1, 2))), [bad, read(2, sscc=sscc(1007), **label)])  # type: ignore[arg-type]
    assert (result.complete, result.questions) == (True, ())


@pytest.mark.parametrize(
    ("typed", "apart"),
    [
        ("3952", False),
        ("3953", True),
        ("395", True),
        ("39522", True),
        ("952", True),
        ("3592", True),
        ("9352", True),
        ("3925", True),
        ("5932", False),
        ("39", False),
        ("3963", False),
        ("93520", False),
    ],
)
def test_one_slip_is_one_wrong_missing_added_or_two_swapped(typed: str, apart: bool) -> None:
    assert one_slip_apart(typed, "3952") == apart
    assert one_slip_apart("3952", typed) == apart


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
