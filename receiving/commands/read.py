"""``receiving read``: the labels on photos."""

import argparse
import uuid
from datetime import UTC, datetime
from pathlib import Path

from receiving.cli import DONE, FAILED
from receiving.commands.as_json import Plain, reading_as_json
from receiving.commands.files import bytes_of_kind, photo_paths, read_photos
from receiving.commands.kinds import FileKind
from receiving.commands.terminal import show, show_json
from receiving.errors import ReceivingError
from receiving.model import ExpectedCode, LabelRead, PhotoReading, RawRead, Source, sure_words
from receiving.reading import default_patterns, expected_codes, interpret


def run(options: argparse.Namespace) -> int:
    """Print what each photo shows; status 1 when one could not be opened."""
    status = DONE
    expected = _expected(options.manifest)
    for path, _, result in read_photos(photo_paths(options.photos), expected, limit_s=options.limit_s):
        if isinstance(result, ReceivingError):
            status = FAILED
        show_json(_as_json(path, result)) if options.json else show(_words(path, result))
    return status


def _expected(manifest: Path | None) -> tuple[ExpectedCode, ...]:
    if manifest is None:
        return ()
    from receiving.expected import read_manifests

    return tuple(expected_codes(read_manifests(manifest.name, bytes_of_kind(manifest, FileKind.MANIFEST)).manifests))


def claims_of(reading: PhotoReading) -> tuple[LabelRead, ...]:
    """Each symbol of a reading with what it claims."""
    patterns = default_patterns()
    return tuple(
        interpret(
            RawRead(str(uuid.uuid4()), datetime.now(UTC), Source.PHOTO, s.raw, s.symbology, quad_px=s.quad_px), patterns
        )
        for s in reading.symbols
    )


def _as_json(path: Path, result: PhotoReading | ReceivingError) -> Plain:
    if isinstance(result, ReceivingError):
        return {"photo": str(path), "error": str(result)}
    return reading_as_json(str(path), result, claims_of(result))


def _words(path: Path, result: PhotoReading | ReceivingError) -> str:
    if isinstance(result, ReceivingError):
        return f"{path}: {result}"
    count = len(result.symbols)
    lines = [f"{path}: {count} symbol{'' if count == 1 else 's'} in {result.ms:.0f} ms"]
    for symbol, read in zip(result.symbols, claims_of(result), strict=True):
        claim = read.claim
        says = [f"SSCC {claim.sscc}"] if claim.sscc else []
        says += [str(claim.address)] if claim.address else []
        says += ["open first"] if claim.open_first else []
        says += [f"guided, {sure_words(symbol.confidence)}"] if symbol.guided else []
        says += list(claim.warnings)
        lines.append(f"  {symbol.symbology} {symbol.raw}{'  ' + ', '.join(says) if says else ''}")
    lines += [f"  unread label: {region.advice}" for region in result.unread]
    lines += [f"  {result.advice}"] if result.advice else []
    return "\n".join(lines)
