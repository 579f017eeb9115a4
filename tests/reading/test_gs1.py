"""Element strings, bracketed text and Digital Links: the forms, and what is said of each fault."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from receiving.messages import Text
from receiving.reading.gs1 import (
    GS,
    Gs1Data,
    pair_faults,
    read_bracketed,
    read_digital_link,
    read_element_strings,
)


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
    assert in_words(read_bracketed("SSCC (400)A").faults) == ("'SSCC' stands before the first (AI).",)


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
        "AI (420) and AI (421) may not stand on one label.",
    )


def test_an_element_that_stands_twice_must_say_the_same():
    assert pair_faults((("92", "A"), ("92", "A"))) == ()
    assert in_words(pair_faults((("92", "A"), ("92", "B")))) == (
        "AI (92) stands more than once with different values: A, B.",
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
