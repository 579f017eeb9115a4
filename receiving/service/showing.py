"""Photos as people see them: small, upright, without what a camera wrote beside the picture; each made once."""

import logging
from pathlib import Path

from receiving.errors import NotFound, ReceivingError
from receiving.messages import message
from receiving.reading import is_video
from receiving.service.context import Context
from receiving.service.pictures import PHOTO_SIZES_PX

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
