"""``receiving read``: the labels on photos."""

import argparse
import uuid
from datetime import UTC, datetime
from pathlib import Path

from receiving.cli import DONE, FAILED
from receiving.commands.files import FileKind, bytes_of_kind, photo_paths, read_photos
from receiving.commands.terminal import fault_words, show, show_json
from receiving.errors import ReceivingError
from receiving.expected import read_manifests
from receiving.matching import reconcile
from receiving.messages import Text, figure, joined, message, plural
from receiving.model import LabelRead, Manifest, Outcome, PhotoReading, RawRead, Source, sure_words
from receiving.reading import default_patterns, expected_codes, interpret
from receiving.wording import address_words
from receiving.wording.plain import reading_as_json


def run_read(options: argparse.Namespace) -> int:
    """Print what each photo shows; status 1 when one could not be opened."""
    status = DONE
    manifests = _manifests(options.manifest)
    expected = tuple(expected_codes(manifests))
    for path, _, result in read_photos(photo_paths(options.photos), expected, limit_s=options.limit_s):
        if isinstance(result, ReceivingError):
            status = FAILED
            fault = {"photo": str(path), "error": str(result)}
            words = message("{file}: {fault}", file=str(path), fault=fault_words(result))
            show_json(fault) if options.json else show(words)
            continue
        claims = claims_of(result)
        cartons = cartons_of(claims, manifests)
        if options.json:
            show_json(reading_as_json(str(path), result, claims, cartons))
        else:
            show(_words(path, result, claims, cartons))
    return status


def _manifests(path: Path | None) -> tuple[Manifest, ...]:
    if path is None:
        return ()
    return read_manifests(path.name, bytes_of_kind(path, FileKind.MANIFEST)).manifests


def cartons_of(reads: tuple[LabelRead, ...], manifests: tuple[Manifest, ...]) -> dict[str, tuple[str, str]]:
    """The shipment and carton of each read (by id) that these manifests know, with all reads of the photo at hand."""
    found: dict[str, tuple[str, str]] = {}
    for manifest in manifests:
        others = tuple(other for other in manifests if other is not manifest)
        for explained in reconcile(manifest, reads, others=others).explanations:
            if explained.carton and explained.outcome in (Outcome.MATCHED, Outcome.DUPLICATE):
                found.setdefault(explained.read_id, (manifest.shipment, explained.carton))
    return found


def claims_of(reading: PhotoReading) -> tuple[LabelRead, ...]:
    """Each symbol of a reading with what it claims."""
    patterns, now = default_patterns(), datetime.now(UTC)
    return tuple(
        interpret(
            RawRead(
                str(uuid.uuid4()),
                now,
                Source.PHOTO,
                s.raw,
                s.symbology,
                photo="photo",
                quad_px=s.quad_px,
                label=s.label,
                reader=s.reader,
                guided=s.guided,
                confidence=s.confidence,
                alternatives=s.alternatives,
            ),
            patterns,
        )
        for s in reading.symbols
    )


def _words(
    path: Path, reading: PhotoReading, claims: tuple[LabelRead, ...], cartons: dict[str, tuple[str, str]]
) -> Text:
    head = plural(
        len(reading.symbols),
        "{file}: {number} symbol in {time} ms",
        "{file}: {number} symbols in {time} ms",
        file=str(path),
        time=figure(reading.ms),
    )
    lines: list[Text] = [head]
    for symbol, read in zip(reading.symbols, claims, strict=True):
        claim = read.claim
        shipment, carton = cartons.get(read.read_id, ("", ""))
        says: list[Text] = []
        if carton:
            says.append(message("carton {carton} of shipment {shipment}", carton=carton, shipment=shipment))
        says += [message("SSCC {code}", code=str(claim.sscc))] if claim.sscc else []
        says += [address_words(claim.address)] if claim.address else []
        says += [message("open first")] if claim.open_first else []
        says += [message("guided, {sure}", sure=sure_words(symbol.confidence))] if symbol.guided else []
        says += list(claim.warnings)
        lines.append(joined(f"  {symbol.symbology} {symbol.raw}", joined(*says, separator=", "), separator="  "))
    lines += [joined("  ", message("unread label: {advice}", advice=r.advice), separator="") for r in reading.unread]
    lines += [joined("  ", reading.advice, separator="")] if reading.advice else []
    return joined(*lines, separator="\n")
