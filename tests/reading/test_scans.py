"""Scan lists and typed lines: what comes in, and what is said of every fault."""

import json
from datetime import UTC, datetime
from uuid import UUID

import pytest
from hypothesis import given
from hypothesis import strategies as st

from receiving.errors import BadRequest, ScanFaults
from receiving.model import Place, RawRead, Source
from receiving.reading.scans import COLUMNS, read_scans, typed_read

ID = "3f0e8c1a-7b1d-4c55-9a55-0d6a5a0c1e01"
OTHER = "3f0e8c1a-7b1d-4c55-9a55-0d6a5a0c1e02"
HEADER = "scan_id,scanned_at,raw,place,by,photo\n"
ROW = f"{ID},2026-03-02T08:15:00+01:00,]C100106141411234567897,dock,Ada,\n"
READ = RawRead(
    ID,
    datetime(2026, 3, 2, 7, 15, tzinfo=UTC),
    Source.SCANNER,
    "00106141411234567897",
    "]C1",
    Place.DOCK,
    "Ada",
)


def faults_of(text):
    with pytest.raises(ScanFaults) as caught:
        read_scans("scans.csv", text if isinstance(text, bytes) else text.encode())
    return [str(fault) for fault in caught.value.faults]


def test_a_csv_row_becomes_a_raw_read_in_utc():
    assert read_scans("scans.csv", (HEADER + ROW).encode()) == (READ,)


@pytest.mark.parametrize("change", [lambda t: "\ufeff" + t, lambda t: t.replace("\n", "\r\n"), lambda t: t + "\n\n"])
def test_a_byte_order_mark_crlf_and_blank_lines_are_accepted(change):
    assert read_scans("scans.csv", change(HEADER + ROW).encode()) == (READ,)


def test_json_lines_hold_the_same():
    row = dict(zip(COLUMNS, ROW.strip().split(","), strict=True))
    assert read_scans("scans.jsonl", (json.dumps(row) + "\n\n").encode()) == (READ,)


def test_place_by_and_photo_may_be_left_out():
    text = f"scanned_at,scan_id,raw\n2026-03-02t07:15:00z,{ID.upper()},KX-1\n"
    (read,) = read_scans("scans.csv", text.encode())
    assert (read.read_id, read.place, read.by, read.photo) == (ID, Place.OTHER, "", "")


def test_gs_may_be_written_as_the_character_or_as_four_characters():
    for written in ("\x1d", r"\x1d", r"\x1D"):
        (read,) = read_scans("s", f"{HEADER}{ID},2026-03-02T07:15:00Z,]C1400A{written}91B,dock,,\n".encode())
        assert read.raw == "400A\x1d91B"


def test_the_same_scan_twice_is_one_read_and_another_one_with_its_id_is_a_fault():
    assert read_scans("scans.csv", (HEADER + ROW + ROW).encode()) == (READ,)
    assert faults_of(HEADER + ROW + ROW.replace("Ada", "Bob")) == [
        f"line 3 (scan_id): {ID} is on line 2 with other data"
    ]


def test_all_faults_are_named_at_once_with_line_and_column():
    bad = "x,yesterday,,attic,Ada,nophoto\n"
    assert faults_of(HEADER + ROW + bad) == [
        "line 3, column 1 (scan_id): 'x' is not a UUID",
        "line 3, column 2 (scanned_at): 'yesterday' is not a time with date and zone, such as 2026-03-02T08:15:00Z",
        "line 3, column 3 (raw): it is empty: scan the label again",
        "line 3, column 4 (place): 'attic' is not one of dock, back_room, overhead, sales_floor, other",
        "line 3, column 6 (photo): 'nophoto' is not the SHA-256 of a photo (64 hexadecimal digits)",
    ]


def test_a_row_after_a_cell_of_two_lines_is_named_by_its_own_line():
    two_lines = f'{OTHER},2026-03-02T07:15:00Z,"A\nB",dock,,\n'
    assert faults_of(HEADER + two_lines + "x,2026-03-02T07:15:00Z,C,dock,,\n") == [
        "line 4, column 1 (scan_id): 'x' is not a UUID"
    ]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (b"", "the file is empty: a header row with scan_id, scanned_at, raw is needed"),
        (HEADER.encode("utf-16"), "the file is UTF-16: save it as UTF-8"),
        (b"scan_id\n\xff\n", "line 2: byte 9 of the file is not UTF-8: save it as UTF-8"),
        ("scan_id,raw\n", "line 1: the column 'scanned_at' is missing"),
        ("scan_id,scanned_at,raw,raw\n", "line 1, column 4: the column 'raw' appears twice"),
        (f"{HEADER}{ID},2026\n", "line 2: the row has 2 cells, the header 6"),
        ('{"scan_id": 1', "line 1, column 14: this is not a JSON object (Expecting ',' delimiter)"),
        ('{"a":1}\n[1]', "line 2, column 1: expected a JSON object, got '[1]'"),
        ('{"deep": ' + "[" * 100_000, "line 1: this is not a JSON object: it is too deep or too long"),
        (f'{HEADER}{ID},2026-03-02T07:15:00Z,"A', "line 2: this is not CSV: unexpected end of data"),
    ],
)
def test_a_file_that_is_no_scan_list_says_what_it_is(text, words):
    assert words in faults_of(text)


@pytest.mark.parametrize(
    "time", ["2026-03-02", "2026-03-02T07:15:00", "2026-02-30T07:15:00Z", "0001-01-01T00:00:00+14:00"]
)
def test_a_time_that_is_none_or_has_no_zone_is_a_fault(time):
    assert "is not a time with date and zone" in faults_of(f"{HEADER}{ID},{time},A,dock,,\n")[0]


def typed(text):
    return typed_read(
        text,
        read_id=ID,
        read_at=datetime(2026, 3, 2, tzinfo=UTC),
        place=Place.DOCK,
        by="Ada",
        source=Source.TYPED,
    )


def test_a_typed_line_is_kept_as_typed_but_for_the_keys_around_it():
    read = typed("]C100106141411234567897\r")
    assert (read.symbology, read.raw, read.source) == ("]C1", "00106141411234567897", Source.TYPED)
    assert typed(" kx-1 ").raw == " kx-1 "


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "it is empty"),
        (" \t\r\n", "it is empty"),
        ("]C1", "it is empty"),
        ("A" * 7090, "it has 7090 characters, and no label carries more than 7089"),
        ("A\x00B", "character 2 is the control character U+0000, which no label has"),
        ("AB\x9b", "character 3 is the control character U+009B, which no label has"),
        ("\ud800", "character 1 is the control character U+D800, which no label has"),
    ],
)
def test_what_can_be_no_label_text_is_refused_with_the_next_step(text, words):
    with pytest.raises(BadRequest) as caught:
        typed(text)
    assert str(caught.value) == f"This was not read: {words}. Scan or type the label again."


def test_a_name_that_cannot_be_shown_is_refused():
    with pytest.raises(BadRequest, match=r"as by cannot be kept: character 2 is U\+0000"):
        typed_read(
            "A", read_id=ID, read_at=datetime(2026, 3, 2, tzinfo=UTC), place=Place.DOCK, by="A\x00", source=Source.TYPED
        )


@pytest.mark.parametrize("year", [1999, 2200])
def test_a_clock_that_is_not_set_is_refused(year):
    with pytest.raises(BadRequest, match="is not from 2000 to 2199"):
        typed_read(
            "A", read_id=ID, read_at=datetime(year, 6, 1, tzinfo=UTC), place=Place.DOCK, by="", source=Source.SCANNER
        )
    with pytest.raises(ScanFaults, match="is not from 2000 to 2199: check the scanner's clock"):
        read_scans("s.csv", f"{HEADER}{ID},{year}-06-01T00:00:00Z,A,,,\n".encode())


def test_a_time_without_zone_is_refused():
    with pytest.raises(BadRequest, match="has no time zone"):
        typed_read("A", read_id=ID, read_at=datetime(2026, 3, 2), place=Place.DOCK, by="", source=Source.SCANNER)


LINES = st.lists(
    st.sampled_from([HEADER, ROW, ",", '"', "\n", "{", "}", '"raw":', "[", "\x00", "\x1d", ID, OTHER, "é", "]C1", "A"])
).map("".join)


@given(st.one_of(LINES.map(str.encode), st.binary(max_size=80)))
def test_any_file_is_read_or_refused_with_faults(data):
    try:
        reads = read_scans("any", data)
    except ScanFaults as caught:
        assert caught.faults
    else:
        assert len({read.read_id for read in reads}) == len(reads)


@given(st.text(max_size=60))
def test_any_typed_text_is_read_without_loss_or_refused(text):
    try:
        read = typed(text)
    except BadRequest as caught:
        assert caught.next_step
    else:
        assert read.symbology + read.raw == text.strip("\r\n\t\x02\x03\x00")


@given(
    st.lists(
        st.tuples(
            st.uuids(),
            st.text(st.characters(min_codepoint=33, max_codepoint=0x2FF, exclude_categories=["Cc"]), min_size=1),
        ),
        max_size=5,
        unique_by=lambda pair: pair[0],
    )
)
def test_every_row_of_a_json_list_comes_back(rows):
    lines = [
        json.dumps({"scan_id": str(uuid), "scanned_at": "2026-03-02T07:15:00Z", "raw": f"A{text}"})
        for uuid, text in rows
    ]
    if lines:
        reads = read_scans("s", "\n".join(lines).encode())
        assert [(UUID(read.read_id), read.raw) for read in reads] == [
            (uuid, f"A{text}".replace(r"\x1d", "\x1d").replace(r"\x1D", "\x1d")) for uuid, text in rows
        ]
