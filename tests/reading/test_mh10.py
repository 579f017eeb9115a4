"""Envelopes of ISO/IEC 15434 and the data identifiers in them."""

from hypothesis import given
from hypothesis import strategies as st

from receiving.messages import Text
from receiving.model import Sscc
from receiving.reading.claims import claim_of
from receiving.reading.mh10 import piece_of, plate_sscc, read_envelope


def in_words(faults: tuple[Text, ...]) -> tuple[str, ...]:
    return tuple(map(str, faults))


SSCC = "106141411234567897"


def test_a_format_06_envelope_gives_its_fields_in_order():
    envelope = read_envelope(f"[)>\x1e06\x1dJ{SSCC}\x1d13Q7/24\x1dKPO-88\x1e\x04")
    assert envelope.fields == (("J", SSCC), ("13Q", "7/24"), ("K", "PO-88"))


def test_scanners_that_drop_the_trailer_lose_nothing():
    assert read_envelope("[)>\x1e06\x1dKPO-88") == read_envelope("[)>\x1e06\x1dKPO-88\x1e\x04")


def test_format_05_holds_gs1_elements():
    envelope = read_envelope(f"[)>\x1e05\x1d00{SSCC}\x1e\x04")
    assert envelope.gs1 == (("00", SSCC),)


def test_several_formats_in_one_envelope_are_all_read():
    envelope = read_envelope(f"[)>\x1e05\x1d00{SSCC}\x1e06\x1d13Q2/3\x1e12\x1dSUP 12345\x1e\x04")
    assert envelope.fields == (("00", SSCC), ("13Q", "2/3"), ("SUP", "12345"))
    assert envelope.faults == ()


def test_a_format_that_is_not_read_is_named_with_its_text():
    assert in_words(read_envelope("[)>\x1e02\x1dUNA:+.?\x1e\x04").faults) == (
        "Format '02' of ISO/IEC 15434 is not read: 'UNA:+.?'.",
    )


def test_a_field_without_identifier_is_named_and_the_others_stand():
    envelope = read_envelope("[)>\x1e06\x1d???\x1dKPO\x1e\x04")
    assert envelope.fields == (("K", "PO"),)
    assert in_words(envelope.faults) == ("'???' does not begin with a data identifier of ANSI MH10.8.2.",)


def test_a_piece_beyond_its_total_is_no_piece():
    assert piece_of((("13Q", "25/24"),)) is None


def test_a_licence_plate_that_is_an_sscc_says_so_and_another_one_is_the_barcode():
    assert plate_sscc(f"1J{SSCC}") == Sscc(SSCC)
    assert plate_sscc("1J106141411234567894") is None
    claim = claim_of("[)>\x1e06\x1d1JUN123456789A1\x1d13Q7/24\x1e\x04")
    assert (claim.sscc, claim.barcode, claim.carton_n, claim.carton_total) == (None, "UN123456789A1", 7, 24)


@given(st.lists(st.sampled_from(["\x1d", "\x1e", "\x04", "05", "06", "12", "00", "J", "13Q", "A", "7/", "é", " "])))
def test_any_envelope_is_read_without_an_exception(parts):
    envelope = read_envelope("[)>" + "".join(parts))
    assert all(identifier and value for identifier, value in envelope.fields) or envelope.faults
