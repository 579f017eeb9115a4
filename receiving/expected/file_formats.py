"""Manifest files: tells by the content what came in, and reads it, an EDI file a message at a time."""

import io
import re
from collections.abc import Callable, Iterator, Sequence
from typing import TYPE_CHECKING, BinaryIO

from receiving.errors import Fault, ManifestFaults
from receiving.expected.kit import Kit
from receiving.expected.mapping import ColumnMapping
from receiving.expected.results import ManifestFile, NotUnderstood, Progress, SourceFormat
from receiving.expected.stream import ManifestStream, ProgressReporter
from receiving.messages import Text, figure, joined, message
from receiving.model import Manifest

if TYPE_CHECKING:
    from receiving.expected.assemble import Assembly
    from receiving.expected.edi import EdiLog, EdiSource
    from receiving.expected.notice import Notice

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
    from receiving.expected.table_formats import table_stream

    return table_stream(name, file.read(), kit, say, mappings)


def is_ship_notice(head: bytes) -> bool:
    """True when a file begins as X12 or EDIFACT does; ``head`` is its first some hundred bytes."""
    plain = head.lstrip(_EDGES)
    return bool(_X12.match(plain) or _EDIFACT.match(plain))


def _edi_stream(name: str, file: BinaryIO, kit: Kit | None, reporter: ProgressReporter, *, x12: bool) -> ManifestStream:
    from receiving.expected import edi_codes
    from receiving.expected.assemble import Assembly
    from receiving.expected.edi import EdiLog, EdiSource

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
        from receiving.expected.asn856 import x12_notices
        from receiving.expected.x12 import x12_segments

        return x12_notices(x12_segments(source, log), log)
    from receiving.expected.desadv import edifact_notices
    from receiving.expected.edifact import edifact_segments

    return edifact_notices(edifact_segments(source, log), log)
