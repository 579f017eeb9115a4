"""From a raw text to what it claims."""

from dataclasses import replace
from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from receiving.messages import Text
from receiving.model import Address, Claim, RawRead, Source, Sscc
from receiving.reading.claims import claim_of, interpret, label_warnings
from receiving.reading.patterns import LabelPattern, default_patterns
from receiving.reading.symbology import plain_scan


def in_words(faults: tuple[Text, ...]) -> tuple[str, ...]:
    return tuple(map(str, faults))


SSCC = "106141411234567897"
BAD = "106141411234567894"
BAD_WORDS = "SSCC '106141411234567894' has check digit 4; its first 17 digits give 7: retype or scan again."


def read(raw, symbology="", source=Source.TYPED):
    return RawRead("r", datetime(2026, 3, 2, tzinfo=UTC), source, raw, symbology)


@pytest.mark.parametrize(
    ("text", "symbology"),
    [
        (f"00{SSCC}", "]C1"),
        (f"00{SSCC}", "]d2"),
        (f"00{SSCC}", "]Q3"),
        (f"00{SSCC}", "]e0"),
        (f"00{SSCC}", "]J1"),
        (f"]C100{SSCC}", ""),
        (f"]C100{SSCC}\r", "]C1"),
        (f"400PO1<GS>00{SSCC}", "]C1"),
        (f"https://id.gs1.org/00/{SSCC}", "]Q1"),
        (f"https://shop.example/x/00/{SSCC}?400=PO1", "]d1"),
        (f"[)>\x1e06\x1dJ{SSCC}\x1e\x04", "]d1"),
        (f"[)>\x1e05\x1d00{SSCC}\x1e\x04", "]L0"),
        (f"00{SSCC}", "]C0"),
        (f"1J{SSCC}", "]C0"),
        (SSCC, "]C0"),
    ],
)
def test_every_carrier_of_an_sscc_claims_it(text, symbology):
    assert interpret(read(text, symbology, Source.PHOTO)).claim.sscc == Sscc(SSCC)


@pytest.mark.parametrize(
    "text",
    [
        SSCC,
        f"00{SSCC}",
        f"(00){SSCC}",
        "(00) 1 0614141 123456789 7",
        "1 0614141 123456789 7",
        f" {SSCC} ",
        f"00 {SSCC}",
    ],
)
def test_a_person_may_type_an_sscc_as_it_is_printed(text):
    claim = interpret(read(text)).claim
    assert claim.sscc == Sscc(SSCC)
    assert claim.warnings == ()


@pytest.mark.parametrize("text", [BAD, f"00{BAD}", f"(00){BAD}", f"]C100{BAD}"])
def test_a_wrong_check_digit_claims_nothing_and_says_what_to_do(text):
    claim = interpret(read(text)).claim
    assert (claim.sscc, claim.barcode) == (None, "")
    assert in_words(claim.warnings) == (BAD_WORDS,)


def test_a_plain_symbol_of_eighteen_digits_that_is_no_sscc_is_a_barcode():
    claim = interpret(read(BAD, "]C0", Source.PHOTO)).claim
    assert (claim.sscc, claim.barcode, claim.warnings) == (None, BAD, ())


def test_elements_keep_their_order_and_an_unknown_one_its_warning():
    claim = claim_of(f"00{SSCC}400PO1\x1d421840123\x1d05x", "]C1")
    assert claim.elements == (("00", SSCC), ("400", "PO1"), ("421", "840123"))
    assert in_words(claim.warnings) == (
        "'05x' does not begin with an application identifier (AI); it was not understood.",
    )


def test_retail_symbols_give_their_digits_and_the_full_gtin():
    """EAN-13 5412345000013 and EAN-8 02345673: GS1 vectors; ITF-14 is the EAN with indicator 0."""
    assert claim_of("5412345000013", "]E0") == Claim(barcode="5412345000013", gtin="05412345000013")
    assert claim_of("02345673", "]E4") == Claim(barcode="02345673", gtin="00000002345673")
    assert claim_of("05412345000013", "]I1") == Claim(barcode="05412345000013", gtin="05412345000013")
    assert claim_of("541234500001312345", "]E3") == Claim(barcode="5412345000013", gtin="05412345000013")


def test_any_other_text_is_the_barcode_without_space_around_it():
    assert claim_of(" KX-0147 ", "]A0") == Claim(barcode="KX-0147")


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("C3 R2", Claim(address=Address("", 3, 2))),
        ("c3r2", Claim(address=Address("", 3, 2))),
        ("COL 3 ROW 2", Claim(address=Address("", 3, 2))),
        ("Row 2, Column 3", Claim(address=Address("", 3, 2))),
        ("Section X / Column 3 / Row 2", Claim(address=Address("X", 3, 2), section="X")),
        ("Aurum Hall, column 3, row 2", Claim(address=Address("Aurum Hall", 3, 2), section="Aurum Hall")),
        ("COLUMN 3 / ROW 2 / SECTION X", Claim(address=Address("X", 3, 2), section="X")),
        ("COLUMN 3\nROW 2", Claim(address=Address("", 3, 2))),
        ("TRAY C3 R2", Claim(address=Address("", 3, 2))),
        ("SECTION: AURUM, COLUMN: 3, ROW: 2", Claim(address=Address("AURUM", 3, 2), section="AURUM")),
        ("Section: Aurum Hall", Claim(section="Aurum Hall")),
        ("7 of 24", Claim(carton_n=7, carton_total=24)),
        ("OPEN 1ST", Claim(open_first=True)),
        ("OUTER", Claim(outer=True)),
        ("OUTER CARTON 1", Claim(outer=True, carton="1")),
        ("Ship ID SH-1001", Claim(shipment="SH-1001")),
        ("STORE: 0417 SHIPMENT: SH-1", Claim(store="0417", shipment="SH-1")),
        ("CARTON 7 OF 24", Claim(carton_n=7, carton_total=24)),
        ("Box 7/24", Claim(carton_n=7, carton_total=24)),
        ("CARTON 07", Claim(carton="07")),
        ("OPEN FIRST", Claim(open_first=True)),
        ("Open this carton first", Claim(open_first=True)),
        ("MASTER CARTON", Claim(outer=True)),
        ("STORE 0417", Claim(store="0417")),
        ("Shipment: SH-1001", Claim(shipment="SH-1001")),
        ("CONTENTS: REPLACEMENT TRAYS", Claim(kind="replacement_tray")),
    ],
)
def test_the_plain_texts_of_labels_are_understood(text, wanted):
    claim = claim_of(text, patterns=default_patterns())
    assert claim.pattern
    assert claim == replace(wanted, pattern=claim.pattern)


def test_a_label_of_several_lines_claims_what_each_line_says():
    claim = claim_of("SECTION AB\nCOL 3 ROW 2\nCARTON 7 OF 24\nOPEN FIRST", "]Q1", patterns=default_patterns())
    assert (claim.address, claim.carton_n, claim.carton_total, claim.open_first) == (Address("AB", 3, 2), 7, 24, True)
    assert claim.barcode == ""


@pytest.mark.parametrize(
    "text", ["KX-0147", "C3R2X", "STORE MANAGER", "4006381333931", "CARTONS", "COLOR 3 ROW", "R2", "AB-C3R2-9", "7/24"]
)
def test_texts_that_only_resemble_a_pattern_stay_barcodes(text):
    assert claim_of(text, patterns=default_patterns()) == Claim(barcode=text)


def test_a_pattern_may_read_an_element():
    pattern = LabelPattern("place", r"C(?P<column>\d+)R(?P<row>\d+)", element="91")
    claim = claim_of(f"00{SSCC}91C3R2", "]C1", patterns=(pattern,))
    assert (claim.sscc, claim.address, claim.pattern) == (Sscc(SSCC), Address("", 3, 2), "place")


def test_section_and_place_of_two_elements_become_one_address():
    place = LabelPattern("place", r"C(?P<column>\d+)R(?P<row>\d+)", element="91")
    section = LabelPattern("section", r"(?P<section>.+)", element="92")
    claim = claim_of(f"00{SSCC}91C3R2\x1d92Aurum", "]C1", patterns=(place, section))
    assert claim.address == Address("Aurum", 3, 2)


def test_a_pattern_may_be_kept_to_one_symbology():
    pattern = LabelPattern("id", r"(?P<carton>\d+)", symbology="]C0")
    assert claim_of("07", "]C0", patterns=(pattern,)).carton == "07"
    assert claim_of("07", "]A0", patterns=(pattern,)).barcode == "07"


def test_what_a_pattern_takes_but_cannot_be_is_a_warning():
    place = LabelPattern("place", r"(?P<column>\w+)/(?P<row>\w+)")
    assert in_words(claim_of("0/2", patterns=(place,)).warnings) == ("column 0, row 2: both count from 1.",)
    assert in_words(claim_of("A/2", patterns=(place,)).warnings) == ("column 'A' is not a number of at most 9 digits.",)
    number = LabelPattern("n", r"(?P<carton_n>\d+) (?P<carton_total>\d+)")
    assert in_words(claim_of("25 24", patterns=(number,)).warnings) == ("there can be no carton 25 of 24.",)


def test_a_label_is_judged_by_all_its_symbols():
    contents, unit = claim_of("0209520123456788375", "]C1"), claim_of(f"00{SSCC}", "]C1")
    assert contents.warnings == ()
    assert in_words(label_warnings([contents])) == (
        "AI (37) needs (00) with (02) or (00) with (8026) on the same label.",
    )
    assert label_warnings([contents, unit]) == ()


MARKS = ("]C1", "]E0", "]I1", "[)>", "\x1e", "\x1d", "06", "00", "01", "(00)", "(91)", "J", "1J", "13Q", "\r", "^]")
TEXTS = (SSCC, BAD, "C3", " R2", "https://a/", "00/", "\ud800", "٣", "CARTON 7 OF 3", "COL 0 ROW 1")


@given(
    st.one_of(
        st.text(max_size=60),
        st.lists(
            st.sampled_from([*MARKS, *TEXTS]),
            max_size=8,
        ).map("".join),
    ),
    st.sampled_from(["", "]C1", "]C0", "]E0", "]E3", "]E4", "]I1", "]Q1", "]Q3", "]d2", "]A0", "]??"]),
    st.sampled_from(list(Source)),
)
def test_interpret_is_total_and_keeps_the_raw_read(text, symbology, source):
    raw = read(text, symbology, source)
    found = interpret(raw, default_patterns())
    assert found.raw is raw
    claim = found.claim
    everything = (claim.sscc, claim.barcode, claim.elements, claim.pattern, claim.warnings)
    assert any(everything) or not plain_scan(text, symbology).message.strip()


@pytest.mark.parametrize(
    "text",
    [
        "COL 3 FILA 2",
        "Harbor, columna 3, fila 2",
        "Fila 2, columna 3",
        "Harbor / Columna 3 / Fila 2",
        "COL 3 RANG 2",
        "Harbor, colonne 3, rang 2",
        "colonne 3, rangée 2",
        "RANGEE 2 COLONNE 3",
    ],
)
def test_column_and_row_are_known_in_spanish_and_french_as_labels_and_pages_have_them(text):
    assert interpret(read(text), default_patterns()).claim.address == Address(
        "Harbor" if "Harbor" in text else "", 3, 2
    )


@pytest.mark.parametrize("text", ["ABRIR PRIMERO", "Ouvrir en premier"])
def test_open_first_is_known_in_spanish_and_french(text):
    assert interpret(read(text), default_patterns()).claim.open_first


def test_words_that_only_begin_like_a_row_are_none():
    assert interpret(read("COL 3 RANGER 2"), default_patterns()).claim.address is None
    assert interpret(read("COLUMNAR 3 FILA 2"), default_patterns()).claim.address is None
