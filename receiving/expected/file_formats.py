"""Manifest files: tells by the content what came in, and reads it, an EDI file a message at a time."""

import io
import re
from collections.abc import Callable, Iterator, Sequence
from typing import TYPE_CHECKING, BinaryIO

from receiving.errors import Fault, ManifestFaults
from receiving.expected import edi_codes
from receiving.expected.asn856 import x12_notices
from receiving.expected.desadv import edifact_notices
from receiving.expected.edi import EdiLog, EdiSource
from receiving.expected.interchange import edifact_segments, x12_segments
from receiving.expected.notice import Assembly
from receiving.expected.programme_tables import Kit
from receiving.expected.results import (
    ManifestFile,
    ManifestStream,
    NotUnderstood,
    Progress,
    ProgressReporter,
    SourceFormat,
)
from receiving.expected.table import ColumnMapping
from receiving.messages import Text, figure, joined, message
from receiving.model import Manifest

if TYPE_CHECKING:
    from receiving.expected.notice import Assembly, Notice
from itertools import islice

from receiving.expected.manifest_table import MANIFEST_COLUMNS, manifests_of
from receiving.expected.programme_tables import with_kit
from receiving.expected.results import PlainLog
from receiving.expected.table import SAMPLE_ROWS, Findings, Row, TableSample, sample_of
from receiving.expected.table_files import csv_rows, decode_table, xlsx_rows

_HEAD_BYTES = 4096
_EDGES = b" \t\r\n\x00\x1a\xef\xbb\xbf"
_X12 = re.compile(rb"ISA[^A-Za-z0-9\s]")
_EDIFACT = re.compile(rb"UNA[^A-Za-z0-9]|UNB[^A-Za-z0-9]|UNH[^A-Za-z0-9]")


def read_manifests(
    name: str, data: bytes, *, kit: Kit | None = None, mappings: Sequence[ColumnMapping] = ()
) -> ManifestFile:
    """All manifests of a file (CSV, XLSX, X12 856, EDIFACT DESADV); raises `ManifestFaults` with every fault.

    ``mappings`` say how the tables of known shippers are read.
    """
    stream = stream_manifests(name, io.BytesIO(data), kit=kit, mappings=mappings)
    manifests = tuple({manifest.shipment: manifest for manifest in stream}.values())
    warnings = sorted(stream.warnings, key=lambda fault: fault.line)
    return ManifestFile(
        manifests,
        stream.source_format,
        tuple(warnings),
        tuple(stream.not_understood),
        tuple(stream.unused),
        stream.used,
        stream.listed,
    )


def stream_manifests(
    name: str,
    file: BinaryIO,
    *,
    kit: Kit | None = None,
    mappings: Sequence[ColumnMapping] = (),
    progress: Callable[[Progress], None] | None = None,
) -> ManifestStream:
    """The manifests of a file as they are understood, for files that are too long to hold.

    An EDI file is read in blocks and yields a message at a time. A table is checked to its end before the first
    manifest comes, because one fault stops all of it. ``progress`` is called after each block and each manifest.
    """
    start = file.tell()
    head = file.read(_HEAD_BYTES)
    file.seek(start)
    say = ProgressReporter(progress)
    plain = head.lstrip(_EDGES)
    if is_ship_notice(head):
        return _edi_stream(name, file, kit, say, x12=plain.startswith(b"ISA"))
    return table_stream(name, file.read(), kit, say, mappings)


def is_ship_notice(head: bytes) -> bool:
    """True when a file begins as X12 or EDIFACT does; ``head`` is its first some hundred bytes."""
    plain = head.lstrip(_EDGES)
    return bool(_X12.match(plain) or _EDIFACT.match(plain))


def _edi_stream(name: str, file: BinaryIO, kit: Kit | None, reporter: ProgressReporter, *, x12: bool) -> ManifestStream:
    log = EdiLog(name)
    source = EdiSource(file, reporter.read)
    kind = SourceFormat.X12 if x12 else SourceFormat.EDIFACT
    preference = edi_codes.X12_ITEM_PREFERENCE if x12 else edi_codes.ITEM_PREFERENCE
    made = _manifests(_notices(source, log, x12=x12), Assembly(log, kit, preference), source, reporter, kind)
    return ManifestStream(kind, made, log)


def _manifests(
    notices: "Iterator[Notice]",
    assembly: "Assembly",
    source: "EdiSource",
    reporter: ProgressReporter,
    kind: SourceFormat,
) -> Iterator[Manifest]:
    count = 0
    for notice in notices:
        count += 1
        for manifest in assembly.manifests(notice):
            yield reporter.made(manifest)
    log = assembly.log
    if source.bytes_not_utf8:
        log.warn(
            0,
            "",
            message(
                "{number} bytes are not UTF-8; they were read as {charset}",
                number=figure(source.bytes_not_utf8),
                charset=source.charset,
            ),
        )
    log.close()
    if not count:
        found: Text = next((_quoted(entry) for entry in log.not_understood), "")
        what = joined(
            message("the file holds no {format} (advance ship notice)", format=kind.words), found, separator="; "
        )
        raise ManifestFaults(log.name, (Fault(0, 0, what),), next_step=message("Ask the shipper for it."))


def _quoted(entry: NotUnderstood) -> Text:
    text = repr(entry.text[:60]) if isinstance(entry.text, str) else entry.text
    return message("{text}: {why}", text=text, why=entry.why)


def _notices(source: "EdiSource", log: "EdiLog", *, x12: bool) -> "Iterator[Notice]":
    if x12:
        return x12_notices(x12_segments(source, log), log)
    return edifact_notices(edifact_segments(source, log), log)


# A table (CSV or XLSX) as manifests; other binary files are told by their first bytes and refused in words.


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
    """The headings and first rows of a table, whatever it is headed; raises ManifestFaults where it is not a table."""
    if is_ship_notice(data[:1024]):
        raise ManifestFaults(name, (Fault(0, 0, message("this is a ship notice and not a table: it has no headings")),))
    kind = SourceFormat.XLSX if data.startswith(b"PK") else SourceFormat.CSV
    rows = (row for row in _rows(name, data, kind, Findings()) if not row.blank)
    return sample_of(list(islice(rows, 30 + SAMPLE_ROWS)))


def _rows(name: str, data: bytes, kind: SourceFormat, found: Findings) -> Iterator[Row]:
    if kind is SourceFormat.XLSX:
        return xlsx_rows(name, data)
    other: Text = next((words for start, words in _OTHER_FILES.items() if data.startswith(start)), "")
    text, fault, stated = ("", Fault(0, 0, other), "") if other else decode_table(data)
    if fault:
        raise ManifestFaults(name, (fault,))
    if stated:
        found.warn(0, stated)
    return csv_rows(text, MANIFEST_COLUMNS, found)
