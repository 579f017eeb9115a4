"""``receiving reconcile``: photos and scans against a manifest, without a data folder."""

import argparse
import hashlib
from collections.abc import Callable, Iterable
from datetime import UTC, datetime
from pathlib import Path
from typing import TypeVar

from receiving.cli import DONE, FAILED, INCOMPLETE
from receiving.commands.files import FileKind, bytes_of_kind, one_manifest, photo_paths, read_photos
from receiving.commands.in_words import reconciliation_in_words
from receiving.commands.terminal import fault_words, show, show_fault, show_json
from receiving.errors import ReceivingError
from receiving.expected import read_layout, read_manifests
from receiving.matching import reconcile, things_to_check
from receiving.messages import message
from receiving.model import ExpectedCode, Manifest, PhotoReading, Place, RawRead, Unreadable
from receiving.model.limits import PLAN_SEARCH_S
from receiving.reading import default_patterns, expected_codes, interpret, read_patterns, read_scans
from receiving.reading.scans import photo_reads
from receiving.staging import plan_staging
from receiving.wording.plain import reconciliation_as_json

_T = TypeVar("_T")


def run_reconcile(options: argparse.Namespace) -> int:
    """Print the reconciliation; status 3 with shorts or overs, 1 when a photo could not be opened."""
    manifests = _manifests([options.manifest])
    manifest = one_manifest(manifests, options.shipment)
    others = (*(m for m in manifests if m is not manifest), *_manifests(options.others))
    layout = _given(options.layout, FileKind.LAYOUT, read_layout)
    scans = _given(options.scans, FileKind.SCANS, read_scans) or ()
    patterns = _given(options.patterns, FileKind.PATTERNS, read_patterns) or default_patterns()
    seen = _Seen()
    seen.look(photo_paths(options.photos), tuple(expected_codes([manifest, *others])), options.limit_s)
    reads = tuple(interpret(raw, patterns) for raw in (*seen.reads, *scans))
    found = reconcile(manifest, reads, others=others, unread=seen.unread)
    plan = plan_staging(manifest, found, layout, time_limit_s=PLAN_SEARCH_S)
    check = things_to_check(found, reads, failed=(error["photo"] for error in seen.errors))
    if options.json:
        plain = reconciliation_as_json(found, plan, manifest, seen.names)
        show_json({**plain, "to_check": check.count, "photo_errors": seen.errors})
    else:
        show(reconciliation_in_words(found, plan, manifest, check.count, seen.names))
    if seen.errors:
        return FAILED
    return DONE if found.complete else INCOMPLETE


def _given(path: Path | None, kind: FileKind, read: Callable[[str, bytes], _T]) -> _T | None:
    """What this file holds, None where none was named."""
    return read(path.name, bytes_of_kind(path, kind)) if path else None


def _manifests(paths: Iterable[Path]) -> tuple[Manifest, ...]:
    found: list[Manifest] = []
    for path in paths:
        file = read_manifests(path.name, bytes_of_kind(path, FileKind.MANIFEST))
        for warning in file.warnings:
            show_fault(message("{file}: {fault}", file=path.name, fault=warning.words))
        found += file.manifests
    return tuple(found)


class _Seen:
    """What the photos gave: raw reads, unread labels, and the photos that could not be read."""

    def __init__(self) -> None:
        self.reads: list[RawRead] = []
        self.unread: list[Unreadable] = []
        self.errors: list[dict[str, str]] = []
        self.names: dict[str, str] = {}

    def look(self, paths: tuple[Path, ...], expected: tuple[ExpectedCode, ...], limit_s: float) -> None:
        if not paths:
            return
        for path, data, result in read_photos(paths, expected, limit_s=limit_s):
            if isinstance(result, ReceivingError):
                self.errors.append({"photo": str(path), "error": str(result)})
                show_fault(message("{file}: {fault}", file=str(path), fault=fault_words(result)))
            else:
                self._keep(path, data, result)

    def _keep(self, path: Path, data: bytes, reading: PhotoReading) -> None:
        photo = hashlib.sha256(data).hexdigest()
        self.names[photo] = str(path)
        self.reads += photo_reads(photo, reading, datetime.now(UTC), Place.OTHER, "")
        self.unread += (Unreadable(photo, region.quad_px, region.advice) for region in reading.unread)
