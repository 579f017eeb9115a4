"""Keeping what is stored: can it be used, is it whole, copies of it and the way back; and how long things are kept.

Photos go by rule. A person's name goes when it must, out of every row at once, with the records still verifiable: those
that it stood in are verified before, and sealed anew by this service's key after; the new seal names the SHA-256 of the
one that it takes the place of, the day, and why. So a record can be verified by the same key as before, and a file with
the old seal can still be compared with what is left.
"""

import json
import os
import tempfile
from dataclasses import dataclass, replace
from datetime import timedelta
from pathlib import Path

import msgspec

from receiving.closing import are_pair, header_of, seal, seal_digest
from receiving.errors import BadRequest, Conflict, NotFound, StoreError
from receiving.messages import message
from receiving.model import Deed, Receipt
from receiving.model.limits import ROOM_BYTES
from receiving.service.auditing import record
from receiving.service.context import Context
from receiving.service.printing import LEAST_PHOTO_DAYS, settings_of
from receiving.service.records import photos_of, signing_key, verify_shipment
from receiving.store import DATABASE, PHOTOS, BackedUp, CheckReport, Store, back_up_to_folder, check_data
from receiving.store import back_up as back_up_archive
from receiving.store import restore as restore_backup
from receiving.store.records import from_text

READY_WITHIN_S = 2.0
"""Whoever asks waits no longer for a lock that another program holds: who asks again meanwhile takes the threads."""


def check_ready(ctx: Context) -> int:
    """How many photos wait to be read; raises StoreError where the data cannot be read or written now."""
    with ctx.store() as store, store.transaction(within_s=READY_WITHIN_S):  # takes the lock, and writes nothing
        waiting = len(store.waiting_photos())
    try:
        # A name that nobody sees, in the folder itself: its disk may be full, read-only, or gone.
        with tempfile.TemporaryFile(dir=ctx.data, buffering=0) as file:
            written = file.write(os.urandom(ROOM_BYTES))
    except OSError as fault:
        raise StoreError(
            message("Nothing can be written: {fault}.", fault=fault.strerror or fault),
            next_step=message("Free some space, or correct the folder's permissions."),
            where=str(ctx.data),
        ) from fault
    if written < ROOM_BYTES:
        raise StoreError(message("The disk is full."), next_step=message("Free some space."), where=str(ctx.data))
    return waiting


def check(data: Path, *, hash_photos: bool = True) -> CheckReport:
    """Look at the database, every row and every photo of a data folder, also while it is in use.

    Without ``hash_photos`` the photos' files are only asked to be there. Raises NoData where there is none, StoreError
    where it is not ours, is newer, or cannot be read.
    """
    return check_data(data / DATABASE, data / PHOTOS, hash_photos=hash_photos, are_pair=are_pair)


def back_up(data: Path, target: Path) -> BackedUp:
    """Copy a data folder, also while it is in use, once it is checked: into a ZIP archive, or into a folder.

    A folder gets only the photos that it does not have yet. What was there is replaced only by an undamaged copy.
    Raises NoData, StoreError.
    """
    return back_up_to_folder(data, target) if target.is_dir() else back_up_archive(data, target)


def restore(backup: Path, data: Path) -> CheckReport:
    """Make a data folder of a backup where there is none yet. Raises NoData, StoreError."""
    return restore_backup(backup, data)


LEAST_NAME = 3


@dataclass(frozen=True)
class Erasure:
    """What a name was, or would be, taken out of: rows by table, and receipts that were sealed anew."""

    name: str
    mark: str
    rows: dict[str, int]
    receipts: int


@dataclass(frozen=True)
class Pruning:
    """Photos that went, or would go, by rule; ``kept`` are as old, and shown on a receipt."""

    days: int
    photos: tuple[str, ...]
    size_bytes: int
    kept: int


def erase_name(ctx: Context, name: str, *, dry_run: bool = False) -> Erasure:
    """Take a person's name, and the signatures drawn by it, out of everything that is stored here.

    An account of this name must be closed before; it loses its name too. Raises BadRequest for a name that stands for
    too much, NotFound where it is nowhere, Conflict for an open account or a record that is not sound.
    """
    name = name.strip()
    if len(name) < LEAST_NAME or not any(each.isalpha() for each in name):
        raise BadRequest(
            message("{name} is too short to be distinguished from other words.", name=repr(name)),
            next_step=message("Give the whole name as it stands."),
        )
    mark = f"[name erased on {ctx.now().date().isoformat()}]"
    with ctx.transaction() as store:
        account = next((each for each in store.people() if each.name == name), None)
        if account and account.active:
            raise Conflict(
                message("The account of {name} is open.", name=name),
                next_step=message("Close it first: receiving user close NAME."),
            )
        rows, shipments = store.name_uses(name), store.shipments_with_name(name)
        if not rows and account is None:
            raise NotFound(
                message("The name {name} is nowhere here.", name=repr(name)),
                next_step=message("Give it exactly as it is shown."),
            )
        _check_sound(ctx, shipments)
        sealed = sum(len(store.sealed_records(shipment)) for shipment in shipments)
        if dry_run:
            return Erasure(name, mark, rows, sealed)
        with store.unguarded():
            store.erase_name(name, mark, lambda text: _unsigned(text, mark), at=ctx.now())
            if account:
                store.erase_account(account.person_id, mark)
            for shipment in shipments:
                _seal_anew(ctx, store, shipment)
            # Who did it may be the person himself, whose name goes with this.
            by = replace(ctx.actor, name=mark) if ctx.actor.name == name else ctx.actor
            detail = " ".join(f"{table}={count}" for table, count in sorted(rows.items()))
            record(ctx, store, Deed.NAME_ERASED, about=mark, detail=detail, by=by)
    with ctx.store() as store:
        store.forget_freed()
    return Erasure(name, mark, rows, sealed)


def erase_account(ctx: Context, person_id: str) -> Erasure:
    """Take the name of a closed account out of everything. Raises as `erase_name`."""
    with ctx.store() as store:
        name = store.person(person_id).name
    return erase_name(ctx, name)


def _check_sound(ctx: Context, shipments: tuple[str, ...]) -> None:
    for shipment in shipments:
        if not all(verdict.sound for verdict in verify_shipment(ctx, shipment)):
            raise Conflict(
                message(
                    "A receipt of shipment {shipment} is not as it was sealed, so that nothing of it is sealed anew.",
                    shipment=repr(shipment),
                ),
                next_step=message("Look at it with receiving verify, and restore what was changed."),
            )


def _unsigned(text: str, mark: str) -> str:
    """The receipt without the signature that the person drew whose name is out of it."""
    if from_text(text, Receipt).name != mark:
        return text
    # As it was stored, by whichever version: written anew from its value it would have what later versions added.
    plain = msgspec.json.decode(text)
    return msgspec.json.encode({**plain, "signature": None}).decode()


def _seal_anew(ctx: Context, store: Store, shipment: str) -> None:
    previous, key = "", signing_key(ctx, store)
    for sealed in store.sealed_records(shipment):
        old = json.loads(sealed.seal.header)
        reads, notes = old["evidence"]["reads"], old["evidence"]["notes"]
        receipt = from_text(sealed.text, Receipt)
        made = seal(
            sealed.text,
            shipment=shipment,
            number=sealed.number,
            sealed_at=receipt.confirmed_at,
            previous=previous,
            evidence=(reads, notes, store.evidence_digest(shipment, reads, notes)),
            photos=photos_of(receipt),
            private_hex=key.private_key,
            renewed=(
                *old.get("renewed", ()),
                {"at": ctx.now().isoformat(), "why": "name_erased", "was": seal_digest(sealed.seal)},
            ),
        )
        if header_of(made) is None:
            raise Conflict(
                message("Receipt {number} cannot be sealed anew.", number=sealed.number),
                next_step=message("Report this message."),
            )
        store.renew_seal(shipment, sealed.number, made)
        previous = seal_digest(made)


def prune_photos(
    ctx: Context, *, days: int | None = None, with_receipts: bool = False, dry_run: bool = False
) -> Pruning:
    """Take out the files of photos of shipments on which nothing happened for this many days (by the settings: None).

    What photos gave, reads and their places, stays. Photos that a receipt shows stay too, unless ``with_receipts``.
    Raises BadRequest for too few days, or where neither a rule is set nor days are given.
    """
    with ctx.moment() if dry_run else ctx.transaction() as store:
        days = days if days is not None else settings_of(store).photo_days
        if not days:
            raise BadRequest(
                message("No rule is set."),
                next_step=message("Give --older-than DAYS, or set the days on the settings page."),
            )
        if days < LEAST_PHOTO_DAYS:
            raise BadRequest(
                message("Photos of the last {days} days are in use.", days=days),
                next_step=message("Give {least_photo_days} days or more.", least_photo_days=LEAST_PHOTO_DAYS),
            )
        before = ctx.now() - timedelta(days=days)
        gone = store.pruned_photos()
        old = [each for each, last in store.last_days().items() if each not in gone and max(last) < before]
        shown = {photo for each in store.shipments(voided=None) for photo in _shown(store, each.shipment)}
        chosen = tuple(each for each in old if with_receipts or each not in shown)
        if not dry_run:
            for photo in chosen:
                store.add_pruned(photo, ctx.now())
            detail = f"photos={len(chosen)} days={days}{' with receipts' if with_receipts else ''}"
            record(ctx, store, Deed.PHOTOS_PRUNED, detail=detail)
    size = sum(ctx.photos.size_bytes(each) for each in chosen)
    for photo in () if dry_run else chosen:  # first said, then done: a check in between finds a file too many
        ctx.photos.remove(photo)
        ctx.shown.remove(photo)
    return Pruning(days, chosen, size, len(old) - len(chosen))


def _shown(store: Store, shipment: str) -> set[str]:
    return {photo for receipt in store.receipts(shipment) for photo in photos_of(receipt)}
