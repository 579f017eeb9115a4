"""An EDI file as a stream of manifests: segments -> notices -> manifests."""

from collections.abc import Iterator
from typing import BinaryIO

from receiving.errors import Fault, ManifestFaults
from receiving.expected.assemble import Assembly
from receiving.expected.edi_log import EdiLog
from receiving.expected.edi_source import EdiSource
from receiving.expected.kit import Kit
from receiving.expected.notice import Notice
from receiving.expected.results import SourceFormat
from receiving.expected.stream import ManifestStream, Said
from receiving.model import Manifest


def edi_stream(name: str, file: BinaryIO, kit: Kit | None, said: Said, *, x12: bool) -> ManifestStream:
    """The manifests of an X12 or EDIFACT file, a message at a time."""
    log = EdiLog(name)
    source = EdiSource(file, said.read)
    notices = _x12(source, log) if x12 else _edifact(source, log)
    kind = SourceFormat.X12 if x12 else SourceFormat.EDIFACT
    made = _manifests(notices, Assembly(log, kit, _preference(kind)), source, said, kind)
    return ManifestStream(kind, made, log.warnings, log.not_understood)


def _manifests(
    notices: Iterator[Notice], assembly: Assembly, source: EdiSource, said: Said, kind: SourceFormat
) -> Iterator[Manifest]:
    count = 0
    for notice in notices:
        count += 1
        for manifest in assembly.manifests(notice):
            yield said.made(manifest)
    log = assembly.log
    if source.bytes_not_utf8:
        log.warn(0, "", f"{source.bytes_not_utf8:,} bytes are not UTF-8; they were read as {source.charset}")
    log.close()
    if not count:
        raise ManifestFaults(log.name, (Fault(0, 0, _nothing(kind, log)),), next_step="Ask the shipper for it.")


def _nothing(kind: SourceFormat, log: EdiLog) -> str:
    found = next((f"; {entry.text[:60]!r}: {entry.why}" for entry in log.not_understood), "")
    return f"the file holds no {kind.words} (advance ship notice){found}"


def _preference(kind: SourceFormat) -> tuple[str, ...]:
    from receiving.expected import edifact_codes, x12_codes

    return x12_codes.ITEM_PREFERENCE if kind is SourceFormat.X12 else edifact_codes.ITEM_PREFERENCE


def _x12(source: EdiSource, log: EdiLog) -> Iterator[Notice]:
    from receiving.expected.x12 import x12_notices
    from receiving.expected.x12_text import x12_segments

    return x12_notices(x12_segments(source, log), log)


def _edifact(source: EdiSource, log: EdiLog) -> Iterator[Notice]:
    from receiving.expected.edifact import edifact_notices
    from receiving.expected.edifact_text import EdifactText

    return edifact_notices(EdifactText(source, log), log)
