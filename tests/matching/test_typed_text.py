"""What a person means by what he types on this manifest; asked where it is unclear, and nothing to sign where it fits
nothing."""

import random
from uuid import UUID

import pytest

from receiving.matching import reconcile
from receiving.model import Claim, LabelRead, Outcome, Place, RawRead, ReadAssigned, Reconciliation, Source
from receiving.reading import default_patterns, interpret
from tests.matching.scenes import NOON, carton, manifest, read, sscc
from tests.matching.test_reconcile import names, told
from tests.spoken import in_words

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
    assert "KX-0174" in in_words(told(result, 3))


@pytest.mark.parametrize(
    "text", ["helo", "COL 9", "99", "COL 8 RO", "carton 99", "col 9 row 9", "store 0417", "KX-9", "12-1"]
)
def test_what_fits_nothing_is_not_understood_and_nobody_signs_for_it(text: str) -> None:
    result = result_of(text)
    assert (result.received, result.extra, result.over, result.questions) == ((), (), (), ())
    assert told(result, 1).outcome is Outcome.UNCLEAR
    assert [unclear.read_ids for unclear in result.unclear] == [(told(result, 1).read_id,)]


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
