"""What was seen comes in: photos, scanner lines, typed codes, scan lists."""

import uuid
from dataclasses import dataclass

from receiving.errors import PhotoError, ReceivingError
from receiving.model import (
    ExpectedCode,
    Explanation,
    LabelRead,
    Outcome,
    PhotoReading,
    Place,
    RawRead,
    Source,
    UnreadRegion,
)
from receiving.reading import expected_codes, read_scans, typed_read
from receiving.service.desk import Desk
from receiving.service.standing import Standing, standing
from receiving.store import PhotoRecord, PhotoStatus, Store

MAX_EXPECTED_CODES = 400
_WEEK_DAYS = 7
_PHOTO_READS = uuid.UUID("3b0d7d1e-6d0e-5f57-9a31-0e2a8c1f4b60")


@dataclass(frozen=True)
class PhotoRow:
    """A photo in a list; ``found`` is the number of symbols read from it."""

    photo: str
    name: str
    place: Place
    by: str
    status: PhotoStatus
    error: str
    advice: str
    width_px: int
    height_px: int
    found: int


@dataclass(frozen=True)
class PhotoView:
    """A photo with all that was read from it and what became of each read."""

    row: PhotoRow
    reads: tuple[LabelRead, ...]
    explanations: tuple[Explanation, ...]
    unread: tuple[UnreadRegion, ...]
    refused: tuple[str, ...]


@dataclass(frozen=True)
class ScanAnswer:
    """What a scan turned out to be, in a sentence, and what to do with the carton."""

    read_id: str
    outcome: Outcome
    sentence: str
    carton: str = ""
    open_first: bool = False
    bay: str = ""


def photo_row(record: PhotoRecord) -> PhotoRow:
    """The stored photo as a row."""
    reading = record.reading or PhotoReading(0, 0, ())
    return PhotoRow(
        photo=record.photo,
        name=record.name,
        place=record.place,
        by=record.by,
        status=record.status,
        error=record.error,
        advice=reading.advice,
        width_px=reading.width_px,
        height_px=reading.height_px,
        found=len(reading.symbols),
    )


def add_photo(desk: Desk, shipment: str, name: str, data: bytes, *, place: Place, by: str) -> PhotoRow:
    """Keep the photo at once and read it in the background. The same photo again changes nothing.

    Raises NotFound for an unknown shipment and NotAPhoto or PhotoTooLarge for bytes that are no usable photo.
    """
    from receiving.reading import check_photo

    check_photo(name, data)
    with desk.store() as store:
        store.shipment(shipment)
        photo = desk.photos.keep(data)
        new = store.add_photo(shipment, photo, name=name, added_at=desk.now(), place=place, by=by)
        record = store.photo(shipment, photo)
    if new:
        desk.later(read_waiting, desk, shipment, photo)
    return photo_row(record)


def resume_photos(desk: Desk) -> int:
    """Take up the photos that were waiting when the service last stopped; gives how many."""
    with desk.store() as store:
        waiting = store.waiting_photos()
    for shipment, photo in waiting:
        desk.later(read_waiting, desk, shipment, photo)
    return len(waiting)


def finish_photos(desk: Desk) -> None:
    """Wait until every photo that was sent is read."""
    desk.wait()


def read_waiting(desk: Desk, shipment: str, photo: str) -> None:
    """Read one stored photo and save what it gave, or why it could not be read."""
    with desk.store() as store:
        record = store.photo(shipment, photo)
        expected = codes_to_expect(store, shipment)
    try:
        reading = desk.reader.read(record.name, desk.photos.read(photo), expected)
    except ReceivingError as fault:
        error = str(fault) if isinstance(fault, PhotoError) else f"{fault} The photo is kept."
        with desk.store() as store:
            store.fail_photo(shipment, photo, error)
        return
    with desk.store() as store:
        store.finish_photo(shipment, photo, reading, photo_reads(record, reading))


def photo_reads(record: PhotoRecord, reading: PhotoReading) -> tuple[RawRead, ...]:
    """The raw reads of a photo. Their ids follow from the photo, so that reading it twice adds nothing."""
    return tuple(
        RawRead(
            read_id=str(uuid.uuid5(_PHOTO_READS, f"{record.photo}|{s.symbology}|{s.raw}|{s.label}|{s.quad_px}")),
            read_at=record.added_at,
            source=Source.PHOTO,
            raw=s.raw,
            symbology=s.symbology,
            place=record.place,
            by=record.by,
            photo=record.photo,
            quad_px=s.quad_px,
            label=s.label,
            reader=s.reader,
            guided=s.guided,
            confidence=s.confidence,
            alternatives=s.alternatives,
        )
        for s in reading.symbols
    )


def codes_to_expect(store: Store, shipment: str) -> tuple[ExpectedCode, ...]:
    """The codes that a label in view may carry: this shipment's, then those of other visits of the same week."""
    own = store.shipment(shipment)
    near = [
        record.shipment
        for record in store.shipments()
        if record.shipment != shipment
        and own.dispatch_date
        and record.dispatch_date
        and abs((record.dispatch_date - own.dispatch_date).days) <= _WEEK_DAYS
    ]
    codes = dict.fromkeys(expected_codes([store.revision(shipment).manifest]))
    for other in near:
        if len(codes) >= MAX_EXPECTED_CODES:
            break
        codes |= dict.fromkeys(expected_codes([store.revision(other).manifest]))
    return tuple(codes)[:MAX_EXPECTED_CODES]


def add_scan(
    desk: Desk, shipment: str, text: str, *, place: Place, by: str, source: Source, scan_id: str | None = None
) -> ScanAnswer:
    """One scanner line or typed code: store it, then say what it is. The same ``scan_id`` again changes nothing.

    Raises BadRequest for a line that cannot be a label, NotFound for an unknown shipment.
    """
    read = typed_read(text, read_id=scan_id or desk.new_id(), read_at=desk.now(), place=place, by=by, source=source)
    with desk.store() as store:
        store.add_reads(shipment, [read])
        found = standing(desk, store, store.shipment(shipment))
    return _answer(found, read.read_id)


def add_scans(desk: Desk, shipment: str, name: str, data: bytes) -> tuple[ScanAnswer, ...]:
    """A list of scans (CSV or JSON lines): all of it or nothing. Raises ScanFaults, NotFound."""
    reads = read_scans(name, data)
    with desk.store() as store:
        store.add_reads(shipment, reads)
        found = standing(desk, store, store.shipment(shipment))
    return tuple(_answer(found, read.read_id) for read in reads)


def photo(desk: Desk, shipment: str, photo_id: str) -> PhotoView:
    """One photo of a shipment with its reads. Raises NotFound."""
    with desk.store() as store:
        record = store.photo(shipment, photo_id)
        found = standing(desk, store, store.shipment(shipment))
    reads = tuple(read for read in found.reads if read.raw.photo == photo_id)
    ids = {read.read_id for read in reads}
    reading = record.reading or PhotoReading(0, 0, ())
    return PhotoView(
        row=photo_row(record),
        reads=reads,
        explanations=tuple(e for e in found.reconciliation.explanations if e.read_id in ids),
        unread=reading.unread,
        refused=reading.refused,
    )


def photo_jpeg(desk: Desk, shipment: str, photo_id: str, *, max_px: int = 2000) -> bytes:
    """The photo upright, as a JPEG no larger than ``max_px`` on its longer side, to show. Raises NotFound."""
    from receiving.reading import upright_jpeg

    with desk.store() as store:
        record = store.photo(shipment, photo_id)
    return upright_jpeg(record.name, desk.photos.read(photo_id), max_px=max_px)


def _answer(found: Standing, read_id: str) -> ScanAnswer:
    explained = next(e for e in found.reconciliation.explanations if e.read_id == read_id)
    carton = found.manifest.find(explained.carton) if explained.carton else None
    bay = found.bay_of(carton) if carton else ""
    return ScanAnswer(
        read_id, explained.outcome, explained.sentence, explained.carton, bool(carton and carton.open_first), bay
    )
