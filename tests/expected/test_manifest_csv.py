"""A manifest CSV: read whole, written back equal, or refused with every fault."""

from datetime import date

import pytest

from receiving.errors import ManifestFaults
from receiving.expected import SourceFormat, read_manifests, write_manifest_csv
from receiving.model import Address, Carton, CartonKind, ContentLine, Manifest, Sscc
from tests.expected.edi_messages import sscc

HEADER = (
    "shipment,store,carton,sscc,barcode,outer,kind,section,column,row,open_first,"
    "item,description,qty,unit,weight_kg,length_cm,width_cm,height_cm,dispatch_date"
)
GOOD = f"""{HEADER}
W7,0417,01,{sscc(1)},,,outer,,,,yes,,,,,20.5,60,40,40,2026-03-09
W7,0417,07,{sscc(7)},,01,tray,Harbor,3,2,no,T-1,"Tray, blue",2,EA,1.25,,,,2026-03-09
W7,0417,07,{sscc(7)},,01,tray,Harbor,3,3,no,T-2,"says ""left"" side",,,1.25,,,,2026-03-09
W7,0417,09,,CODE9,,graphic,Harbor,,,no,,,,,,,,,2026-03-09
"""


def faults(text: str | bytes) -> list[str]:
    data = text.encode() if isinstance(text, str) else text
    with pytest.raises(ManifestFaults) as refused:
        read_manifests("m.csv", data)
    return [str(fault) for fault in refused.value.faults]


def rows(*lines: str, header: str = "shipment,store,carton,kind") -> str:
    return "\n".join([header, *lines])


def test_rows_of_one_carton_become_its_content_lines() -> None:
    (manifest,) = read_manifests("m.csv", GOOD.encode()).manifests
    assert (manifest.shipment, manifest.store, manifest.dispatch_date) == ("W7", "0417", date(2026, 3, 9))
    assert [carton.carton for carton in manifest] == ["01", "07", "09"]
    assert manifest.cartons[1] == Carton(
        carton="07",
        kind=CartonKind.TRAY,
        sscc=Sscc(sscc(7)),
        outer="01",
        contents=(
            ContentLine("Harbor", Address("Harbor", 3, 2), "T-1", "Tray, blue", 2, "EA"),
            ContentLine("Harbor", Address("Harbor", 3, 3), "T-2", 'says "left" side'),
        ),
        weight_kg=1.25,
    )
    assert manifest.cartons[2].contents == (ContentLine("Harbor"),)


def test_what_is_written_reads_back_equal() -> None:
    read = read_manifests("m.csv", GOOD.encode())
    assert read_manifests("again.csv", write_manifest_csv(read).encode()).manifests == read.manifests


def test_references_survive_in_a_column_of_their_own() -> None:
    carton = Carton("1", CartonKind.TRAY, barcode="A\x1dB")
    manifest = Manifest("S", "1", (carton,), None, (("order", "PO=1"), ("carrier", "ABCD")))
    assert read_manifests("again.csv", write_manifest_csv([manifest]).encode()).manifests == (manifest,)


@pytest.mark.parametrize(
    "change",
    [
        lambda text: "\ufeff" + text,
        lambda text: text.replace("\n", "\r\n"),
        lambda text: text.replace("\n", "\r"),
        lambda text: text.rstrip("\n"),
        lambda text: text + "\n\n,,,,,,,,,,,,,,,,,,,\n",
        lambda text: text.replace("open_first", " Open First ").replace("shipment", "Shipment"),
        lambda text: "Wave 7 for the field\n\n" + text,
    ],
    ids=["BOM", "CRLF", "CR", "no last line break", "blank rows", "header in other words", "title above"],
)
def test_harmless_differences_change_nothing(change: object) -> None:
    assert callable(change)
    assert read_manifests("m", change(GOOD).encode()).manifests == read_manifests("m", GOOD.encode()).manifests


def test_semicolons_and_tabs_are_read_and_said() -> None:
    plain = rows("S,1,1,tray")
    for separator, words in ((";", "semicolons"), ("\t", "tabs")):
        read = read_manifests("m.csv", plain.replace(",", separator).encode())
        assert read.manifests == read_manifests("m.csv", plain.encode()).manifests
        warning = f"line 1: the cells are separated by {words} instead of commas; they were read so"
        assert warning in map(str, read.warnings)


def test_all_faults_of_a_file_come_at_once_and_nothing_is_loaded() -> None:
    bad = f"""{HEADER}
W7,0417,07,195200000000000017,,99,trey,Harbor,3,,maybe,,,0,,"2,5",-1,,,2026-02-30
W7,0418,08,1952,,,tray,Harbor,٣,2,no,,,,,,,,,2026-03-09
W7,,,,,,,,,,,,,,,,,,,
"""
    assert faults(bad) == [
        "line 2, column 4 (sscc): SSCC '195200000000000017' has check digit 7; its first 17 digits give 8; "
        "where the label shows exactly this number, put it into the column barcode",
        "line 2, column 6 (outer): carton '07' travels in outer '99', which this shipment lacks",
        "line 2, column 7 (kind): kind 'trey' is not known; did you mean 'tray'?",
        "line 2, column 10 (row): column '3' has no row; an address needs both",
        "line 2, column 11 (open_first): 'maybe' is neither 'yes' nor 'no'",
        "line 2, column 14 (qty): '0' is not a whole number of at least 1",
        "line 2, column 16 (weight_kg): '2,5' is not a decimal number above 0; write 2.5",
        "line 2, column 17 (length_cm): '-1' is not a decimal number above 0",
        "line 2, column 20 (dispatch_date): '2026-02-30' is not a day of the calendar",
        "line 3, column 2 (store): shipment 'W7' goes to store '0418' here; line 2 says '0417'",
        "line 3, column 4 (sscc): SSCC '1952' has 4 digits; an SSCC has 18",
        "line 3, column 9 (column): '٣' is not a whole number of at least 1",
        "line 3, column 20 (dispatch_date): shipment 'W7' has 2026-03-09 here; line 2 says none",
        "line 4, column 2 (store): store is empty; every row needs it",
        "line 4, column 3 (carton): carton is empty; every row needs it",
        "line 4, column 7 (kind): kind is empty; every row needs it",
    ]


def test_rows_of_a_carton_that_disagree_name_both_lines() -> None:
    text = rows("S,1,7,tray,2,no", "S,1,7,parts,3,yes", header="shipment,store,carton,kind,weight_kg,open_first")
    assert faults(text) == [
        "line 3, column 4 (kind): carton '7' has kind 'parts' here; line 2 says 'tray'",
        "line 3, column 5 (weight_kg): carton '7' has weight_kg '3.0' here; line 2 says '2.0'",
        "line 3, column 6 (open_first): carton '7' has open_first 'yes' here; line 2 says 'no'",
    ]


def test_a_row_that_leaves_out_what_another_says_is_told_in_plain_words() -> None:
    header = "shipment,store,carton,kind,barcode"
    assert faults(rows("S,1,7,tray,B1", "S,1,7,tray,", "S,1,8,tray,", "S,1,8,tray,B2", header=header)) == [
        "line 3, column 5 (barcode): carton '7' has no barcode here; line 2 says 'B1'",
        "line 5, column 5 (barcode): carton '8' has barcode 'B2' here; line 4 says none",
    ]


def test_an_sscc_on_two_cartons_names_the_other() -> None:
    text = rows(f"S,1,7,tray,{sscc(7)}", f"S,1,8,tray,{sscc(7)}", header="shipment,store,carton,kind,sscc")
    assert faults(text) == [
        f"line 3, column 5 (sscc): SSCC {sscc(7)} is on carton '8' too; line 2 gave it to carton '7'"
    ]


def test_outer_boxes_may_not_go_round_in_a_circle() -> None:
    text = rows("S,1,a,outer,b", "S,1,b,outer,c", "S,1,c,outer,a", header="shipment,store,carton,kind,outer")
    circle = "outer boxes are inside each other in a circle: 'a' > 'b' > 'c' > 'a'"
    assert faults(text) == [f"line 2, column 5 (outer): {circle}"]


@pytest.mark.parametrize(
    ("header", "words"),
    [
        ("shipmnt,store,carton,kind", "line 1, column 1 (shipmnt): column 'shipmnt' is not known; did you mean 'ship"),
        ("shipment,store,carton,kind,wieght_kg", "did you mean 'weight_kg'?"),
        ("shipment,store,carton", "line 1 (kind): column 'kind' is missing; it is required"),
        ("shipment,store,carton,kind,store", "line 1, column 5 (store): column 'store' is here and at column 2"),
        ("a,b,c", "line 1: no header row was found: expected the columns shipment, store, carton, kind"),
    ],
)
def test_a_wrong_header_is_named_with_the_nearest_right_one(header: str, words: str) -> None:
    assert words in faults(header + "\n")[0]


def test_a_column_that_is_unlike_any_other_is_a_warning() -> None:
    read = read_manifests("m.csv", rows("S,1,1,tray,x", header="shipment,store,carton,kind,remarks").encode())
    assert "line 1, column 5 (remarks): column 'remarks' is not known and was not used" in map(str, read.warnings)


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "the file is empty"),
        (b"  \r\n", "the file is empty"),
        (rows("S,1,1,tray").encode("utf-32"), "the file is in UTF-32"),
        (rows("S,Z\x81rich,1,tray").encode("latin-1"), "line 2: byte 0x81 is not UTF-8"),
        (b"shipment,store\nS,\x00", "line 2: a NUL byte"),
        (rows('S,1,"1,tray', "S,1,2,tray").encode(), "line 2: a double quote is opened here and never closed"),
        (rows('S,1,"1"x,tray').encode(), "line 2: text follows a closing double quote"),
        (rows("S,1,1,tray,left over").encode(), "line 2, column 5: the row has 5 cells, the header has 4: 'left over'"),
        (rows("S,1").encode(), "line 2, column 2: the row has only 2 of 4 cells"),
        (rows("S,1,1," + "x" * 200_000).encode(), "line 2: a cell holds more than 131,072 characters"),
        (rows("S,1," + "x" * 300 + ",tray").encode(), "has 300 characters; at most 120 are accepted"),
        (rows("S,1,a\x07,tray").encode(), "holds the control character U+0007"),
        (rows().encode(), "there is no row below the header"),
        (b"%PDF-1.7", "this is a PDF"),
        (b"\xff\xd8\xff\xe0", "this is a photo"),
        (b'{"a": 1}', "this is JSON"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1", "old XLS"),
    ],
)
def test_a_file_that_cannot_be_read_says_what_to_do(data: bytes, words: str) -> None:
    assert words in faults(data)[0]


def test_an_sscc_that_a_spreadsheet_has_damaged_is_called_so() -> None:
    text = rows("S,1,1,tray,1.952E+17", "S,1,2,tray,195200000000000000", header="shipment,store,carton,kind,sscc")
    first, second = faults(text)
    assert "SSCC '1.952E+17' was damaged by a spreadsheet, its last digits are lost" in first
    assert "SSCC '195200000000000000' has a wrong check digit and ends in 000: a spreadsheet damaged it" in second


def test_a_warning_that_many_shipments_share_is_one_line() -> None:
    text = rows(*(f"S-{n},{n},1,tray,B{n}" for n in range(800)), header="shipment,store,carton,kind,barcode")
    read = read_manifests("m.csv", text.encode())
    assert [str(warning) for warning in read.warnings] == [
        "800 shipments ('S-0', 'S-1', 'S-2', ...): no carton is marked open_first; is the column filled?"
    ]


def test_warnings_do_not_stop_a_file() -> None:
    header = "shipment,store,carton,kind,barcode,outer"
    read = read_manifests("m.csv", rows("S,1,1,tray,,", "S,1,2,tray,X,1", "S,1,3,tray,X,", header=header).encode())
    assert [str(warning) for warning in read.warnings] == [
        "shipment 'S': no carton is marked open_first; is the column filled?",
        "line 2: carton '1' has no sscc, no barcode and no address: only its printed number can match it",
        "line 3 (outer): carton '2' travels in '1', whose kind is 'tray', not 'outer'",
        "line 4 (barcode): cartons '2' (line 3) and '3' carry the same barcode 'X' and no sscc; "
        "a label cannot tell them apart",
    ]
    assert len(read.manifests[0].cartons) == 3


def test_one_file_may_hold_several_shipments() -> None:
    read = read_manifests("m.csv", rows("A,1,1,tray", "B,2,1,tray", "A,1,2,tray").encode())
    assert [(m.shipment, m.store, len(m.cartons)) for m in read] == [("A", "1", 2), ("B", "2", 1)]
    assert read.source_format is SourceFormat.CSV


def test_the_name_of_a_file_says_nothing_about_what_it_is() -> None:
    assert read_manifests("notice.edi", GOOD.encode()).source_format is SourceFormat.CSV


def test_words_of_a_header_inside_a_cell_move_neither_header_nor_separator() -> None:
    names = HEADER.split(",")
    for text in (";".join(names), "\n" + HEADER):
        carton = Carton("1", CartonKind.TRAY, contents=(ContentLine(description=f"see {text}"),))
        manifest = Manifest("S", "1", (carton,))
        assert read_manifests("again.csv", write_manifest_csv([manifest]).encode()).manifests == (manifest,)


def test_one_outer_box_may_hold_cartons_of_two_shipments() -> None:
    header = "shipment,store,carton,kind,sscc"
    text = rows(f"A,1,P,outer,{sscc(9)}", f"B,2,P,outer,{sscc(9)}", header=header)
    assert len(read_manifests("m.csv", text.encode()).manifests) == 2
    assert "of shipment 'A'" in faults(text.replace("outer", "tray"))[0]


def test_x12_without_its_header_is_told_apart_from_a_table() -> None:
    assert "X12 without its ISA header" in faults("ST*856*0001~BSN*00*W~")[0]


def test_a_whole_number_written_as_a_decimal_is_told_how_to_write_it() -> None:
    (fault,) = faults(rows("S,1,1,tray,3.0", header="shipment,store,carton,kind,qty"))
    assert fault == "line 2, column 5 (qty): '3.0' is not a whole number of at least 1; write 3"
