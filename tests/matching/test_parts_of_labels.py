"""Labels of which only parts can be read: the best fit far ahead of the next, or a question."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from receiving.matching import reconcile
from receiving.matching.catalogue import fits_part
from receiving.matching.observations import Candidates, Observation
from receiving.matching.resolve import _same_labels
from receiving.model import CartonKind, ContentLine, How, Outcome, OverReason, Source
from tests.matching.scenes import at, carton, manifest, read, sscc
from tests.matching.test_reconcile import names, told
from tests.spoken import in_words


def typed(number: int, text: str) -> object:
    return read(number, text, symbology="", source=Source.TYPED, barcode=text)


def test_the_last_digits_of_an_sscc_name_its_carton_when_typed() -> None:
    expected = manifest(carton("01", (1, 1)), carton("02", (1, 2)))
    result = reconcile(expected, [typed(1, str(sscc(1002))[-5:])])
    assert (names(result.received), result.received[0].how) == (["02"], How.TYPED)
    assert told(result, 1).odds is not None
    assert told(result, 1).odds > 20


def test_digits_that_two_codes_end_in_are_a_question() -> None:
    one, two = carton("01", code=0, barcode="AA-7788"), carton("02", code=0, barcode="BB-7788")
    result = reconcile(manifest(one, two), [typed(1, "7788")])
    assert [q.cartons for q in result.questions] == [("01", "02")]


def test_a_code_with_a_hole_in_it_fits_the_one_code_that_has_the_rest() -> None:
    whole = str(sscc(1002))
    expected = manifest(carton("01", (1, 1)), carton("02", (1, 2)))
    assert names(reconcile(expected, [typed(1, f"{whole[:4]}*{whole[-4:]}")]).received) == ["02"]


def test_a_symbol_is_never_taken_for_a_part_of_a_code() -> None:
    tail = str(sscc(1002))[-6:]
    result = reconcile(manifest(carton("02", (1, 2))), [read(1, barcode=tail, photo="p", label=1)])
    assert result.received == ()
    assert result.over[0].why is OverReason.NOT_A_CARTON_LABEL


def test_carton_n_of_all_cartons_names_the_carton() -> None:
    expected = manifest(*(carton(f"{n:02}", (1, n)) for n in range(1, 6)))
    result = reconcile(expected, [read(1, "CARTON 4 OF 5", symbology="", carton_n=4, carton_total=5)])
    assert names(result.received) == ["04"]
    other = reconcile(expected, [read(1, "CARTON 4 OF 9", symbology="", carton_n=4, carton_total=9)])
    assert other.received == ()


def test_the_number_on_a_torn_label_tells_two_cartons_of_one_address_apart() -> None:
    expected = manifest(carton("01", (1, 1)), carton("02", (1, 1)))
    result = reconcile(expected, [read(1, address=at(1, 1), carton_n=2, carton_total=2)])
    assert names(result.received) == ["02"]
    assert told(result, 1).outcome is Outcome.MATCHED


def test_an_item_number_in_print_names_the_carton_that_holds_it() -> None:
    holding = replace(carton("02"), contents=(ContentLine("Oak", item="TR-1200", qty=4),), kind=CartonKind.PARTS)
    result = reconcile(manifest(carton("01", (1, 1)), holding), [read(1, "ITEM TR-1200 QTY 4", symbology="")])
    assert names(result.received) == ["02"]
    by_pattern = reconcile(manifest(carton("01", (1, 1)), holding), [read(1, "x", item="tr-1200")])
    assert names(by_pattern.received) == ["02"]


def test_what_the_label_says_of_its_kind_outweighs_an_equal_address() -> None:
    header = replace(carton("03", (1, 1)), kind=CartonKind.HEADER)
    expected = manifest(carton("01", (1, 1)), carton("02", (1, 1)), header)
    torn = read(1, address=at(1, 1), kind="tray")
    assert [q.cartons for q in reconcile(expected, [torn]).questions] == [("01", "02")]


def test_one_torn_label_leaves_the_other_carton_to_the_second_when_a_photo_shows_them_apart() -> None:
    expected = manifest(carton("01", (1, 1)), carton("02", (1, 1)))
    sure = read(1, address=at(1, 1), carton_n=1, carton_total=2, photo="p", label=1)
    bare = read(2, address=at(1, 1), photo="p", label=2, x=300)
    assert names(reconcile(expected, [sure, bare]).received) == ["01", "02"]
    not_apart = reconcile(expected, [sure, read(2, address=at(1, 1), photo="q", label=2)])
    assert names(not_apart.received) == ["01"]
    assert len(not_apart.questions) == 1


def test_a_label_whose_every_word_but_the_address_is_wrong_is_asked_for() -> None:
    expected = manifest(carton("01", (1, 1)))
    result = reconcile(expected, [read(1, address=at(1, 1), kind="header")])
    assert [q.cartons for q in result.questions] == [("01",)]


def test_a_label_that_shows_only_a_kind_is_a_question_even_with_one_such_carton() -> None:
    header = replace(carton("03", (1, 3)), kind=CartonKind.HEADER)
    result = reconcile(manifest(carton("01", (1, 1)), header), [read(1, "HEADER", symbology="", kind="header")])
    assert [q.cartons for q in result.questions] == [("03",)]


def test_a_label_that_shows_only_that_it_is_an_outer_box_asks_which() -> None:
    box = replace(carton("09"), kind=CartonKind.OUTER)
    result = reconcile(manifest(carton("01", (1, 1)), box), [read(1, "OUTER", symbology="", outer=True)])
    assert [q.cartons for q in result.questions] == [("09",)]


def test_an_open_first_sticker_alone_names_no_carton_and_is_no_extra() -> None:
    result = reconcile(manifest(carton("01", (1, 1))), [read(1, "OPEN FIRST", photo="p", label=1, open_first=True)])
    assert result.extra == ()
    assert in_words(result.explanations[0]) == "An open-first sticker; it does not say of which carton"


def test_the_odds_of_an_answer_lower_the_confidence_in_its_carton() -> None:
    expected = manifest(carton("01", (1, 1)), carton("02", (1, 1)))
    sure = reconcile(expected, [read(1, sscc=sscc(1001)), read(2, address=at(1, 1))])
    assert sure.received[0].confidence == 1.0
    assert 0.95 < sure.received[1].confidence < 1.0


def test_a_photo_of_both_labels_shows_that_the_torn_one_is_the_open_carton() -> None:
    expected = manifest(carton("01", (1, 1)), carton("02", (1, 1)))
    whole = read(1, sscc=sscc(1001), address=at(1, 1), photo="p", label=1)
    beside = read(2, address=at(1, 1), photo="p", label=2, x=300)
    assert names(reconcile(expected, [whole, beside]).received) == ["01", "02"]


def test_a_torn_label_in_another_photo_than_the_whole_one_may_be_the_same_carton_and_is_asked_for() -> None:
    expected = manifest(carton("01", (1, 1)), carton("02", (1, 1)))
    whole = read(1, sscc=sscc(1001), address=at(1, 1), photo="p", label=1)
    elsewhere = read(2, address=at(1, 1), photo="q", label=1)
    result = reconcile(expected, [whole, elsewhere])
    assert names(result.received) == ["01"]
    assert [(q.cartons, q.again) for q in result.questions] == [(("02",), ("01",))]


def test_a_position_label_apart_from_a_bare_code_label_is_asked_for_while_another_carton_is_open() -> None:
    one, two = carton("01", (1, 1)), carton("02", (1, 1))
    reads = [read(1, sscc=sscc(1001), photo="p", label=1), read(2, address=at(1, 1), photo="p", label=2, x=300)]
    assert [(q.cartons, q.again) for q in reconcile(manifest(one, two), reads).questions] == [(("02",), ("01",))]
    alone = reconcile(manifest(one), reads)
    assert (alone.complete, alone.duplicates, alone.questions) == (True, (), ())


def test_a_label_that_fits_very_many_cartons_says_too_little_to_ask() -> None:
    alike = [replace(carton(f"{n:02}"), contents=(ContentLine("Oak", item="TR-1200"),)) for n in range(1, 41)]
    labels = [read(n, "ITEM TR-1200", symbology="", photo="p", label=n, x=n * 300) for n in range(1, 61)]
    result = reconcile(manifest(*alike), labels)
    assert (result.questions, result.received, result.over) == ((), (), ())
    assert [len(unclear.read_ids) for unclear in result.unclear] == [60]
    assert told(result, 1).outcome is Outcome.UNCLEAR
    assert "40 cartons fit" in in_words(told(result, 1))


@pytest.mark.parametrize(
    ("part", "fits"),
    [
        ("7788", True),
        ("aa-7788", False),
        ("AA*88", True),
        ("aa*77*88", True),
        ("aa*87*88", False),
        ("A?-77?8", True),
        ("*-77*", True),
        ("7*8*8", False),
        ("AA-7789", False),
        ("AA-77", False),
        ("A-7788", True),
    ],
)
def test_stars_and_question_marks_stand_for_what_cannot_be_read(part: str, fits: bool) -> None:
    assert fits_part("AA-7788", part) == fits


def test_a_part_made_to_be_slow_is_not() -> None:
    expected = manifest(carton("1" * 5000, code=0, barcode="a" * 5000), carton("02", code=0, barcode="ab" * 20))
    # With an expression that steps back, this runs for years.
    result = reconcile(expected, [typed(n, "*a" * n + "*b") for n in range(3, 19)])
    assert len(result.explanations) == 16


def test_plain_labels_that_say_the_same_are_never_compared_with_each_other(monkeypatch: pytest.MonkeyPatch) -> None:
    """A list of thousands that say one address made each later scan cost seconds: each was held against all others."""
    compared, apart = [], Observation.apart_from
    monkeypatch.setattr(Observation, "apart_from", lambda one, other: (compared.append(1), apart(one, other))[1])
    expected = manifest(carton("01", (1, 1)), carton("02", (1, 1)), carton("03", (1, 2)), carton("04", (1, 2)))
    reads = [read(n, address=at(1, 1 + n % 2)) for n in range(1, 201)]
    assert reconcile(expected, reads).questions
    assert len(compared) == 0
    # Of photos only those that show several labels: two labels in each of 100 photos.
    reads = [read(n, address=at(1, 1), photo=f"p{n // 2}", label=1 + n % 2, x=200 * (n % 2)) for n in range(200)]
    assert reconcile(expected, reads).questions
    assert len(compared) <= 1000


@given(st.lists(st.tuples(st.sampled_from(["", "p", "q"]), st.integers(0, 3)), max_size=9))
def test_each_look_joins_the_first_label_that_no_photo_shows_apart_from_it(looks: list[tuple[str, int]]) -> None:
    reads = [
        read(n, address=at(1, 1), photo=photo, label=label, x=200 * label) for n, (photo, label) in enumerate(looks)
    ]
    unsure = [Candidates(Observation((each,)), ("01", "02"), (1.0, 1.0), ()) for each in reads]
    wanted: list[list[Candidates]] = []
    for one in unsure:
        fits = [each for each in wanted if not any(one.observation.apart_from(o.observation) for o in each)]
        fits[0].append(one) if fits else wanted.append([one])
    assert _same_labels(unsure) == wanted
