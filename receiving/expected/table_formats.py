"""A table (CSV or XLSX) as manifests; other binary files are told by their first bytes and refused in words."""

from collections.abc import Iterator, Sequence
from itertools import islice

from receiving.errors import Fault, ManifestFaults
from receiving.expected.csv_rows import csv_rows
from receiving.expected.decoding import decode_table
from receiving.expected.file_formats import is_ship_notice
from receiving.expected.kit import Kit, with_kit
from receiving.expected.manifest_table import MANIFEST_COLUMNS, manifests_of
from receiving.expected.mapping import SAMPLE_ROWS, ColumnMapping, TableSample, sample_of
from receiving.expected.results import SourceFormat
from receiving.expected.stream import ManifestStream, PlainLog, ProgressReporter
from receiving.expected.table import Findings, Row
from receiving.expected.xlsx_rows import xlsx_rows
from receiving.messages import Text, message

_OTHER_FILES = {
    b"\xd0\xcf\x11\xe0": message(
        "this is a workbook of the old XLS kind; open it and save the table as XLSX or CSV UTF-8"
    ),
    b"%PDF": message("this is a PDF; ask the shipper for the table or the EDI file it was printed from"),
    b"\xff\xd8\xff": message("this is a photo; photos of labels are read on the shipment's page"),
    b"\x89PNG": message("this is a picture; photos of labels are read on the shipment's page"),
    b"{": message("this is JSON; a manifest is CSV, XLSX, X12 856 or EDIFACT DESADV"),
    b"<": message("this is XML or a web page; a manifest is CSV, XLSX, X12 856 or EDIFACT DESADV"),
    b"GS*": message("this is X12 without its ISA header; ask the shipper for the whole interchange"),
    b"ST*": message("this is X12 without its ISA header; ask the shipper for the whole interchange"),
    b"\x1f\x8b": message("this file is compressed; unpack it first"),
}


def table_stream(
    name: str, data: bytes, kit: Kit | None, reporter: ProgressReporter, mappings: Sequence[ColumnMapping] = ()
) -> ManifestStream:
    """All manifests of a table, checked to its end; raises `ManifestFaults` with every fault."""
    kind = SourceFormat.XLSX if data.startswith(b"PK") else SourceFormat.CSV
    found = Findings()
    manifests = manifests_of(_rows(name, data, kind, found), found, mappings)
    if found.faults:
        raise ManifestFaults(name, found.sorted_faults())
    if kit is not None:
        manifests = tuple(with_kit(manifest, kit, found) for manifest in manifests)
    reporter.read(len(data))
    return ManifestStream(kind, map(reporter.made, manifests), PlainLog(found.all_warnings()))


def read_table_sample(name: str, data: bytes) -> TableSample:
    """The headings and first rows of a table, whatever it is headed; raises ManifestFaults where it is no table."""
    if is_ship_notice(data[:1024]):
        raise ManifestFaults(name, (Fault(0, 0, message("this is a ship notice and not a table: it has no headings")),))
    kind = SourceFormat.XLSX if data.startswith(b"PK") else SourceFormat.CSV
    rows = (row for row in _rows(name, data, kind, Findings()) if not row.blank)
    return sample_of(list(islice(rows, 30 + SAMPLE_ROWS)))


def _rows(name: str, data: bytes, kind: SourceFormat, found: Findings) -> Iterator[Row]:
    if kind is SourceFormat.XLSX:
        return xlsx_rows(name, data)
    other: Text = next((words for start, words in _OTHER_FILES.items() if data.startswith(start)), "")
    text, fault, said = ("", Fault(0, 0, other), "") if other else decode_table(data)
    if fault:
        raise ManifestFaults(name, (fault,))
    if said:
        found.warn(0, said)
    return csv_rows(text, MANIFEST_COLUMNS, found)
