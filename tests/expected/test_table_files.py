"""A manifest workbook: the first sheet, with what spreadsheets do to numbers undone or called damaged.

A workbook that was damaged on its way is read or refused in our own words, whatever happened to it.
"""

import io
import zipfile
from collections.abc import Callable, Sequence
from datetime import date, datetime

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from openpyxl import Workbook

from receiving.errors import ManifestFaults
from receiving.expected import SourceFormat, read_manifests
from receiving.expected import table_files as xlsx_module
from receiving.expected.table_files import workbook_text, xlsx_rows
from receiving.model import Address
from tests.expected.edi_messages import sscc

HEADER = [
    "shipment",
    "store",
    "carton",
    "kind",
    "sscc",
    "section",
    "column",
    "row",
    "open_first",
    "qty",
    "dispatch_date",
]


def workbook(rows: Sequence[Sequence[object]], change: Callable[[Workbook], None] = lambda _: None) -> bytes:
    book = Workbook()
    sheet = book.active
    assert sheet is not None
    for row in rows:
        sheet.append(row)
    change(book)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def faults(data: bytes) -> list[str]:
    with pytest.raises(ManifestFaults) as refused:
        read_manifests("m.xlsx", data)
    return [str(fault) for fault in refused.value.faults]


def test_numbers_dates_and_truth_values_become_what_was_meant() -> None:
    row = ["W7", 417, 7.0, "tray", sscc(7), "Harbor", 3.0, 2, True, 4.0, datetime(2026, 3, 9)]
    read = read_manifests("m.xlsx", workbook([HEADER, row]))
    (manifest,) = read.manifests
    assert (manifest.store, manifest.dispatch_date, read.source_format) == ("417", date(2026, 3, 9), SourceFormat.XLSX)
    (carton,) = manifest.cartons
    assert (carton.carton, str(carton.sscc), carton.open_first) == ("7", sscc(7), True)
    assert (carton.addresses, carton.contents[0].qty) == ((Address("Harbor", 3, 2),), 4)


def test_a_long_narrow_sheet_is_read_to_its_end() -> None:
    book = Workbook(write_only=True)
    sheet = book.create_sheet()
    sheet.append(HEADER[:4])
    for number in range(15_100):
        sheet.append([f"W{number // 50}", "0417", f"{number % 50}", "tray"])
    out = io.BytesIO()
    book.save(out)
    assert sum(1 for _ in xlsx_rows("m.xlsx", out.getvalue())) == 15_101


def test_the_header_is_found_below_title_rows() -> None:
    rows = [["Wave 7"], [], ["made by", "the office"], HEADER[:4], ["W7", "0417", "07", "tray"]]
    assert read_manifests("m.xlsx", workbook(rows)).manifests[0].cartons[0].carton == "07"


def test_an_sscc_that_is_stored_as_a_number_is_damaged_and_the_row_is_named() -> None:
    (fault,) = faults(workbook([HEADER, ["W7", "1", "7", "tray", int(sscc(7))]]))
    assert fault.startswith("line 2, column 5 (sscc): 195200000000000")
    assert "is stored as a number: a spreadsheet keeps 15 digits of it and the rest is damaged" in fault


def test_an_id_that_became_a_date_is_called_so() -> None:
    (fault,) = faults(workbook([HEADER, ["W7", "1", datetime(2026, 3, 2), "tray"]]))
    assert fault == (
        "line 2, column 3 (carton): the spreadsheet turned this into the date 2026-03-02; "
        "format the column as text and enter the value again from its source"
    )


def test_leading_zeros_that_a_number_format_shows_are_kept() -> None:
    def zeros(book: Workbook) -> None:
        book.active["B2"].number_format = "0000"  # type: ignore[index]

    assert read_manifests("m", workbook([HEADER, ["W7", 417, "7", "tray"]], zeros)).manifests[0].store == "0417"


def test_an_error_of_a_formula_and_an_empty_cell_are_faults() -> None:
    assert faults(workbook([HEADER[:4], ["W7", "#N/A", "7", None]])) == [
        "line 2, column 2 (store): the cell shows the spreadsheet error #N/A",
        "line 2, column 4 (kind): kind is empty; every row needs it",
    ]


def test_only_the_first_sheet_is_read() -> None:
    def second(book: Workbook) -> None:
        book.create_sheet("more").append(HEADER)

    assert len(read_manifests("m", workbook([HEADER, ["W7", "1", "7", "tray"]], second)).manifests) == 1


@pytest.mark.parametrize(
    ("value", "number_format", "text", "damaged"),
    [
        (7.0, "General", "7", False),
        (0.1, "General", "0.1", False),
        (1e-05, "General", "0.00001", False),
        (123456789012345, "General", "123456789012345", False),
        (1952000000000000, "General", "1952000000000000", True),
        (1.952e17, "0", "195200000000000000", True),
        (7, "00", "07", False),
        (float("inf"), "General", "inf", True),
        ("\u00a0a\n", "General", "a", False),
    ],
)
def test_a_cell_becomes_text(value: object, number_format: str, text: str, damaged: bool) -> None:
    # 15 significant digits: the documented limit of the usual spreadsheet programs (IEEE 754 binary64).
    found, damage = workbook_text(value, number_format)
    assert (found, bool(damage)) == (text, damaged)


def test_damaged_workbooks_are_refused_in_words() -> None:
    good = workbook([HEADER, ["W7", "1", "7", "tray"]])
    assert "cut off or damaged" in faults(good[:200])[0]
    hollow = io.BytesIO()
    import zipfile

    with zipfile.ZipFile(hollow, "w") as archive:
        archive.writestr("a.txt", "a")
    assert "no XLSX workbook" in faults(hollow.getvalue())[0]
    broken = io.BytesIO()
    with zipfile.ZipFile(broken, "w") as archive, zipfile.ZipFile(io.BytesIO(good)) as whole:
        for part in whole.namelist():
            archive.writestr(part, b"<" if part.endswith("sheet1.xml") else whole.read(part))
    assert "the workbook is damaged and cannot be opened" in faults(broken.getvalue())[0]


def test_a_formula_without_its_result_is_not_taken_for_an_empty_cell() -> None:
    assert faults(workbook([HEADER[:4], ["W7", "1", '="0"&7', "tray"]])) == [
        "line 2, column 3 (carton): the cell holds a formula without its result; open and save the workbook once"
    ]


def with_strings(number: int) -> bytes:
    """A workbook of a header alone that carries a part with this many texts."""
    out = io.BytesIO(workbook([HEADER]))
    with zipfile.ZipFile(out, "a", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/sharedStrings.xml", "<sst>" + "<si><t>a</t></si>" * number + "</sst>")
    return out.getvalue()


def test_a_workbook_of_very_many_texts_is_refused_before_they_are_read(monkeypatch: pytest.MonkeyPatch) -> None:
    assert xlsx_module.MAX_STRINGS == 500_000
    with pytest.raises(ManifestFaults, match="the workbook has 500,001 different texts; at most 500,000 are read"):
        read_manifests("many.xlsx", with_strings(500_001))
    monkeypatch.setattr(xlsx_module, "MAX_STRINGS", 100)
    with pytest.raises(ManifestFaults, match="the workbook has 101 different texts"):
        read_manifests("many.xlsx", with_strings(101))
    with pytest.raises(ManifestFaults, match="there is no row below the header"):
        read_manifests("many.xlsx", with_strings(100))


def test_faults_below_empty_rows_name_the_row_of_the_sheet() -> None:
    assert faults(workbook([["title"], [], HEADER[:4], [], [], ["W7", "1", "7", "trya"]])) == [
        "line 6, column 4 (kind): kind 'trya' is not known; did you mean 'tray'?"
    ]


WHOLE = workbook([HEADER, ["S-1", "0417", "01", "tray", "395200000000000012", "Harbor", 1, 2, "no", 3, "2026-03-09"]])

PARTS = {name: zipfile.ZipFile(io.BytesIO(WHOLE)).read(name) for name in zipfile.ZipFile(io.BytesIO(WHOLE)).namelist()}


def read_or_refused(data: bytes) -> None:
    try:
        read_manifests("manifest.xlsx", data)
    except ManifestFaults as refused:
        assert refused.faults


@settings(max_examples=80, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.lists(st.tuples(st.integers(0, len(WHOLE) - 1), st.integers(0, 255)), min_size=1, max_size=6))
def test_bytes_changed_anywhere_in_the_file(changes: list[tuple[int, int]]) -> None:
    data = bytearray(WHOLE)
    for place, value in changes:
        data[place] = value
    read_or_refused(bytes(data))


@settings(max_examples=80, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.sampled_from(sorted(PARTS)), st.integers(0, 4000), st.binary(max_size=12), st.integers(0, 40))
def test_a_part_inside_the_workbook_changed_or_cut(name: str, place: int, put: bytes, taken: int) -> None:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as book:
        for part, data in PARTS.items():
            at = min(place, len(data))
            book.writestr(part, data[:at] + put + data[at + taken :] if part == name else data)
    read_or_refused(out.getvalue())


@settings(max_examples=30, deadline=None)
@given(st.integers(0, len(WHOLE)))
def test_a_workbook_cut_off_anywhere(length: int) -> None:
    read_or_refused(WHOLE[:length])


def test_a_workbook_of_too_many_parts_or_too_large_unpacked_is_refused_before_it_is_unpacked(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """OWASP ASVS 5.0, V5.2.3."""

    def unpack(*_: object) -> None:
        raise AssertionError("it was unpacked")

    files = {}
    for name, more in (
        ("many", {f"xl/x{n}.xml": b"" for n in range(5_000)}),
        ("large", {"xl/x.xml": b" " * 60_000_001}),
    ):
        out = io.BytesIO()
        with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as book:
            for part, data in {**PARTS, **more}.items():
                book.writestr(part, data)
        files[name] = out.getvalue()
    monkeypatch.setattr(zipfile.ZipFile, "open", unpack)
    for name, fault in (("many", "files inside; at most 5,000 are read"), ("large", "60,000,000 of a part")):
        with pytest.raises(ManifestFaults) as refused:
            read_manifests("m.xlsx", files[name])
        assert fault in str(refused.value)
