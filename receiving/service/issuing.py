"""Files of a receipt that people are given, each with a seal over the whole of it: the PDF, and all of it as a ZIP."""

from contextlib import suppress

from receiving import closing
from receiving.errors import BadRequest, NotAPhoto, NotFound, PhotoTooLarge
from receiving.language import LANGUAGES, best_language, language_of
from receiving.messages import message
from receiving.service.confirming import get_receipt, make_receipt_data
from receiving.service.context import Context
from receiving.service.records import photos_of, sealed_record, signing_key
from receiving.service.showing import make_photo_jpeg
from receiving.service.store_days import get_shipment_now

MOST_PHOTOS = 300
"""A ZIP's seal names its members in the archive comment, which holds 65,535 bytes (PKWARE APPNOTE 6.3.10, 4.4.12)."""


def make_receipt_pdf(ctx: Context, shipment: str, number: int, *, paper: str = "A4") -> bytes:
    """One receipt as PDF in the language in which it was shown, with its sealed record inside, sealed as a whole.

    A receipt that was confirmed before receipts were sealed has neither. Raises NotFound.
    """
    found = get_receipt(ctx, shipment, number)
    try:
        text = closing.write_record(sealed_record(ctx, shipment, number))
    except NotFound:
        text = ""
    speaker = language_of(best_language([found.language], of=LANGUAGES))
    zone = get_shipment_now(ctx, shipment).tzinfo
    made = closing.receipt_pdf(found, paper=paper, zone=zone, speaker=speaker, record=text)
    if not text:
        return made
    return closing.seal_pdf(made, text, shipment=shipment, number=number, private_hex=_private(ctx))


def make_receipt_zip(ctx: Context, shipment: str, number: int, *, paper: str = "A4") -> bytes:
    """The sealed record, the PDF, the lines as CSV and JSON, and the photos as they are shown, sealed as a whole.

    A photo that went by rule, or cannot be shown, is left out; the record names its SHA-256 all the same. So is a
    PDF in letters that no font here has.
    Raises NotFound, and BadRequest for more photos than a seal can name.
    """
    found, record = get_receipt(ctx, shipment, number), sealed_record(ctx, shipment, number)
    photos = photos_of(found)
    if len(photos) > MOST_PHOTOS:
        raise BadRequest(
            message("This receipt shows {number} photos, more than one ZIP file takes.", number=len(photos)),
            next_step=message("Take the PDF and the sealed record, and the photos from the cartons' pages."),
        )
    members = {
        closing.RECORD: closing.write_record(record).encode(),
        "receipt.csv": make_receipt_data(ctx, shipment, number, "csv").encode(),
        "receipt.json": make_receipt_data(ctx, shipment, number, "json").encode(),
    }
    with suppress(BadRequest):  # letters that no font here has; all else is there without it
        members["receipt.pdf"] = make_receipt_pdf(ctx, shipment, number, paper=paper)
    for photo in photos:
        try:
            members[f"photos/{photo[:16]}.jpg"] = make_photo_jpeg(ctx, shipment, photo)
        except (NotFound, NotAPhoto, PhotoTooLarge):
            continue
    return closing.seal_zip(members, shipment=shipment, number=number, private_hex=_private(ctx))


def _private(ctx: Context) -> str:
    with ctx.transaction() as store:  # which makes the key where there is none yet
        return signing_key(ctx, store).private_key
