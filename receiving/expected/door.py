"""The room's door for manifests: tells by the content what came in, and reads it."""

from receiving.errors import ManifestFaults
from receiving.expected.csv_rows import csv_rows
from receiving.expected.decoding import decode_table
from receiving.expected.kit import Kit, with_kit
from receiving.expected.manifest_table import MANIFEST_COLUMNS, manifests_of
from receiving.expected.results import ManifestFile, SourceFormat
from receiving.expected.table import Findings


def read_manifests(name: str, data: bytes, *, kit: Kit | None = None) -> ManifestFile:
    """All manifests of a CSV file; raises `ManifestFaults` with every fault."""
    found = Findings()
    text, fault = decode_table(data)
    if fault:
        raise ManifestFaults(name, (fault,))
    manifests = manifests_of(csv_rows(text, MANIFEST_COLUMNS, found), found)
    if found.faults:
        raise ManifestFaults(name, found.sorted_faults())
    if kit:
        manifests = tuple(with_kit(manifest, kit, found) for manifest in manifests)
    return ManifestFile(manifests, SourceFormat.CSV, tuple(found.warnings))
