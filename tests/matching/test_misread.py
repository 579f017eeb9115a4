"""SSCCs with a wrong check digit are explained, never counted, and held against the carton that was meant."""

import pytest

from receiving.matching import reconcile
from receiving.matching.catalogue import one_slip_apart
from receiving.model import LabelRead, Outcome, OverReason, RawRead, ReadAssigned, Source
from receiving.reading import interpret
from tests.matching.scenes import NOON, at, carton, manifest, read, sscc
from tests.matching.test_reconcile import names, told
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
    assert (told(result, 1).outcome, in_words(told(result, 1))) == (Outcome.OVER, WRONG)


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
    assert (result.over, told(result, 1).outcome) == ((), Outcome.QUESTION)


def test_the_answer_of_a_person_brings_the_carton() -> None:
    expected, typed = manifest(carton("07", (1, 2))), entered(1, mistyped(1007))
    result = reconcile(expected, [typed], [ReadAssigned("n1", NOON, "Ana", typed.read_id, "07")])
    assert (names(result.received), result.questions) == (["07"], ())


def test_digits_one_slip_away_from_a_carton_that_is_here_are_explained_by_their_fault_alone() -> None:
    typed = entered(2, mistyped(1007))
    result = reconcile(manifest(carton("07", (1, 2))), [read(1, sscc=sscc(1007)), typed])
    assert (result.complete, result.questions) == (True, ())
    assert in_words(told(result, 2)) == " ".join(map(str, typed.claim.warnings))


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
