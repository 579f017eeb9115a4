"""Element strings, bracketed text and Digital Links: the forms, and what is said of each fault.

What a value must be besides its form: each rule of the GS1 dictionary from both sides, and where it applies.

The rules carry the dictionary's names; what each means is in the GS1 General Specifications, sections 3 and 7.9. The
values are written from those sections, the bank account number from ISO 13616 (its published example, from memory).
"""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from receiving.messages import Text
from receiving.model import mod10_check_digit
from receiving.reading.gs1 import (
    GS,
    Gs1Data,
    cut_short,
    element_faults,
    pair_faults,
    read_bracketed,
    read_digital_link,
    read_element_strings,
)
from receiving.reading.gs1_rules import ENTRIES, PREDEFINED_LENGTHS, RULES, excluded_with, required_with, value_fault


def in_words(faults: tuple[Text, ...]) -> tuple[str, ...]:
    return tuple(map(str, faults))


# SSCC 106141411234567897: the worked example of GS1 US' SSCC pages, company prefix 0614141 (from memory).
SSCC = "106141411234567897"


def test_an_element_that_needs_a_separator_takes_all_up_to_it():
    assert read_element_strings(f"400PO1{GS}00{SSCC}").elements == (("400", "PO1"), ("00", SSCC))


def test_an_element_of_predefined_length_needs_no_separator_and_tolerates_one():
    with_separator = read_element_strings(f"00{SSCC}{GS}400PO1{GS}")
    assert with_separator == read_element_strings(f"00{SSCC}400PO1")
    assert with_separator.faults == ()


def test_without_its_separator_the_next_element_is_swallowed_and_nothing_is_invented():
    assert read_element_strings(f"400PO100{SSCC}").elements == (("400", f"PO100{SSCC}"),)


def test_an_overlong_value_is_a_fault_and_not_cut_apart():
    data = read_element_strings("10" + "A" * 20 + "21XYZ")
    assert data.elements == (("10", "A" * 20 + "21XYZ"),)
    assert in_words(data.faults) == (f"AI (10) BATCH/LOT: '{'A' * 20}21XYZ' is not of the form N2+X..20.",)


def test_a_fault_ends_its_run_and_the_next_run_is_still_read():
    data = read_element_strings(f"05nothing{GS}400PO1")
    assert data.elements == (("400", "PO1"),)
    assert in_words(data.faults) == (
        "'05nothing' does not begin with an application identifier (AI); it was not understood.",
    )


def test_a_wrong_check_digit_is_kept_as_an_element_and_named():
    data = read_element_strings("00106141411234567894")
    assert data.elements == (("00", "106141411234567894"),)
    assert in_words(data.faults) == (
        "SSCC '106141411234567894' has check digit 4; its first 17 digits give 7: retype or scan again.",
    )


def test_digits_of_other_scripts_are_no_digits():
    assert read_element_strings("00" + "١" * 18).faults


def test_bracketed_text_may_be_spaced_as_it_is_printed():
    assert read_bracketed(" (00) 1 0614141 123456789 7 ").elements == (("00", SSCC),)


def test_an_escaped_bracket_belongs_to_the_value():
    assert read_bracketed(r"(10)12345\(11)991225").elements == (("10", "12345(11)991225"),)


def test_text_before_the_first_bracket_is_named():
    assert in_words(read_bracketed("SSCC (400)A").faults) == ("'SSCC' comes before the first (AI).",)


@pytest.mark.parametrize(
    ("uri", "elements"),
    [
        (f"https://id.gs1.org/00/{SSCC}", (("00", SSCC),)),
        (f"HTTPS://ID.GS1.ORG/00/{SSCC}?400=PO1#top", (("00", SSCC), ("400", "PO1"))),
        ("https://shop.example/s/414/9520123456788/254/32a%2Fb", (("414", "9520123456788"), ("254", "32a/b"))),
        ("https://example.com/01/9520123456788", (("01", "09520123456788"),)),
        ("https://example.com/gtin/09520123456788/lot/A1", (("01", "09520123456788"), ("10", "A1"))),
    ],
)
def test_a_digital_link_gives_its_elements(uri, elements):
    assert read_digital_link(uri) == Gs1Data(elements)


@pytest.mark.parametrize(
    "uri", ["https://example.com/", "https://example.com/about/us", "https://00/1", "ftp://a/00/1"]
)
def test_an_address_without_a_key_has_no_elements_and_says_so(uri):
    data = read_digital_link(uri)
    assert data.elements == ()
    assert len(data.faults) == 1


def test_a_logistic_label_split_over_two_symbols_is_whole_only_together():
    contents, unit = (("02", "09520123456788"), ("37", "5")), (("00", SSCC),)
    assert in_words(pair_faults(contents)) == ("AI (37) needs (00) with (02) or (00) with (8026) on the same label.",)
    assert pair_faults(contents + unit) == ()


def test_pairs_that_exclude_each_other_are_named_once():
    assert in_words(pair_faults((("420", "90210"), ("421", "84090210")))) == (
        "AI (420) and AI (421) may not be on the same label.",
    )


def test_an_element_that_stands_twice_must_say_the_same():
    assert pair_faults((("92", "A"), ("92", "A"))) == ()
    assert in_words(pair_faults((("92", "A"), ("92", "B")))) == (
        "AI (92) appears more than once with different values: A, B.",
    )


ALPHABET = st.sampled_from([*"0123456789()^<>ABZ/?&=%#:.-_ ", GS, "é", "٣", "\ud800", "https://", "00", "01"])


@given(st.lists(ALPHABET, max_size=60).map("".join))
def test_any_text_is_read_without_an_exception_and_faults_are_words(text):
    for read in (read_element_strings, read_bracketed, read_digital_link):
        data = read(text)
        assert data.elements or data.faults
        assert all(str(fault).endswith(".") for fault in data.faults)
        pair_faults(data.elements)


@given(
    st.lists(st.tuples(st.sampled_from(["10", "21", "400", "91", "241"]), st.text("ABC019-", min_size=1, max_size=18)))
)
def test_elements_written_with_separators_come_back_equal(elements):
    if elements:
        text = GS.join(ai + value for ai, value in elements)
        assert read_element_strings(text) == Gs1Data(tuple(elements))


HOLDS: dict[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "csum": (("106141411234567897", "9520123456788"), ("106141411234567894", "9520123456780")),
    "csumalpha": (("1987654Ad4X4bL5ttr2310c2K",),
                  ("1987654Ad4X4bL5ttr2310c2L", "2K", "K", "1987654Ad4X4bL5ttr2310c3K")),
    "gcppos1": (("0000", "1234AB", "9520"), ("123", "A234", "123A")),
    "gcppos2": (("A0000", "01234B"), ("0123", "0A234", "0123A")),
    "hasnondigit": (("A", "1A", "A1", "1-1"), ("1", "123")),
    "hh": (("00", "09", "19", "20", "23"), ("24", "30", "9", "000", "2A")),
    "hhmi": (("0000", "2359", "1900", "9999"), ("2400", "2360", "9998", "000", "00000")),
    "hyphen": (("-", "--"), ("", "+", "-1")),
    "iban": (("GB82WEST12345698765432", "DE89370400440532013000"),
             ("GB83WEST12345698765432", "gb82WEST12345698765432", "GB82", "GB82 WEST1234", "8282WEST12345698765432")),
    "importeridx": (("A", "z", "0", "-", "_"), ("", "AB", "+")),
    "iso5218": (("0", "1", "2", "9"), ("3", "8", "", "00")),
    "latitude": (("0000000000", "1800000000"), ("1800000001", "180000000", "01800000000", "00000000A0")),
    "longitude": (("0000000000", "3600000000"), ("3600000001", "360000000")),
    "mi": (("00", "59", "09"), ("60", "99", "5", "5A")),
    "nonzero": (("1", "001", "100"), ("0", "000", "")),
    "nozeroprefix": (("0", "1", "10", "9A"), ("00", "01")),
    "pcenc": (("", "A%20B", "%aF", "100"), ("%", "A%2", "%2G", "%%20")),
    "pieceoftotal": (("0101", "0102", "9999", "11", "001002"), ("0201", "0001", "0000", "010", "", "01A2", "0A02")),
    "posinseqslash": (("1/1", "1/2", "9/10", "10/10"), ("2/1", "0/1", "1/0", "01/2", "1/02", "1", "12", "/", "1/", "/1",
                                                         "a/2", "1/b", "1/2/3")),
    "ss": (("00", "59"), ("60", "5")),
    "winding": (("0", "1", "9"), ("2", "8", "")),
    "yesno": (("0", "1"), ("2", "", "01")),
    "yymmd0": (("260100", "260131", "240229", "000229", "991231"),
               ("260132", "261301", "260001", "260431", "250229", "26010", "2601010", "26A101")),
    "yymmdd": (("260101", "260131", "240229", "260430", "260228"),
               ("260100", "260132", "250229", "260431", "260631", "260931", "261131", "261301", "260001")),
    "yyyymmdd": (("20260131", "20240229", "20000229", "19991231", "24000229"),
                 ("20250229", "19000229", "21000229", "20260100", "20261301", "2026013", "202601311", "2026013A",
                  "A0240229", "20260431")),
    "zero": (("0", "000"), ("1", "01", "")),
}  # fmt: skip


@pytest.mark.parametrize("rule", sorted(RULES))
def test_every_rule_from_both_sides(rule: str) -> None:
    holds, words = RULES[rule]
    right, wrong = HOLDS[rule]
    assert {value: holds(value) for value in right} == dict.fromkeys(right, True)
    assert {value: bool(holds(value)) for value in wrong} == dict.fromkeys(wrong, False)
    assert words.text.startswith("{part} ")


@pytest.mark.parametrize("month", range(1, 13))
def test_a_month_has_the_days_of_the_calendar(month: int) -> None:
    import calendar

    last = calendar.monthrange(2024, month)[1]
    holds = RULES["yymmdd"][0]
    assert holds(f"24{month:02}{last:02}") and not holds(f"24{month:02}{last + 1:02}")


def checked(body: str) -> str:
    return body + mod10_check_digit(body)


@pytest.mark.parametrize(
    ("ai", "right", "wrong", "expected"),
    [
        ("00", checked("10614141123456789"), "106141411234567894", "has check digit 4"),
        ("01", checked("0952012345678"), "09520123456780", "has a wrong check digit"),
        ("11", "260131", "260132", "is not a date YYMMDD"),
        ("17", "260100", "261300", "is not a date YYMMDD"),
        ("253", checked("952012345678") + "A1", "9520123456780A1", "has a wrong check digit"),
        ("414", checked("952012345678"), "9520123456780", "has a wrong check digit"),
        ("7003", "2601312359", "2601312360", "is not a time of day"),
        ("7003", "2601312359", "2601002359", "is not a date YYMMDD with a day"),
        ("7007", "260131260201", "260131260229", "is not a date YYMMDD with a day"),
        ("8003", "0" + checked("952012345678") + "X", "1" + checked("952012345678") + "X", "is not zero"),
        ("8006", checked("0952012345678") + "0102", checked("0952012345678") + "0201", "is not a piece of a total"),
        ("8008", "26013123", "26013124", "is not an hour of the day"),
        ("8008", "260131235959", "260131235960", "is not a second"),
        ("8013", "1987654Ad4X4bL5ttr2310c2K", "1987654Ad4X4bL5ttr2310c2L", "wrong pair of check characters"),
        ("8001", "12345678901201", "00005678901201", "is zero"),
        ("4309", "18000000003600000000", "18000000013600000000", "is not a latitude"),
        ("4309", "18000000003600000000", "18000000003600000001", "is not a longitude"),
        ("4321", "1", "2", "is neither 0 nor 1"),
        ("7250", "20240229", "20250229", "is not a date YYYYMMDD"),
    ],
)
def test_a_rule_applies_to_its_part_of_the_value(ai: str, right: str, wrong: str, expected: str) -> None:
    assert element_faults(ai, right) == ()
    assert len(element_faults(ai, wrong)) == 1
    assert expected in f"{value_fault(ai, wrong)} {in_words(element_faults(ai, wrong))}"


def test_an_ai_that_does_not_exist_has_no_rules() -> None:
    assert value_fault("05", "anything") == ""
    assert list(required_with("05", {"01"})) == [] and excluded_with("05", {"01"}) == frozenset()


# --- the table -----------------------------------------------------------------------------------------------------


def test_titles_lengths_and_parts_are_those_of_the_dictionary() -> None:
    assert (ENTRIES["00"].title, ENTRIES["10"].title) == ("SSCC", "BATCH/LOT")
    assert {ai: ENTRIES[ai].length for ai in ("00", "01", "11", "20", "10", "400", "8003")} == {
        "00": 18, "01": 14, "11": 6, "20": 2, "10": 0, "400": 0, "8003": 0,
    }  # fmt: skip
    parts = [(part.start, part.end) for part in ENTRIES["8006"].components]
    assert parts[0][0] == 0 and parts[-1][1] == 18
    assert all(one[1] == other[0] for one, other in pairwise(parts))
    assert [ai for ai in ENTRIES if ai.startswith("310")] == [f"310{n}" for n in range(6)], "a line may hold a range"


def test_lengths_without_a_separator_are_those_of_the_general_specifications() -> None:
    """Figure 7.8.5-2."""
    assert {start: PREDEFINED_LENGTHS[start] for start in ("00", "01", "02", "11", "20", "31", "36", "41")} == {
        "00": 20, "01": 16, "02": 16, "11": 8, "20": 4, "31": 10, "36": 10, "41": 16,
    }  # fmt: skip
    assert "10" not in PREDEFINED_LENGTHS and "21" not in PREDEFINED_LENGTHS


@pytest.mark.parametrize(("ai", "beside", "needs"), [("37", {"02"}, 1), ("37", {"02", "00"}, 0), ("02", {"37"}, 0)])
def test_what_an_ai_needs_beside_it(ai: str, beside: set[str], needs: int) -> None:
    assert len(list(required_with(ai, beside | {ai}))) == needs


def test_what_may_not_stand_beside_an_ai() -> None:
    assert excluded_with("01", {"01", "02", "37", "10"}) == {"37"} | (
        {"02"} if "02" in ENTRIES["01"].excluded else set()
    )
    assert excluded_with("420", {"420", "421"}) == {"421"}
    assert excluded_with("3920", {"3921", "3931"}) >= {"3931"}, "an n stands for any digit"


# --- how strings are cut -------------------------------------------------------------------------------------------


def test_quotes_in_a_sentence_are_at_most_eighty_characters() -> None:
    assert cut_short("x" * 80) == "x" * 80
    assert cut_short("x" * 81) == "x" * 79 + "…"


def test_elements_are_cut_where_their_lengths_end() -> None:
    sscc = checked("10614141123456789")
    assert read_element_strings(f"2001{'00' + sscc}").elements == (("20", "01"), ("00", sscc))
    assert read_element_strings(f"3103001234{'00' + sscc}").elements == (("3103", "001234"), ("00", sscc))
    assert read_element_strings(f"41{'0' + checked('952012345678')}400A").elements[0][0] == "410"
    data = read_element_strings(f"{GS}{GS}")
    assert data.elements == () and in_words(data.faults) == ("There is no data after the FNC1: scan again.",)


def test_the_rightmost_key_of_a_digital_link_counts_and_its_qualifiers_follow_in_order() -> None:
    gtin = checked("0952012345678")
    link = read_digital_link(f"https://a.example/414/x/01/{gtin}/22/2A/10/L1/21/S1")
    assert link.faults == ()
    assert [ai for ai, _ in link.elements] == ["01", "22", "10", "21"]
    wrong = read_digital_link(f"https://a.example/01/{gtin}/21/S1/10/L1")
    assert in_words(wrong.faults) == ("(21), (10) may not follow (01) in a Digital Link.",)


@pytest.mark.parametrize("query", ["10=A;11=260131", "10=A&11=260131", "x=1&10=A&utm=2&11=260131"])
def test_what_follows_the_question_mark_is_read_and_other_names_are_passed_over(query: str) -> None:
    link = read_digital_link(f"https://a.example/00/{checked('10614141123456789')}?{query}")
    assert link.elements[1:] == (("10", "A"), ("11", "260131"))
    assert link.faults == ()


@pytest.mark.parametrize(
    ("query", "expected"),
    [
        ("10=A&10=B", "(10) may not follow the question mark"),
        ("21=A", "(21) may not follow the question mark"),
        ("05=A", "(05) is not an application identifier"),
    ],
)
def test_what_may_not_follow_the_question_mark_is_named(query: str, expected: str) -> None:
    link = read_digital_link(f"https://a.example/00/{checked('10614141123456789')}?{query}")
    assert any(expected in str(fault) for fault in link.faults), link.faults


@pytest.mark.parametrize(("digits", "full"), [("96385074", True), ("123456789012", True), ("1234567", False)])
def test_short_gtins_of_a_link_get_their_zeros(digits: str, full: bool) -> None:
    value = read_digital_link(f"https://a.example/01/{digits}").first("01")
    assert value == (digits.zfill(14) if full else digits)


@pytest.mark.parametrize(
    ("uri", "why"),
    [
        ("https://a b.example/00/1", "' ' is not allowed in it"),
        ("ftp://a.example/00/1", "is not a web address."),
        ("https:///00/1", "has no usable domain name"),
        ("https://a.example/x", "does not hold a GS1 key: it is an ordinary web address"),
    ],
)
def test_what_is_no_digital_link_says_why(uri: str, why: str) -> None:
    (fault,) = read_digital_link(uri).faults
    assert why in str(fault)


def test_an_exclusion_is_told_from_whichever_side_it_is_stated() -> None:
    for pair in (("420", "90210"), ("421", "84090210")), (("421", "84090210"), ("420", "90210")):
        assert len(pair_faults(pair)) == 1


OLD = {"gtin": "01", "sscc": "00", "gln": "414"}

QUALIFIERS = {"cpv": ("gtin", "22"), "lot": ("gtin", "10"), "ser": ("gtin", "21"), "glnx": ("gln", "254")}


@pytest.mark.parametrize("name", [*OLD, *QUALIFIERS])
def test_the_short_names_of_the_first_links_are_their_ais(name: str) -> None:
    """GS1 Digital Link Standard: URI Syntax 1.1, section 4.4."""
    codes = {"gtin": checked("0952012345678"), "sscc": checked("10614141123456789"), "gln": checked("952012345678")}
    key, ai = QUALIFIERS.get(name, (name, OLD.get(name, "")))
    link = read_digital_link(f"https://a.example/{key}/{codes[key]}" + (f"/{name}/A1" if name in QUALIFIERS else ""))
    assert link.faults == ()
    assert link.elements[-1] == (ai, "A1" if name in QUALIFIERS else codes[key])


def test_a_second_mark_of_a_scheme_belongs_to_the_path() -> None:
    code = checked("10614141123456789")
    assert read_digital_link(f"https://a.example/x://00/{code}").first("00") == code
