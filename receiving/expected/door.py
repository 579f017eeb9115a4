"""The room's door for manifests: tells by the content what came in, and reads it."""

import io
import re
from collections.abc import Callable
from typing import BinaryIO

from receiving.expected.kit import Kit
from receiving.expected.results import ManifestFile, Progress
from receiving.expected.stream import ManifestStream, Said

_HEAD_BYTES = 4096
_EDGES = b" \t\r\n\x00\x1a\xef\xbb\xbf"
_X12 = re.compile(rb"ISA[^A-Za-z0-9\s]")
_EDIFACT = re.compile(rb"UNA[^A-Za-z0-9]|UNB[^A-Za-z0-9]|UNH[^A-Za-z0-9]")


def read_manifests(name: str, data: bytes, *, kit: Kit | None = None) -> ManifestFile:
    """All manifests of a file (CSV, XLSX, X12 856, EDIFACT DESADV); raises `ManifestFaults` with every fault."""
    stream = stream_manifests(name, io.BytesIO(data), kit=kit)
    manifests = tuple({manifest.shipment: manifest for manifest in stream}.values())
    warnings = sorted(stream.warnings, key=lambda fault: fault.line)
    return ManifestFile(manifests, stream.source_format, tuple(warnings), tuple(stream.not_understood))


def stream_manifests(
    name: str, file: BinaryIO, *, kit: Kit | None = None, progress: Callable[[Progress], None] | None = None
) -> ManifestStream:
    """The manifests of a file as they are understood, for files that are too long to hold.

    An EDI file is read in blocks and yields a message at a time. A table is checked to its end before the first
    manifest comes, because one fault stops all of it. ``progress`` is called after each block and each manifest.
    """
    start = file.tell()
    head = file.read(_HEAD_BYTES)
    file.seek(start)
    say = Said(progress)
    plain = head.lstrip(_EDGES)
    if _X12.match(plain) or _EDIFACT.match(plain):
        from receiving.expected.edi_door import edi_stream

        return edi_stream(name, file, kit, say, x12=plain.startswith(b"ISA"))
    from receiving.expected.table_door import table_stream

    return table_stream(name, file.read(), kit, say)
