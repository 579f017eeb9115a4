"""What scanners put around and into the data, and how it is taken off again."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from receiving.reading.symbology import (
    GS1_CARRIERS,
    SYMBOLOGY_NAMES,
    Scan,
    control_characters,
    plain_scan,
    symbology_words,
)


@pytest.mark.parametrize("frame", ["{}\r", "{}\n", "{}\t", "\x02{}\x03", "\r\n{}\r\n", "{}"])
def test_prefix_and_suffix_keys_are_no_data(frame):
    assert plain_scan(frame.format("]C1001")) == Scan("]C1", "001")


@pytest.mark.parametrize("symbology", sorted(GS1_CARRIERS) + [f"]{char}0" for char in SYMBOLOGY_NAMES])
def test_the_identifiers_of_all_usual_scanners_are_split_off(symbology):
    assert plain_scan(f"{symbology}ABC") == Scan(symbology, "ABC")
    assert symbology_words(symbology)


@pytest.mark.parametrize("text", ["]", "]C", "]?0A", "[C1A", "A]C1"])
def test_what_is_no_identifier_stays_in_the_data(text):
    assert plain_scan(text) == Scan("", text)


def test_an_identifier_that_the_reader_told_apart_is_not_taken_off_twice():
    assert plain_scan("]C1001", "]C1") == Scan("]C1", "001")
    assert plain_scan("]E0 is text", "]Q1") == Scan("]Q1", "]E0 is text")


@pytest.mark.parametrize(
    "stand_in",
    [r"\x1d", r"\x1D", r"\u001d", "<GS>", "<gs>", "{GS}", "[GS]", "^]", "\u241d", "<FNC1>", "{F8}", "<F8>", "<0x1D>"],
)
def test_what_scanners_send_instead_of_gs_becomes_gs(stand_in):
    assert control_characters(f"10AB{stand_in}21C") == "10AB\x1d21C"


def test_the_envelope_characters_have_stand_ins_too():
    assert control_characters("[)>{RS}06{GS}KX{RS}{EOT}") == "[)>\x1e06\x1dKX\x1e\x04"


def test_what_the_identifier_says_was_added_is_no_message():
    """159AZ with check character H: the usual worked example of modulo 43 (from memory)."""
    assert Scan("]A1", "159AZH").message == "159AZ"
    assert Scan("]A1", "159AZX").message == "159AZX"
    assert Scan("]A0", "159AZH").message == "159AZH"
    assert Scan("]A1", "").message == ""
    assert Scan("]Q2", r"\000026A\\B").message == r"A\B"
    assert Scan("]Q1", r"A\\B").message == r"A\\B"


@given(st.text(max_size=80))
def test_nothing_is_lost_but_the_frame(text):
    scan = plain_scan(text)
    assert scan.symbology + scan.data == text.strip("\r\n\t\x02\x03\x00")
