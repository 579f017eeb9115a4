"""What was seen comes in: photos, scanner lines, typed codes, scan lists.

A browser's scanner is tried on a page, kept by the browser, and undone for each of its scans.
"""

import time
from collections.abc import Iterable, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import Any

from receiving import closing
from receiving.errors import PhotoError
from receiving.messages import Text
from receiving.model import (
    Access,
    Explanation,
    LabelRead,
    Note,
    Outcome,
    PhotoReading,
    Place,
    Question,
    RawRead,
    Source,
    UnreadRegion,
)
from receiving.model.hidden_characters import without_hidden_characters
from receiving.reading import (
    TEST_ENVELOPE,
    TEST_GS1,
    Suggestion,
    check_photo,
    claims_from_text,
    default_patterns,
    interpret,
    label_warnings,
    ocr_available,
    typed_read,
)
from receiving.service.context import Context
from receiving.service.documents import PATTERNS, value_in
from receiving.service.notes import add_notes
from receiving.service.photo_reading import check_room, make_shown, read_awaited, read_waiting
from receiving.service.snapshot import Snapshot, snapshot
from receiving.service.stored_texts import refuse_hidden_characters
from receiving.store import PhotoRecord, PhotoStatus
from receiving.wording import stored_words, words_of

_LONG_AGO = datetime(2000, 1, 1, tzinfo=UTC)
_POLL_S = 0.02
MOST_SCANS_A_LIST = 5_000


@dataclass(frozen=True)
class PhotoRow:
    """A photo in a list; ``found`` is the number of symbols read from it.

    ``pruned_at`` is when its file was taken out by the rule for old photos.
    """

    photo: str
    name: str
    place: Place
    by: str
    status: PhotoStatus
    error: Text
    advice: Text
    width_px: int
    height_px: int
    found: int
    pruned_at: datetime | None = None


@dataclass(frozen=True)
class PhotoView:
    """A photo with all that was read from it and what became of each read.

    ``warnings`` are (read id, words): what is wrong with a code's data, alone or together with its label's other codes.
    ``photos`` are the ids of all photos of the shipment in order, ``notes`` all its notes, ``missing`` its open
    cartons.
    """

    row: PhotoRow
    reads: tuple[LabelRead, ...]
    explanations: tuple[Explanation, ...]
    unread: tuple[UnreadRegion, ...]
    refused: tuple[str, ...]
    warnings: tuple[tuple[str, Text], ...] = ()
    store: str = ""
    notes: tuple[Note, ...] = ()
    photos: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()
    can_read_print: bool = False


@dataclass(frozen=True)
class PrintRead:
    """What the printed text around the unread labels of a photo may say, and the store that the shipment goes to."""

    store: str
    suggestions: tuple[Suggestion, ...]


@dataclass(frozen=True)
class ScanAnswer:
    """What a scan turned out to be, as a message, and what to do with the carton.

    ``question`` is the one that it raised; ``earlier`` the first other read that shows its carton.
    """

    read_id: str
    outcome: Outcome
    sentence: Text
    carton: str = ""
    open_first: bool = False
    bay: str = ""
    question: Question | None = None
    earlier: RawRead | None = None


def photo_row(record: PhotoRecord, pruned_at: datetime | None = None) -> PhotoRow:
    """The stored photo as a row."""
    reading = record.reading or PhotoReading(0, 0, ())
    return PhotoRow(
        photo=record.photo,
        name=record.name,
        place=record.place,
        by=record.by,
        status=record.status,
        error=stored_words(record.error),
        advice=stored_words(reading.advice),
        width_px=reading.width_px,
        height_px=reading.height_px,
        found=len(reading.symbols),
        pruned_at=pruned_at,
    )


def add_photo(
    ctx: Context, shipment: str, name: str, data: bytes, *, place: Place, by: str, is_small: bool = False
) -> PhotoRow:
    """Keep the photo at once and read it in the background. The same photo again changes nothing.

    ``is_small``: it shows one label, takes a moment, and does not wait for the photos that are still to be read.
    Raises NotFound for an unknown shipment and NotAPhoto or PhotoTooLarge for bytes that are not a usable photo.
    """
    refuse_hidden_characters({"by": by}, lines=False)
    name = without_hidden_characters(name)
    ctx.pictures.check(name, data)
    return keep_photo(ctx, shipment, name, data, place=place, by=by, is_small=is_small)


def keep_photo(
    ctx: Context, shipment: str, name: str, data: bytes, *, place: Place, by: str, is_small: bool = False
) -> PhotoRow:
    """As `add_photo`, for bytes that were checked to be a photo: a check takes too long for a transaction."""
    with ctx.store() as store:
        store.shipment(shipment)
        photo = ctx.photos.keep(data)
        with ctx.transaction():
            store.end_pruned(photo)
            if store.add_photo(shipment, photo, name=name, added_at=ctx.now(), place=place, by=by):
                if is_small:
                    ctx.soon(read_awaited, ctx, shipment, photo)
                else:
                    ctx.later(read_waiting, ctx, shipment, photo)
                    ctx.soon(make_shown, ctx, name, photo)
            record = store.photo(shipment, photo)
    return photo_row(record)


def add_damage(
    ctx: Context, shipment: str, fields: Mapping[str, Any], photo: tuple[str, bytes] | None, *, place: Place, by: str
) -> tuple[Note, ...]:
    """Store a note of damage, with the name and bytes of the photo that was taken of it.

    Raises as `add_notes`, and NotAPhoto or PhotoTooLarge.
    """
    if photo is None:
        return add_notes(ctx, shipment, "damage_noted", [fields], by=by)
    ctx.pictures.check(*photo)
    with ctx.transaction():
        row = keep_photo(ctx, shipment, *photo, place=place, by=by)
        return add_notes(ctx, shipment, "damage_noted", [{**fields, "photo": row.photo}], by=by)


@dataclass(frozen=True)
class LabelPicture:
    """A small picture of one label: its photo, and what it shows; None where it was not read in time."""

    photo: str
    answers: tuple[ScanAnswer, ...] | None


def read_label_picture(
    ctx: Context, shipment: str, name: str, data: bytes, *, place: Place, by: str, within_s: float
) -> LabelPicture:
    """Keep a small picture of a label and wait this long for what it shows. Raises as `add_photo`."""
    row = add_photo(ctx, shipment, name, data, place=place, by=by, is_small=True)
    return LabelPicture(row.photo, await_photo(ctx, shipment, row.photo, within_s=within_s))


def await_photo(ctx: Context, shipment: str, photo: str, *, within_s: float) -> tuple[ScanAnswer, ...] | None:
    """What the labels of a photo turned out to be, the surest first; None where it is not read within this time."""
    until = time.monotonic() + within_s
    while True:
        with ctx.store() as store:
            if store.photo(shipment, photo).status is not PhotoStatus.WAITING:
                break
        if time.monotonic() > until:
            return None
        time.sleep(_POLL_S)
    with ctx.store() as store:
        found = snapshot(ctx, store, store.shipment(shipment))
    answers = [_answer(found, read.read_id) for read in found.reads if read.raw.photo == photo]
    return tuple(sorted(answers, key=lambda answer: answer.outcome is not Outcome.MATCHED))


def add_scan(
    ctx: Context, shipment: str, text: str, *, place: Place, by: str, source: Source, scan_id: str | None = None
) -> ScanAnswer:
    """One scanner line or typed code: store it, then say what it is. The same ``scan_id`` again changes nothing.

    Raises BadRequest for a line that cannot be a label, NotFound for an unknown shipment.
    """
    read = typed_read(text, read_id=scan_id or ctx.new_id(), read_at=ctx.now(), place=place, by=by, source=source)
    with ctx.store() as store:
        with ctx.transaction():  # the answer is worked out without it, so that others may write meanwhile
            check_room(store, shipment, [read.read_id])
            store.add_reads(shipment, [read])
        found = snapshot(ctx, store, store.shipment(shipment))
    return _answer(found, read.read_id)


def find_shipments_of_code(ctx: Context, text: str, access: Access) -> tuple[str, ...]:
    """The shipments that this person may see whose manifests have a carton with the code of this scan, in order.

    Raises BadRequest.
    """
    raw = typed_read(text, read_id=ctx.new_id(), read_at=ctx.now(), place=Place.OTHER, by="", source=Source.SCANNER)
    claim = interpret(raw).claim
    codes = {str(claim.sscc) if claim.sscc else "", claim.barcode, raw.raw} - {""}
    with ctx.moment() as store:
        found = (store.shipment(each) for each in sorted(store.shipments_with_codes(codes)))
        return tuple(each.shipment for each in found if access.sees(each.shipment, each.store, each.programme))


def add_scans(ctx: Context, shipment: str, name: str, data: bytes, *, by: str = "") -> tuple[ScanAnswer, ...]:
    """A list of scans (CSV or JSON lines): all of it or nothing. Raises ScanFaults, NotFound.

    ``by`` is who brings it, and stands in each read whatever the list says; empty: who the list says.
    """
    reads = ctx.manifests.scans(name, data, MOST_SCANS_A_LIST)
    if by:
        reads = tuple(replace(read, by=by) for read in reads)
    with ctx.store() as store:
        with ctx.transaction():
            check_room(store, shipment, [read.read_id for read in reads])
            store.add_reads(shipment, reads)
        found = snapshot(ctx, store, store.shipment(shipment))
    return tuple(_answer(found, read.read_id) for read in reads)


def get_photo(ctx: Context, shipment: str, photo_id: str) -> PhotoView:
    """One photo of a shipment with its reads, and the shipment as its page needs it. Raises NotFound."""
    with ctx.moment() as store:
        record, pruned = store.photo(shipment, photo_id), store.pruned_photos_of(shipment)
        found = snapshot(ctx, store, store.shipment(shipment))
    reads = tuple(read for read in found.reads if read.raw.photo == photo_id)
    ids = {read.read_id for read in reads}
    reading = record.reading or PhotoReading(0, 0, ())
    return PhotoView(
        row=photo_row(record, pruned.get(photo_id)),
        reads=reads,
        explanations=tuple(e for e in found.reconciliation.explanations if e.read_id in ids),
        unread=reading.unread,
        refused=reading.refused,
        warnings=tuple(_label_warnings(reads)),
        store=found.manifest.store,
        notes=found.notes,
        photos=tuple(each.photo for each in found.photos),
        missing=tuple(finding.carton.carton for finding in found.reconciliation.short),
        can_read_print=ocr_available(),
    )


def group_by_label(reads: Iterable[LabelRead]) -> tuple[tuple[LabelRead, ...], ...]:
    """The reads of one photo by physical label; a read without a label number stands alone."""
    groups: dict[object, list[LabelRead]] = {}
    for read in reads:
        groups.setdefault(read.raw.label or read.read_id, []).append(read)
    return tuple(tuple(group) for group in groups.values())


def _label_warnings(reads: tuple[LabelRead, ...]) -> Iterator[tuple[str, Text]]:
    """What is wrong with the data of each physical label: of each code, then of all its codes together."""
    for read in reads:
        yield from ((read.read_id, words) for words in read.claim.warnings)
    for of_label in group_by_label(reads):
        for words in label_warnings([read.claim for read in of_label]):
            yield of_label[0].read_id, words


def load_interpreters() -> None:
    """Load the libraries that interpret a label or know a photo, so that the first scan and photo need not wait."""
    for text in ("]C100395200000000000009", "https://id.gs1.org/00/395200000000000009", "carton 01"):
        read = typed_read(text, read_id="", read_at=_LONG_AGO, place=Place.OTHER, by="", source=Source.SCANNER)
        interpret(read, default_patterns())
    with suppress(PhotoError):  # every format of pictures is loaded before this one is refused
        check_photo("", b"\xff\xd8\xff")


def read_print(ctx: Context, shipment: str, photo_id: str) -> PrintRead:
    """What the printed text around a photo's unread labels may say; nothing is stored, a person picks what is right.

    Raises MissingLibrary where the optional libraries are not installed, NotFound, PhotoError.
    """
    with ctx.moment() as store:
        record = store.photo(shipment, photo_id)
        manifest, patterns = store.revision(shipment).manifest, value_in(store, PATTERNS)
    unread = tuple(region.quad_px for region in record.reading.unread) if record.reading else ()
    lines = ctx.reader.printed_lines(record.name, ctx.photos.read(photo_id), unread)
    return PrintRead(manifest.store, claims_from_text([line.text for line in lines], [manifest], patterns))


def answer_of(found: Snapshot, read_id: str) -> ScanAnswer | None:
    """What this read of the shipment turned out to be, as things stand now; None where there is no such read."""
    explained = found.explained.get(read_id)
    if explained is None:
        return None
    carton = found.manifest.find(explained.carton) if explained.carton else None
    return ScanAnswer(
        read_id,
        explained.outcome,
        words_of(explained.why),
        explained.carton,
        open_first=bool(carton and carton.open_first),
        bay=found.bay_of(carton) if carton else "",
        question=next((asked for asked in found.reconciliation.questions if read_id in asked.read_ids), None),
        earlier=_earlier(found, explained) if carton else None,
    )


def _earlier(found: Snapshot, explained: Explanation) -> RawRead | None:
    """The first other read that shows the carton of this one: in the order in which they came in, as clocks go back."""
    others = (
        read.raw
        for read in found.reads
        if read.read_id != explained.read_id and found.explained[read.read_id].carton == explained.carton
    )
    return next(others, None)


def _answer(found: Snapshot, read_id: str) -> ScanAnswer:
    given = answer_of(found, read_id)
    if given is None:
        raise LookupError(f"read {read_id} is stored and not explained")
    return given


def draw_test_symbols() -> tuple[str, str]:
    """The two test symbols as SVG: GS1-128 and Data Matrix."""
    bars, matrix = closing.scanner_test_symbols(TEST_GS1, TEST_ENVELOPE)
    return closing.modules_svg(bars, row_modules=40), closing.modules_svg(matrix)
