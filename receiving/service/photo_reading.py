"""Photos that wait are read beside the requests: what each gave is stored, or why it could not be read.

As people see them photos are small, upright, without what a camera wrote beside the picture; each is made once.
"""

import logging
from collections.abc import Sequence
from datetime import timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from receiving.errors import BadRequest, NotFound, PhotoError, ReceivingError, StoreError
from receiving.messages import figure, joined, message, plural
from receiving.model import PHOTO_ADVICE, ExpectedCode, PhotoReading
from receiving.reading import expected_codes, is_video
from receiving.reading.scans import photo_reads
from receiving.service.context import Context
from receiving.service.pools import PHOTO_SIZES_PX
from receiving.store import PhotoRecord, Store
from receiving.wording import to_stored_text

HEAD_BYTES = 64


def make_photo_jpeg(ctx: Context, shipment: str, photo_id: str, *, max_px: int = PHOTO_SIZES_PX[-1]) -> bytes:
    """The photo (a picture of the video) upright, as a JPEG no larger than ``max_px`` on its longer side, to show.

    Raises NotFound, NotAPhoto, PhotoTooLarge, and WorkStopped while too many are made.
    """
    with ctx.store() as store:
        record, pruned = store.photo(shipment, photo_id), store.pruned_photos_of(shipment).get(photo_id)
    if pruned:
        raise NotFound(
            message(
                "This photo was taken out by the rule for old photos on {pruned}.", pruned=pruned.date().isoformat()
            ),
            next_step=message("What was read from it is kept. Send it again where it is still on a phone."),
        )
    kept = ctx.shown.read(photo_id, max_px)
    if kept is not None:
        return kept
    with ctx.snapshots.alone(photo_id):
        return ctx.shown.read(photo_id, max_px) or _make(ctx, record.name, photo_id, max_px)[max_px]


def make_shown(ctx: Context, name: str, photo_id: str) -> None:
    """Make a photo that came in fit to show; one that cannot be is refused when somebody looks at it."""
    try:
        if ctx.shown.read(photo_id, PHOTO_SIZES_PX[0]) is None:
            _make(ctx, name, photo_id, PHOTO_SIZES_PX[-1])
    except ReceivingError as fault:
        _log.info("photo %s is not made fit to show: %s", photo_id[:12], fault)


def _make(ctx: Context, name: str, photo_id: str, size_px: int) -> dict[int, bytes]:
    path = ctx.photos.path(photo_id)
    source: Path | bytes = path
    if is_video(_head(ctx, photo_id, path)):
        source = ctx.reader.poster(name, ctx.photos.read(photo_id))
    made = ctx.pictures.jpegs(name, source, sorted({*PHOTO_SIZES_PX, size_px}))
    for size, jpeg in made.items():
        ctx.shown.keep(photo_id, size, jpeg)
    return made


def _head(ctx: Context, photo_id: str, path: Path) -> bytes:
    """The first bytes of a photo; raises NotFound where its file is gone."""
    try:
        with path.open("rb") as file:
            return file.read(HEAD_BYTES)
    except OSError:
        return ctx.photos.read(photo_id)


if TYPE_CHECKING:
    from receiving.reading import Still

MAX_EXPECTED_CODES = 400

MOST_READS = 20_000

"""Of one shipment and one list: a shipment of 600 cartons with each label read ten times has 6,000."""

_WEEK_DAYS = 7

RETRY_AFTER_S = (2.0, 10.0, 60.0)
"""How long a photo rests before it is tried again, where it could not be read for no fault of its own."""


_log = logging.getLogger(__name__)


def resume_photos(ctx: Context) -> int:
    """Take up the photos that were waiting when the service last stopped; gives how many."""
    with ctx.store() as store:
        waiting = store.waiting_photos()
    for shipment, photo in waiting:
        ctx.later(read_waiting, ctx, shipment, photo)
    return len(waiting)


def expect_pictures(ctx: Context) -> None:
    """Make ready, beside the requests, what reads small pictures: somebody has opened a camera."""
    ctx.soon(ctx.reader.prepare)


def finish_photos(ctx: Context) -> None:
    """Wait until every photo that was sent is read."""
    ctx.wait()


def read_awaited(ctx: Context, shipment: str, photo: str) -> None:
    """Read a small picture for which somebody waits, before it is made fit to show."""
    read_waiting(ctx, shipment, photo, awaited=True)
    with ctx.store() as store:
        name = store.photo(shipment, photo).name
    ctx.later(make_shown, ctx, name, photo)


def read_waiting(ctx: Context, shipment: str, photo: str, failures: int = 0, *, awaited: bool = False) -> None:
    """Read one stored photo or video and save what it gave, or why it could not be read.

    What has nothing to do with the photo (no memory left, a store that cannot be written) may pass: it is tried again
    some times, while others are read, and then said of the photo, so that it waits for no restart.
    """
    try:
        _read_waiting(ctx, shipment, photo, awaited=awaited)
    except NotFound:
        raise
    except Exception as fault:
        _log.exception("photo %s of %s was not read", photo[:12], shipment)
        if ctx.closing:
            return  # it waits for the next start
        if failures < len(RETRY_AFTER_S):
            ctx.after(RETRY_AFTER_S[failures], read_waiting, ctx, shipment, photo, failures + 1)
        else:
            _give_up(ctx, shipment, photo, failures, fault)


def _give_up(ctx: Context, shipment: str, photo: str, failures: int, fault: Exception) -> None:
    """Say of a photo that the service failed; where not even that can be stored, it is tried again until it can."""
    why = message("the service failed; its log says why")
    if isinstance(fault, MemoryError):
        why = message("the service had no memory left")
    error = message(
        "It could not be read: {why}, {tries} times. The photo is kept: send it again to try anew.",
        why=why,
        tries=failures + 1,
    )
    try:
        with ctx.transaction() as store:
            store.fail_photo(shipment, photo, to_stored_text(error))
    except StoreError:
        _log.exception("photo %s of %s: nothing can be stored of it", photo[:12], shipment)
        ctx.after(RETRY_AFTER_S[-1], read_waiting, ctx, shipment, photo, failures)


def _read_waiting(ctx: Context, shipment: str, photo: str, *, awaited: bool) -> None:
    with ctx.store() as store:
        record = store.photo(shipment, photo)
        expected = codes_to_expect(store, shipment)
    try:
        data = ctx.photos.read(photo)
        if is_video(data):
            _keep_stills(ctx, shipment, record, ctx.reader.video_stills(record.name, data, expected))
            return
        read = ctx.reader.read_awaited if awaited else ctx.reader.read
        reading = read(record.name, data, expected)
    except ReceivingError as fault:
        if ctx.closing:
            return  # its process was ended with all others; it waits for the next start
        gone = isinstance(fault, PhotoError | NotFound)
        error = fault.words if gone else joined(fault.words, message("The photo is kept."))
        with ctx.transaction() as store:
            store.fail_photo(shipment, photo, to_stored_text(error))
        return
    with ctx.transaction() as store:
        try:
            reads = photo_reads(record.photo, reading, record.added_at, record.place, record.by)
            check_room(store, shipment, [read.read_id for read in reads])
        except BadRequest as fault:
            store.fail_photo(shipment, photo, to_stored_text(fault.words))
            return
        store.finish_photo(shipment, photo, reading, reads)


def _keep_stills(ctx: Context, shipment: str, video: PhotoRecord, stills: "tuple[Still, ...]") -> None:
    """Save the stills of a video as photos of their own; the video itself then says where its labels are."""
    kept = [ctx.photos.keep(still.jpeg) for still in stills]
    with ctx.transaction() as store:
        for number, (photo, still) in enumerate(zip(kept, stills, strict=True), 1):
            name = f"{video.name}, picture {number}"
            store.add_photo(shipment, photo, name=name, added_at=video.added_at, place=video.place, by=video.by)
            record = store.photo(shipment, photo)
            store.finish_photo(
                shipment,
                photo,
                still.reading,
                photo_reads(record.photo, still.reading, record.added_at, record.place, record.by),
            )
        labels = len({symbol.raw for still in stills for symbol in still.reading.symbols})
        advice = PHOTO_ADVICE["no codes"]
        if labels:
            advice = plural(
                labels,
                "A video: {number} code on {pictures} of its pictures, shown beside it.",
                "A video: {number} codes on {pictures} of its pictures, shown beside it.",
                pictures=len(stills),
            )
        size = stills[0].reading
        own = PhotoReading(size.width_px, size.height_px, (), advice=to_stored_text(advice))
        store.finish_photo(shipment, video.photo, own, ())


def codes_to_expect(store: Store, shipment: str) -> tuple[ExpectedCode, ...]:
    """The codes that a label in view may carry: this shipment's, then those of other visits of the same week."""
    day, week = store.shipment(shipment).dispatch_date, timedelta(days=_WEEK_DAYS)
    # Each has a code or more, so that no more of them than codes are of use, however many there are.
    near = store.shipments_around(shipment, day - week, day + week, most=MAX_EXPECTED_CODES) if day else ()
    codes = dict.fromkeys(expected_codes([store.revision(shipment).manifest]))
    for other in near:
        if len(codes) >= MAX_EXPECTED_CODES:
            break
        try:
            codes |= dict.fromkeys(expected_codes([store.revision(other).manifest]))
        except StoreError as fault:
            store.set_aside("shipments", other, other, fault)
    return tuple(codes)[:MAX_EXPECTED_CODES]


def check_room(store: Store, shipment: str, read_ids: Sequence[str]) -> None:
    """Refuse reads that nobody could look through: a list that was sent to the wrong place, or a fault of a sender."""
    more, there = len(read_ids), store.count_reads(shipment)
    if there + more > MOST_READS and there + more - store.count_reads(shipment, read_ids) > MOST_READS:
        raise BadRequest(
            message(
                "Shipment {shipment} has {number} reads; at most {most_reads} are kept. Nothing more was stored.",
                shipment=repr(shipment),
                number=figure(there),
                most_reads=figure(MOST_READS),
            ),
            next_step=message(
                "Answer what is open and confirm the shipment, or void it and import it again under another id."
            ),
        )
