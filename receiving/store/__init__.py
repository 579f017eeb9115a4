"""The store: one SQLite file and one folder of photos; all SQL of the project is here.

The problem: what was acknowledged is there after a kill, once, and whatever is derived can be made again. Manifests,
reads, notes, receipts and documents are append-only (triggers refuse UPDATE, DELETE and REPLACE); a correction is a new
row. One transaction (BEGIN IMMEDIATE, WAL, synchronous=FULL) holds the read, the decision and the write of a use case.
Photos are files named by their SHA-256, written aside, synced and renamed before the row that names them.

List rows are the one derived thing kept: each row is written with the version of what it follows from, so that an
outdated one is seen and made again. Digests of rows chain into an anchor (`digests`, `anchor`), by which `check` finds
a row that was changed by hand. Migrations only append; a database is known by its application id, and one that a newer
version wrote is refused.
"""

from receiving.store.actions import ActionRecord
from receiving.store.backup import BackedUp, back_up, back_up_to_folder, restore
from receiving.store.checking import DAMAGE_WORDS, CheckReport, Damage, DamageKind, check_data
from receiving.store.connection import Anchor
from receiving.store.list_rows import CachedRow, ListQuery, ListRowRecord, RowDay
from receiving.store.people import ApiToken, SessionRecord
from receiving.store.photos import DATABASE, PHOTOS, SHOWN, PhotoFolder, ShownFolder
from receiving.store.records import (
    Document,
    DocumentKind,
    PhotoRecord,
    PhotoStatus,
    RevisionOrigin,
    RevisionRecord,
    SetAside,
    ShipmentRecord,
)
from receiving.store.seals import SigningKey
from receiving.store.signing_on import Passkey
from receiving.store.snapshots import PhotoMark, Stamps
from receiving.store.store import Store
from receiving.store.webhooks import Delivery, Webhook

__all__ = [
    "DAMAGE_WORDS",
    "DATABASE",
    "PHOTOS",
    "SHOWN",
    "ActionRecord",
    "Anchor",
    "ApiToken",
    "BackedUp",
    "CachedRow",
    "CheckReport",
    "Damage",
    "DamageKind",
    "Delivery",
    "Document",
    "DocumentKind",
    "ListQuery",
    "ListRowRecord",
    "Passkey",
    "PhotoFolder",
    "PhotoMark",
    "PhotoRecord",
    "PhotoStatus",
    "RevisionOrigin",
    "RevisionRecord",
    "RowDay",
    "SessionRecord",
    "SetAside",
    "ShipmentRecord",
    "ShownFolder",
    "SigningKey",
    "Stamps",
    "Store",
    "Webhook",
    "back_up",
    "back_up_to_folder",
    "check_data",
    "restore",
]
