"""The store manager confirms what was received, exactly what was shown or not at all; the files that people are given.

Each file has a seal over the whole of it: the PDF, and all of the receipt as a ZIP.
"""

import json
from collections import Counter
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import dataclass, replace

from receiving import closing
from receiving.closing import receiving_advice
from receiving.closing import show_receipt as shown_receipt
from receiving.errors import BadRequest, Conflict, NotAPhoto, NotFound, PhotoTooLarge
from receiving.language import LANGUAGES, best_language, language_of
from receiving.matching import counted_lines
from receiving.messages import message
from receiving.model import Receipt, ReceivingAdvice, ShownLine, ShownReceipt, Signature
from receiving.model.replacement import ReplacementRequest
from receiving.service.context import Context
from receiving.service.counting import parts_of
from receiving.service.notes import NO_ANSWER, MissingAnswer, declarations, declare_missing
from receiving.service.photo_reading import make_photo_jpeg
from receiving.service.queries import ShipmentView, get_shipment
from receiving.service.records import photos_of, seal_receipt, sealed_record, signing_key
from receiving.service.replacing import list_requests
from receiving.service.snapshot import Snapshot, snapshot
from receiving.service.stored_texts import refuse_hidden_characters
from receiving.service.stores import get_shipment_now
from receiving.service.webhook_sending import notify_of_receipt
from receiving.sheets import csv_text
from receiving.store import Store
from receiving.store.actions import Purpose
from receiving.store.records import from_text, to_text

MAX_NAME = 120
MAX_REMARKS = 4000


@dataclass(frozen=True)
class ToConfirm:
    """What the store manager is asked to confirm, beside the shipment and what its store was asked to be sent.

    ``before`` is what was shown earlier under the digest that was named; None where it is too old, or none was named.
    """

    shown: ShownReceipt
    before: ShownReceipt | None
    view: ShipmentView
    requests: tuple[ReplacementRequest, ...]


@dataclass(frozen=True)
class GivenReceipt:
    """A receipt, beside the shipment as it is now and what its store was asked to be sent."""

    receipt: Receipt
    view: ShipmentView
    requests: tuple[ReplacementRequest, ...]


def get_receipt_to_confirm(ctx: Context, shipment: str, *, before: str = "") -> ToConfirm:
    """What the store manager is asked to confirm now; it is kept, to be confirmed as it was shown. Raises NotFound."""
    with ctx.moment() as store:
        shown, view = show_receipt(ctx, shipment), get_shipment(ctx, shipment)
        earlier = store.pending(Purpose.RECEIPT, before) if before else None
        asked = list_requests(ctx, view.manifest.store)
    with ctx.transaction() as store:
        store.add_pending(Purpose.RECEIPT, shown.digest, to_text(shown).encode(), shown_at=ctx.now())
    return ToConfirm(shown, from_text(earlier.body.decode(), ShownReceipt) if earlier else None, view, asked)


def get_given_receipt(ctx: Context, shipment: str, number: int) -> GivenReceipt:
    """One receipt with what stands around it now. Raises NotFound, and StoreError where it was altered."""
    with ctx.moment():
        view = get_shipment(ctx, shipment)
        return GivenReceipt(get_receipt(ctx, shipment, number), view, list_requests(ctx, view.manifest.store))


def show_receipt(ctx: Context, shipment: str) -> ShownReceipt:
    """What the store manager is asked to confirm now. Raises NotFound."""
    with ctx.store() as store:
        return _show(store, snapshot(ctx, store, store.shipment(shipment)))


def _show(store: Store, found: Snapshot) -> ShownReceipt:
    counted = counted_lines(found.manifest, found.reconciliation, found.notes, parts_of(store))
    revision = found.revision.revision
    return shown_receipt(found.reconciliation, found.manifest, revision, declarations(found), counted=counted)


def confirm(
    ctx: Context,
    shipment: str,
    digest: str,
    *,
    name: str,
    role: str,
    remarks: str = "",
    with_exceptions: bool = False,
    signature: str = "",
    taken_by: str = "",
    by_pin: bool = False,
    missing: MissingAnswer = NO_ANSWER,
    since: Iterable[str] = (),
    language: str = "en",
) -> Receipt:
    """Store and seal the confirmation of what was shown under this digest. Later reads never alter it.

    The same person's confirmation of the same, sent again, gives the receipt that is there. ``signature`` is what a
    finger drew, as `read_signature` takes it; ``taken_by`` is who was signed in at the browser; ``by_pin``: `name` is
    whom `find_manager_by_pin` found. ``missing`` declares short, as a note of who confirms, each missing carton that
    nobody declared short before; the receipt says so. ``since`` are cartons of which a phone without a signal told,
    beside what was shown, that it did something with them meanwhile: a difference in these alone was seen. ``language``
    is the one in which it was shown; what is confirmed is the same in all.

    Raises Conflict when what is true now differs from what was shown, BadRequest when name or role is missing, when
    there are exceptions and they are not named as such, or where a missing carton is not declared short.
    """
    name, role, remarks = name.strip(), role.strip(), remarks.strip()
    _check_person(name, role, remarks)
    drawn = read_signature(signature) if signature else None
    with ctx.transaction() as store:
        found, before = snapshot(ctx, store, store.shipment(shipment)), store.receipts(shipment)
        shown = _show(store, found)
        last = before[-1] if before else None
        # Who confirms after somebody else has to see what that one declared in his own name.
        repeated = last is not None and (last.name, last.asked, last.shown.digest) == (name, digest, shown.digest)
        is_known = shown.digest == digest or repeated or _is_disclosed(store, found, digest, shown, frozenset(since))
        if not is_known:
            raise Conflict(
                message("What was received has changed since these counts were shown."),
                next_step=message("Look at the counts again, then confirm."),
            )
        if _has_exceptions(shown) and not with_exceptions:
            raise BadRequest(
                message("There are exceptions on this receipt."),
                next_step=message("Choose “confirm with exceptions”, or resolve them."),
            )
        asked = last.asked if last and repeated else digest if digest != shown.digest else ""
        if declare_missing(ctx, store, found, missing, by=name):
            asked, shown = digest, _show(store, snapshot(ctx, store, store.shipment(shipment)))
        number, now = store.next_receipt_number(shipment), ctx.now()
        receipt = Receipt(
            number=number,
            confirmed_at=now,
            name=name,
            role=role,
            remarks=remarks,
            with_exceptions=with_exceptions,
            shown=shown,
            taken_by=taken_by,
            signature=drawn,
            by_pin=by_pin,
            asked=asked,
            language=best_language([language], of=LANGUAGES),
        )
        if last and _same(last, receipt):
            return last
        receipt = replace(receipt, advice=_advice(ctx, store, receipt))
        store.add_receipt(receipt)
        sealed = seal_receipt(ctx, store, receipt)
        notify_of_receipt(ctx, store, receipt, sealed)
    return receipt


def _is_disclosed(store: Store, found: Snapshot, digest: str, shown: ShownReceipt, since: frozenset[str]) -> bool:
    """What was shown and what is true now differ in cartons of ``since`` alone, and in what outer boxes hold."""
    kept = store.pending(Purpose.RECEIPT, digest) if since else None
    if kept is None:
        return False
    before = from_text(kept.body.decode(), ShownReceipt)
    inside = {inner.carton for carton in since for inner in found.manifest.inside(carton)}
    lines, were = Counter(shown.lines), Counter(before.lines)
    differing = {line.carton for line in (lines - were) + (were - lines)}
    same = (before.shipment, before.revision) == (shown.shipment, shown.revision)
    return same and differing <= since | inside


def _advice(ctx: Context, store: Store, receipt: Receipt) -> ReceivingAdvice:
    found = snapshot(ctx, store, store.shipment(receipt.shown.shipment))
    return receiving_advice(
        found.manifest,
        found.reconciliation,
        counted_lines(found.manifest, found.reconciliation, found.notes, parts_of(store)),
        (read.raw for read in found.reads),
        number=receipt.number,
        confirmed_at=receipt.confirmed_at,
    )


def read_signature(text: str) -> Signature:
    """A signature from JSON: ``{"height": h, "strokes": [[[x, y], …], …]}``; see `Signature`. Raises BadRequest."""
    try:
        found = json.loads(text)
        strokes = tuple(tuple((round(x), round(y)) for x, y in stroke) for stroke in found["strokes"] if stroke)
        return Signature(strokes, round(found["height"]))
    except (ValueError, KeyError, TypeError, OverflowError) as fault:
        raise BadRequest(
            message("The signature could not be read."),
            next_step=message("Clear the field, sign once more, then confirm."),
        ) from fault


def _same(before: Receipt, now: Receipt) -> bool:
    """One confirmation that was sent twice."""
    return (
        replace(before, number=now.number, confirmed_at=now.confirmed_at, advice=now.advice, language=now.language)
        == now
    )


def _has_exceptions(shown: ShownReceipt) -> bool:
    return any(line.state != "received" for line in shown.lines)


def _check_person(name: str, role: str, remarks: str) -> None:
    if not name:
        step = message("Type the name of the person who confirms.")
        raise BadRequest(message("The name is empty."), next_step=step, field="name")
    if not role:
        step = message("Type the role of the person who confirms.")
        raise BadRequest(message("The role is empty."), next_step=step, field="role")
    refuse_hidden_characters({"name": name, "role": role}, lines=False)
    refuse_hidden_characters({"remarks": remarks})
    shorter = message("Use {limit} at most.", limit=MAX_NAME)
    if len(name) > MAX_NAME:
        raise BadRequest(
            message("The name has {number} characters.", number=len(name)), next_step=shorter, field="name"
        )
    if len(role) > MAX_NAME:
        raise BadRequest(
            message("The role has {number} characters.", number=len(role)), next_step=shorter, field="role"
        )
    if len(remarks) > MAX_REMARKS:
        raise BadRequest(
            message("The remarks have {number} characters.", number=len(remarks)),
            next_step=message("Use {limit} at most.", limit=MAX_REMARKS),
            field="remarks",
        )


def get_receipt(ctx: Context, shipment: str, number: int) -> Receipt:
    """One receipt. Raises NotFound, and StoreError where it was altered after it was stored."""
    with ctx.store() as store:
        store.shipment(shipment)
        return store.receipt(shipment, number)


def make_receipt_data(ctx: Context, shipment: str, number: int, kind: str) -> str:
    """One receipt as JSON with all that it confirms, or as CSV with a row for each line shown. Raises NotFound."""
    found = get_receipt(ctx, shipment, number)
    if kind == "json":
        return to_text(found) + "\n"
    rows = ((found.number, line.carton, line.state, line.words, *_declared(line)) for line in found.shown.lines)
    columns = ("receipt", "carton", "state", "words", "declared_by", "declared_at", "declared_reason", "searched")
    return csv_text(columns, rows)


def _declared(line: ShownLine) -> tuple[str, str, str, str]:
    stated = line.declared
    return (stated.by, stated.at.isoformat(), stated.reason, " ".join(stated.searched)) if stated else ("", "", "", "")


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
