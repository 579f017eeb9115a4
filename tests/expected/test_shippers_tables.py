"""Tables with a shipper's own headings, dates and decimals; files in other character sets; workbooks made to hurt."""

import io
import resource
import time
import zipfile

import pytest

from receiving.errors import ManifestFaults
from receiving.expected import ColumnMapping, DateForm, DecimalSign, read_manifests, read_table_sample
from tests.expected.test_table_files import HEADER, workbook

KX = ColumnMapping(
    "Kestrel Crates",
    (("Lieferung", "shipment"), ("Filiale", "store"), ("Karton", "carton"), ("Gewicht", "weight_kg"), ("Menge", "qty")),
    DateForm.DMY,
    DecimalSign.COMMA,
    (("kind", "tray"),),
)
TABLE = "Kestrel Crates GmbH;;;;;\nLieferung;Filiale;Karton;Gewicht;Menge;Farbe\nL1;0417;01;4,5;1.200;rot\n"


def test_a_mapped_table_is_read_with_its_own_headings_decimals_and_constants() -> None:
    found = read_manifests("t.csv", TABLE.encode(), mappings=(KX,))
    (carton,) = found.manifests[0].cartons
    assert (found.manifests[0].store, carton.weight_kg, carton.contents[0].qty) == ("0417", 4.5, 1200)
    assert "line 2: its columns were read as those of shipper 'Kestrel Crates'" in map(str, found.warnings)


@pytest.mark.parametrize(
    ("form", "written"), [(DateForm.DMY, "9.3.2026"), (DateForm.MDY, "3/9/26"), (DateForm.YMD, "2026/03/09")]
)
def test_dates_are_read_in_the_order_of_the_shipper(form: DateForm, written: str) -> None:
    columns = (("Sh", "shipment"), ("St", "store"), ("C", "carton"), ("V", "visit_date"))
    mapping = ColumnMapping("X", columns, form, constants=(("kind", "tray"),))
    (manifest,) = read_manifests("t.csv", f"Sh,St,C,V\nS,1,01,{written}\n".encode(), mappings=(mapping,)).manifests
    assert str(manifest.dispatch_date) == "2026-03-09"


def test_a_day_that_cannot_be_is_a_fault_and_not_another_day() -> None:
    columns = (("Sh", "shipment"), ("St", "store"), ("C", "carton"), ("V", "visit_date"))
    mapping = ColumnMapping("X", columns, DateForm.MDY, constants=(("kind", "tray"),))
    with pytest.raises(ManifestFaults, match="'2026-31-12' is not a day of the calendar"):
        read_manifests("t.csv", b"Sh,St,C,V\nS,1,01,31/12/2026\n", mappings=(mapping,))


def test_of_two_mappings_that_fit_the_one_that_says_more_is_used_and_no_guess_is_made_between_equals() -> None:
    less = ColumnMapping("Less", KX.columns[:3], constants=(("kind", "parts"),))
    (manifest,) = read_manifests("t.csv", TABLE.encode(), mappings=(less, KX)).manifests
    assert manifest.cartons[0].weight_kg == 4.5
    twin = ColumnMapping("Twin", KX.columns, constants=(("kind", "parts"),))
    with pytest.raises(ManifestFaults, match="no header row was found"):
        read_manifests("t.csv", TABLE.encode(), mappings=(twin, KX))


def test_a_sample_shows_the_headings_and_ten_rows() -> None:
    rows = "".join(f"L1;0417;{n:02d};1,5;1;rot\n" for n in range(1, 15))
    sample = read_table_sample("t.csv", (TABLE.split("L1")[0] + rows).encode())
    assert (sample.line, sample.headings[:3], len(sample.rows)) == (2, ("Lieferung", "Filiale", "Karton"), 10)
    assert sample.rows[0][:3] == ("L1", "0417", "01")


PLAIN = "shipment,store,carton,kind,description\nS,1,01,tray,Café Łódź\n"


@pytest.mark.parametrize("encoding", ["utf-16", "utf-16-le", "utf-16-be"])
@pytest.mark.parametrize("character", [",", "\t"])
def test_utf_16_is_read_and_said(encoding: str, character: str) -> None:
    found = read_manifests("t.csv", PLAIN.replace(",", character).encode(encoding))
    assert found.manifests[0].cartons[0].contents[0].description == "Café Łódź"
    assert "the file is in UTF-16 ('Unicode text'); it was read so" in map(str, found.warnings)


def test_windows_1252_is_read_and_its_signs_are_shown() -> None:
    found = read_manifests("t.csv", PLAIN.replace("Łódź", "Müller").encode("cp1252"))
    assert found.manifests[0].cartons[0].contents[0].description == "Café Müller"
    assert "the file is not UTF-8; it was read as Windows-1252: look at é ü in its names" in map(str, found.warnings)


def cpu(data: bytes) -> tuple[float, ManifestFaults]:
    started = time.process_time()
    with pytest.raises(ManifestFaults) as refused:
        read_manifests("t", data)
    return time.process_time() - started, refused.value


def sheet(rows: str) -> bytes:
    """A workbook whose sheet holds these rows of XML."""
    whole = workbook([HEADER])
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(whole)) as book, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as made:
        for part in book.namelist():
            data = book.read(part)
            if part.startswith("xl/worksheets/"):
                head = data.decode().replace("</sheetData>", rows + "</sheetData>")
                data = head.encode()
            made.writestr(part, data)
    return out.getvalue()


def test_a_workbook_of_empty_rows_is_refused_after_the_rows_that_are_read() -> None:
    _, refused = cpu(sheet('<row r="3000000"><c r="A3000000"><v>1</v></c></row>'))
    assert "more than 200,000 rows" in str(refused)


def test_a_workbook_that_unpacks_to_much_is_refused_before_it_is_opened() -> None:
    seconds, refused = cpu(sheet("<row/>" * 11_000_000))
    assert "the workbook unpacks to 66," in str(refused)
    assert seconds < 5


def test_one_formula_does_not_hold_the_whole_workbook() -> None:
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    cells = "".join(f'<c r="{column}%d"><v>%d</v></c>' for column in "ABCDEFGH")
    rows = "".join(f'<row r="{n}">' + cells % ((n,) * 16) + "</row>" for n in range(3, 20_000))
    _, refused = cpu(sheet('<row r="2"><c r="A2"><f>1+1</f></c></row>' + rows))
    assert "the cell holds a formula without its result" in str(refused)
    assert (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) / 1024 < 120


def test_at_most_a_hundred_faults_are_listed_and_garbage_is_not_read_to_its_end() -> None:
    rows = "".join(f"S,1,{n},nothing\n" for n in range(1, 500))
    _, refused = cpu(f"shipment,store,carton,kind\n{rows}".encode())
    assert len(refused.faults) == 101
    assert str(refused.faults[-1]).endswith("399 more faults are not listed; correct these first")
    seconds, refused = cpu(b"shipment,store,carton,kind\n" + b"a\n" * 2_000_000)
    assert "at least 1,000 more faults are not listed" in str(refused)
    assert seconds < 5
