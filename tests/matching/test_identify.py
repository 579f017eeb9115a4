"""Labels of which only parts can be read: the best fit far ahead of the next, or a question.

What a person means by what he types on this manifest; asked where it is unclear, and nothing to sign where it fits
nothing.

Retail numbers listed with 8, 12, 13 or 14 digits are one number, however many digits the reader gives.
"""

import random
from dataclasses import replace
from uuid import UUID

import pytest
from hypothesis import given
from hypothesis import strategies as st

from receiving.matching import reconcile
from receiving.matching.catalogue import fits_part
from receiving.matching.observations import Candidates, Observation
from receiving.matching.resolve import _same_labels
from receiving.model import (
    CartonKind,
    Claim,
    ContentLine,
    How,
    LabelRead,
    Outcome,
    OverReason,
    Place,
    RawRead,
    ReadAssigned,
    Reconciliation,
    Source,
)
from receiving.reading import default_patterns, interpret
from tests.matching.scenes import NOON, at, carton, manifest, read, sscc
from tests.matching.test_reconcile import explanation_of, names
from tests.spoken import in_words


def typed(number: int, text: str) -> object:
    return read(number, text, symbology="", source=Source.TYPED, barcode=text)


def test_the_last_digits_of_an_sscc_name_its_carton_when_typed() -> None:
    expected = manifest(carton("01", (1, 1)), carton("02", (1, 2)))
    result = reconcile(expected, [typed(1, str(sscc(1002))[-5:])])
    assert (names(result.received), result.received[0].how) == (["02"], How.TYPED)
    assert explanation_of(result, 1).odds is not None
    assert explanation_of(result, 1).odds > 20


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
    assert explanation_of(result, 1).outcome is Outcome.MATCHED


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
    assert explanation_of(result, 1).outcome is Outcome.UNCLEAR
    assert "40 cartons fit" in in_words(explanation_of(result, 1))


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


CARTONS = manifest(
    *(carton(f"{n:02}", ((n - 1) // 4 + 1, (n - 1) % 4 + 1)) for n in range(1, 14)),
    carton("14", code=0, barcode="KX-0147"),
)


def entered(number: int, text: str, source: Source = Source.TYPED) -> LabelRead:
    raw = read(number, text).raw
    return interpret(RawRead(raw.read_id, raw.read_at, source, text, "", raw.place, raw.by), default_patterns())


def result_of(*texts: str) -> Reconciliation:
    return reconcile(CARTONS, [entered(n, text) for n, text in enumerate(texts, 1)])


@pytest.mark.parametrize("text", ["13", "013", "carton 13", "Carton 013", "box 13", "#13", " 13 "])
def test_a_cartons_number_is_that_carton_however_it_is_typed(text: str) -> None:
    assert names(result_of(text).received) == ["13"]


@pytest.mark.parametrize("text", ["2-3", "2/3", "2.3", "c2 r3", "col 2 row 3", "C2-R3"])
def test_column_and_row_are_the_carton_that_goes_there(text: str) -> None:
    assert names(result_of(text).received) == ["07"]


def test_n_of_all_cartons_with_a_slash_is_that_carton_and_no_place() -> None:
    assert names(result_of("3/14").received) == ["03"]


@pytest.mark.parametrize("form", ["SSCC {}", "sscc: {}", "SSCC (00){}", "(00) {}", "00{}"])
def test_an_sscc_is_understood_with_the_word_before_it(form: str) -> None:
    assert names(result_of(form.format(sscc(1005))).received) == ["05"]


@pytest.mark.parametrize("text", ["kx-0147", "KX0147", "kx 0147"])
def test_a_barcode_is_understood_without_its_case_and_its_hyphen(text: str) -> None:
    assert names(result_of(text).received) == ["14"]


@pytest.mark.parametrize("text", ["KX-0174", "KX-047", "KX-01477", "KX-0148"])
def test_a_barcode_with_one_slip_is_asked_about(text: str) -> None:
    result = result_of(text)
    assert (names(result.received), [q.cartons for q in result.questions]) == ([], [("14",)])


def test_a_slip_near_cartons_that_are_all_here_is_told_by_what_was_typed() -> None:
    expected = manifest(carton("14", (1, 1), barcode="KX-0147"), carton("15", (1, 2), barcode="KX-0158"))
    sure = [read(n, code, symbology="]E0", barcode=code) for n, code in ((1, "KX-0147"), (2, "KX-0158"))]
    typed = LabelRead(RawRead(str(UUID(int=3)), NOON, Source.TYPED, "KX-0174", "", Place.DOCK, "Ana"), Claim())
    result = reconcile(expected, [*sure, typed])
    assert (names(result.received), result.questions) == (["14", "15"], ())
    assert "KX-0174" in in_words(explanation_of(result, 3))


@pytest.mark.parametrize(
    "text", ["helo", "COL 9", "99", "COL 8 RO", "carton 99", "col 9 row 9", "store 0417", "KX-9", "12-1"]
)
def test_what_fits_nothing_is_not_understood_and_nobody_signs_for_it(text: str) -> None:
    result = result_of(text)
    assert (result.received, result.extra, result.over, result.questions) == ((), (), (), ())
    assert explanation_of(result, 1).outcome is Outcome.UNCLEAR
    assert [unclear.read_ids for unclear in result.unclear] == [(explanation_of(result, 1).read_id,)]


def test_a_person_may_note_what_is_not_understood_as_an_extra_carton() -> None:
    typed = entered(1, "a box with blue tape")
    result = reconcile(CARTONS, [typed], [ReadAssigned("n1", NOON, "Ana", typed.read_id, "")])
    assert [over.raw for over in result.extra] == ["a box with blue tape"]


def test_a_number_that_is_a_carton_and_a_place_is_asked_about() -> None:
    expected = manifest(carton("1-2", (3, 3), code=1), carton("02", (1, 2)))
    result = reconcile(expected, [entered(1, "1-2")])
    assert (names(result.received), [q.cartons for q in result.questions]) == ([], [("02", "1-2")])


def test_an_unknown_sscc_whose_check_digit_holds_is_an_extra_carton() -> None:
    assert len(result_of(str(sscc(777_777))).extra) == 1


def test_a_number_on_the_manifest_receives_its_carton_though_its_check_digit_is_wrong() -> None:
    wrong = str(sscc(1007))[:17] + str((int(str(sscc(1007))[17]) + 1) % 10)
    expected = manifest(carton("01", code=0, barcode=wrong), carton("02", (1, 1)))
    for text in (wrong, f"00{wrong}", f"(00){wrong}"):
        result = reconcile(expected, [entered(1, text)])
        assert names(result.received) == ["01"], text
        assert "check digit" in in_words(result.received[0])


def test_two_codes_that_differ_by_a_swap_are_asked_about() -> None:
    one, two = "095200000000010165", "095200000000010615"
    expected = manifest(carton("01", code=0, barcode=one), carton("02", code=0, barcode=two))
    result = reconcile(expected, [entered(1, one)])
    assert (names(result.received), [q.cartons for q in result.questions]) == ([], [("01", "02")])


def test_no_slip_in_a_sequence_of_ssccs_receives_a_wrong_carton() -> None:
    rng = random.Random("slips")
    expected = manifest(*(carton(f"{n:02}", code=880_100 + n) for n in range(1, 41)))
    for _ in range(300):
        n = rng.randrange(1, 41)
        code = str(sscc(880_100 + n))
        at, digit = rng.randrange(17), rng.choice("0123456789")
        for text in (
            code[:at] + digit + code[at + 1 :],
            code[:at] + code[at + 1 :],
            code[:at] + digit + code[at:],
            code[:at] + code[at + 1] + code[at] + code[at + 2 :],
        ):
            result = reconcile(expected, [entered(1, text)])
            assert set(names(result.received)) <= {f"{n:02}"}, text
            asked = [question.cartons for question in result.questions]
            assert result.received or f"{n:02}" in asked[0], text
            assert result.extra == ()


def test_an_item_number_alone_receives_no_carton_where_the_item_is_in_several() -> None:
    from dataclasses import replace

    from receiving.model import ContentLine

    both = [replace(carton(n), contents=(ContentLine("Oak", item="TR-1200"),)) for n in ("01", "02")]
    expected = manifest(*both, carton("03", (1, 1)))
    result = reconcile(expected, [entered(1, "TR-1200")])
    assert (names(result.received), [q.cartons for q in result.questions]) == ([], [("01", "02")])
    known = reconcile(expected, [read(9, sscc=sscc(1001)), entered(1, "tr-1200")])
    assert names(known.received) == ["01"]
    assert [(q.cartons, q.again) for q in known.questions] == [(("02",), ("01",))]


@pytest.mark.parametrize("form", ["{}", "00{}", "(00){}", "SSCC {}"])
@pytest.mark.parametrize("slip", ["one missing", "one more", "one wrong"])
def test_an_sscc_with_one_slip_is_asked_about_however_it_begins(form: str, slip: str) -> None:
    code = sscc(1005).digits
    digits = {
        "one missing": code[:9] + code[10:],
        "one more": code[:9] + "7" + code[9:],
        "one wrong": code[:9] + str((int(code[9]) + 5) % 10) + code[10:],
    }[slip]
    result = result_of(form.format(digits))
    assert (names(result.received), [q.cartons for q in result.questions]) == ([], [("05",)])


def test_digits_that_a_scanner_read_are_no_slip_of_the_keys() -> None:
    """A decoder does not leave a digit out: what it read so is another code, and no carton's."""
    code = sscc(1005).digits
    short = code[:9] + code[10:]
    scanned = read(1, short, symbology="]C0", source=Source.SCANNER, barcode=short)
    assert names(reconcile(CARTONS, [scanned]).received) == []
    assert reconcile(CARTONS, [scanned]).questions == ()
    typed = read(1, short, symbology="", source=Source.TYPED, barcode=short)
    assert [q.cartons for q in reconcile(CARTONS, [typed]).questions] == [("05",)]


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


def test_an_over_is_found_on_another_shipment_that_lists_it_with_12_digits() -> None:
    other = manifest(carton("07", code=0, barcode=UPC), shipment="SH-2", store="0422")
    result = reconcile(manifest(carton("01", (1, 1))), [symbol(1, f"0{UPC}", "]E0")], others=[other])
    assert [(over.why, over.carton) for over in result.over] == [(OverReason.OTHER_STORE, "07")]


def test_a_carton_that_a_person_names_is_here_by_its_number_whatever_its_length() -> None:
    one = symbol(1, f"0{UPC}", "]E0")
    assert one.claim == Claim(barcode=f"0{UPC}", gtin=f"00{UPC}")
    assigned = ReadAssigned("n1", NOON, "Ana", one.read_id, "01")
    result = reconcile(manifest(carton("01", code=0, barcode=UPC)), [one], [assigned])
    assert result.received[0].how is How.BARCODE


def test_a_wrong_check_digit_that_label_and_manifest_share_is_received_with_a_warning() -> None:
    expected = manifest(carton("01", code=0, barcode="395200000000000199"))
    result = reconcile(expected, [symbol(1, "00395200000000000199", "]C1")])
    assert names(result.received) == ["01"]
    assert in_words(result.explanations[0]).endswith(
        "on the manifest, though SSCC '395200000000000199' has check digit 9; its first 17 digits give 7"
    )
