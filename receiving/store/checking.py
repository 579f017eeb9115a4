"""Is what was stored still there, as it was stored: the database, every row, every photo."""

import hashlib
import json
import sqlite3
import tempfile
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path

from receiving.errors import ReceivingError, words_of_error
from receiving.messages import Text, joined, message
from receiving.model import NOTE_KINDS, Manifest, PhotoReading, RawRead, Receipt
from receiving.store.connection import SCHEMA_SQL, connect, expected_schema, is_current, mapped_sqlite_errors, read_only
from receiving.store.photos import photo_path
from receiving.store.records import COLUMNS, from_text, is_as_stored, is_chained
from receiving.store.tables import NAMES, Row

_KEY_DIGITS = 16
MOST_LISTED = 1000
"""Damages that are listed; further ones are counted."""


class DamageKind(StrEnum):
    """What is wrong with something that was stored."""

    DATABASE = "database_damaged"
    SCHEMA = "schema_altered"
    ROW_ALTERED = "row_altered"
    ROW_UNREADABLE = "row_unreadable"
    ROWS_MISSING = "rows_missing"
    ROWS_DISAGREE = "rows_disagree"
    PHOTO_ALTERED = "photo_altered"
    PHOTO_MISSING = "photo_missing"


DAMAGE_WORDS = {
    DamageKind.DATABASE: message("the database itself is damaged"),
    DamageKind.SCHEMA: message("a table, an index or a trigger of the database was altered"),
    DamageKind.ROW_ALTERED: message("altered after it was stored"),
    DamageKind.ROW_UNREADABLE: message("cannot be read, so it does not count"),
    DamageKind.ROWS_MISSING: message("rows are missing"),
    DamageKind.ROWS_DISAGREE: message("does not agree with the data that it was derived from"),
    DamageKind.PHOTO_ALTERED: message("the photo's file was altered"),
    DamageKind.PHOTO_MISSING: message("the photo's file is missing"),
}
"""Each kind of damage, said of what is damaged."""


@dataclass(frozen=True)
class Damage:
    """One damage: of which table, which row or photo, of which shipment where that is known, and what was found."""

    kind: DamageKind
    table: str
    name: str = ""
    shipment: str = ""
    detail: Text = ""


@dataclass(frozen=True)
class CheckReport:
    """What was looked at (rows by table, photo files), and what is damaged. ``more``: damages beyond those listed."""

    rows: dict[str, int]
    photos: int
    damages: tuple[Damage, ...]
    more: int = 0

    @property
    def whole(self) -> bool:
        """True when everything is as it was stored."""
        return not self.damages


_SEALS_ALONE_SQL = (
    "SELECT shipment, number FROM seals s WHERE NOT EXISTS"
    " (SELECT 1 FROM receipts r WHERE r.shipment = s.shipment AND r.number = s.number) ORDER BY 1, 2"
)
_UNSEALED_SQL = (
    "SELECT shipment, number FROM receipts r LEFT JOIN seals s USING (shipment, number) WHERE s.header IS NULL"
    " AND (r.seq > (SELECT min(seq) FROM receipts JOIN seals USING (shipment, number))"
    # The first seal makes the first key, a moment after its receipt was confirmed.
    " OR julianday(r.confirmed_at) > (SELECT min(julianday(created_at)) FROM signing_keys) - 5.0 / 86400)"
    " ORDER BY r.seq"
)
_CODES_SQL = "SELECT code FROM carton_codes WHERE shipment = ?"

_SEALS_BY_NO_KEY_SQL = (
    "SELECT shipment, number FROM seals WHERE public_key NOT IN (SELECT public_key FROM signing_keys)"
)

PhotoCheck = Callable[[str], DamageKind | None]
"""What is wrong with the file of a photo, by its id; None where nothing is."""

KeyCheck = Callable[[str, str], bool]
"""Whether a private and a public key (hex) are a pair."""


def check_data(
    database: Path, photos: Path, *, hash_photos: bool = True, are_pair: KeyCheck | None = None
) -> CheckReport:
    """Check the database and every photo that it names, as of one moment; also while it is in use.

    Without ``hash_photos`` the photos' files are only asked to be there, without ``are_pair`` the private half of the
    key in use is only asked to be there. Raises NoData where there is none, StoreError where it is not ours, is newer,
    or cannot be opened.
    """

    def whole(photo: str) -> DamageKind | None:
        return file_damage(photo_path(photos, photo), photo)

    def there(photo: str) -> DamageKind | None:
        return None if photo_path(photos, photo).exists() else DamageKind.PHOTO_MISSING

    return check_database(database, whole if hash_photos else there, are_pair)


def check_database(database: Path, photo_damage: PhotoCheck, are_pair: KeyCheck | None = None) -> CheckReport:
    """Check the database; the files of its photos are looked at by ``photo_damage``. Raises as `check_data`."""
    with _as_now(database) as current, read_only(current) as connection:
        connection.row_factory = sqlite3.Row
        check = _Check(connection, photo_damage, are_pair)
        listed: list[Damage] = []
        more = 0
        for damage in check.run():
            if len(listed) < MOST_LISTED:
                listed.append(damage)
            else:
                more += 1
        return CheckReport(check.rows, check.photos, tuple(listed), more)


@contextmanager
def _as_now(database: Path) -> Iterator[Path]:
    """The database, or, where an older version made it, a copy that is brought up to date."""
    if is_current(database):
        yield database
        return
    with tempfile.TemporaryDirectory(prefix="receiving-check-") as folder:
        copy = Path(folder) / database.name
        copy_and_check(database, copy)
        connect(copy, create=False).conn.close()
        yield copy


def file_damage(path: Path, photo: str) -> DamageKind | None:
    """What is wrong with a photo's file, which should hold the bytes whose SHA-256 is ``photo``."""
    try:
        with path.open("rb") as file:
            whole = hashlib.file_digest(file, "sha256").hexdigest() == photo
    except FileNotFoundError:
        return DamageKind.PHOTO_MISSING
    except OSError:
        return DamageKind.PHOTO_ALTERED
    return None if whole else DamageKind.PHOTO_ALTERED


class _Check:
    """One look at a database, in one transaction: nothing that is written meanwhile is seen by half."""

    def __init__(self, connection: sqlite3.Connection, photo_damage: PhotoCheck, are_pair: KeyCheck | None) -> None:
        self._connection = connection
        self._photo_damage = photo_damage
        self._are_pair = are_pair
        self.rows: dict[str, int] = {}
        self.photos = 0

    def run(self) -> Iterator[Damage]:
        try:
            self._connection.execute("BEGIN")
            yield from self._structure()
            yield from self._schema()
            for table in COLUMNS:
                yield from self._table(table)
            yield from self._audit()
            yield from self._seals()
            yield from self._keys()
            yield from self._shipments()
            yield from self._photo_files()
        except (sqlite3.DatabaseError, UnicodeDecodeError) as fault:  # sqlite3 raises either for text that is not UTF-8
            yield Damage(DamageKind.DATABASE, "", detail=str(fault))

    def _structure(self) -> Iterator[Damage]:
        for (fault,) in self._connection.execute("SELECT CAST(integrity_check AS BLOB) FROM pragma_integrity_check"):
            if fault != b"ok":  # it may name what is damaged by bytes that are not text any more
                yield Damage(DamageKind.DATABASE, "", detail=fault.decode(errors="replace"))
        for row in self._connection.execute("PRAGMA foreign_key_check"):
            yield Damage(
                DamageKind.ROWS_DISAGREE,
                row[0],
                detail=message("names a row of {table} that is not there", table=row[2]),
            )

    def _schema(self) -> Iterator[Damage]:
        """The guards that keep rows from being altered are in place, as every table and index is."""
        there = {(kind, name): sql for kind, name, sql in self._connection.execute(SCHEMA_SQL)}
        for key in sorted({key for key, sql in expected_schema().items() if there.get(key) != sql}):
            yield Damage(DamageKind.SCHEMA, "", detail=f"{key[0]} {key[1]}")

    def _table(self, table: str) -> Iterator[Damage]:
        """Every row of a table: still as stored, still understood, and none gone from between."""
        count = 0
        for row in self._connection.execute(f"SELECT * FROM {table}"):
            count += 1
            yield from _row_damage(table, dict(row))
        self.rows[table] = count
        if table == "seals":
            return  # they have no numbers of their own; each belongs to a receipt
        last = self._connection.execute(f"SELECT ifnull(max(rowid), 0) FROM {table}").fetchone()[0]
        stored = self._stored(table)
        if last != count:
            detail = message("rows: {number}; the number of the last: {last}", number=count, last=last)
            yield Damage(DamageKind.ROWS_MISSING, table, detail=detail)
        elif stored != count:
            detail = message("rows: {number}; stored so far: {stored}", number=count, stored=stored)
            yield Damage(DamageKind.ROWS_MISSING, table, detail=detail)

    def _stored(self, table: str) -> int:
        """How many rows the table was given."""
        row = self._connection.execute("SELECT number FROM row_counts WHERE counted = ?", [table]).fetchone()
        return int(row[0]) if row else 0

    def _audit(self) -> Iterator[Damage]:
        """Each line of the audit log holds the digest of the one before, from the first that does on."""
        previous, chained = "", False
        for seq, digest, named in self._connection.execute("SELECT seq, digest, previous FROM audit ORDER BY seq"):
            chained = chained or is_chained(digest)
            if chained and named != previous:
                detail = message("it does not follow the line before it")
                yield Damage(DamageKind.ROWS_DISAGREE, "audit", str(seq), detail=detail)
            previous = digest

    def _seals(self) -> Iterator[Damage]:
        """Each seal has its receipt; and each receipt its seal, since the first one that was sealed."""
        for shipment, number in self._connection.execute(_SEALS_ALONE_SQL):
            yield Damage(DamageKind.ROWS_MISSING, "receipts", str(number), shipment, "its seal is there without it")
        for shipment, number in self._connection.execute(_UNSEALED_SQL):
            yield Damage(DamageKind.ROWS_MISSING, "seals", str(number), shipment, "its receipt is there without it")

    def _keys(self) -> Iterator[Damage]:
        """Each key is the one of its id, one at most makes seals, and each seal was made by one of them."""
        rows = [dict(row) for row in self._connection.execute("SELECT * FROM signing_keys")]
        used = sum(row["retired_at"] is None for row in rows)
        for row in rows:
            if not _is_key(row["public_key"], row["key"]):
                detail = message("its id is not that of its public half")
                yield Damage(DamageKind.ROWS_DISAGREE, "signing_keys", str(row["key"]), detail=detail)
            if (row["retired_at"] is None) != bool(row["private_key"]) or (row["retired_at"] is None and used > 1):
                detail = message("one key alone is in use, and only that one has a private half")
                yield Damage(DamageKind.ROWS_DISAGREE, "signing_keys", str(row["key"]), detail=detail)
            elif row["private_key"] and self._are_pair and not self._are_pair(row["private_key"], row["public_key"]):
                detail = message("its private half is not that of its public half")
                yield Damage(DamageKind.ROWS_DISAGREE, "signing_keys", str(row["key"]), detail=detail)
        for shipment, number in self._connection.execute(_SEALS_BY_NO_KEY_SQL):
            detail = message("it was made with a key that is not here")
            yield Damage(DamageKind.ROWS_DISAGREE, "seals", str(number), shipment, detail)

    def _shipments(self) -> Iterator[Damage]:
        """What is kept beside the revisions for speed agrees with them."""
        self.rows["shipments"] = 0
        for row in self._connection.execute("SELECT * FROM shipments"):
            self.rows["shipments"] += 1
            yield from self._shipment(dict(row))

    def _shipment(self, row: Row) -> Iterator[Damage]:
        shipment = row["shipment"]

        def disagree(detail: Text) -> Damage:
            return Damage(DamageKind.ROWS_DISAGREE, "shipments", shipment, shipment, detail)

        sql = "SELECT count(*), ifnull(max(revision), 0) FROM manifest_revisions WHERE shipment = ?"
        count, newest = self._connection.execute(sql, [shipment]).fetchone()
        if not count == newest == row["revision"]:
            yield disagree(
                message(
                    "it is at revision {revision}; revisions stored: {number}, the newest {newest}",
                    revision=row["revision"],
                    number=count,
                    newest=newest,
                )
            )
            return
        sql = "SELECT manifest FROM manifest_revisions WHERE shipment = ? AND revision = ?"
        text = self._connection.execute(sql, [shipment, newest]).fetchone()[0]
        try:
            manifest = from_text(text, Manifest)
        except ReceivingError:
            return  # said of the revision's own row
        day = manifest.dispatch_date.isoformat() if manifest.dispatch_date else None
        own = (shipment, row["store"], row["dispatch_date"], row["programme"])
        if (manifest.shipment, manifest.store, day, manifest.programme) != own:
            yield disagree(message("its store, day or programme is not that of its manifest"))
        sql = "SELECT note FROM notes WHERE shipment = ? AND kind = 'shipment_voided' ORDER BY seq DESC LIMIT 1"
        last = self._connection.execute(sql, [shipment]).fetchone()
        if bool(row["voided"]) != bool(last and json.loads(last[0]).get("voided")):
            yield disagree(
                message("it is voided without a note that says so") if row["voided"] else message("a note voids it")
            )
        # Further forms of a code are kept beside it, by the rules of the version that stored it.
        kept = {code for (code,) in self._connection.execute(_CODES_SQL, [shipment])}
        if not kept >= {code for carton in manifest for code in carton.codes}:
            yield disagree(message("its cartons cannot all be found by their codes"))

    def _photo_files(self) -> Iterator[Damage]:
        pruned = {photo for (photo,) in self._connection.execute("SELECT photo FROM pruned_photos")}
        seen: dict[str, DamageKind | None] = {}
        for shipment, photo in self._connection.execute("SELECT shipment, photo FROM photos ORDER BY photo"):
            if photo not in seen:
                seen = {
                    photo: None if photo in pruned else self._photo_damage(photo)
                }  # in order, so the last one is all that need be kept
                self.photos += 1
            kind = seen[photo]
            if kind:
                yield Damage(kind, "photos", photo, shipment)


def _is_key(public_hex: str, name: str) -> bool:
    """True where ``name`` is the id of this public key: the start of its SHA-256, as keys are named when made."""
    try:
        return hashlib.sha256(bytes.fromhex(public_hex)).hexdigest().startswith(name) and len(name) == _KEY_DIGITS
    except (TypeError, ValueError):
        return False


def _row_damage(table: str, row: Row) -> Iterator[Damage]:
    name, shipment = str(row[NAMES[table]]), str(row.get("shipment", ""))
    if not is_as_stored(table, row):
        yield Damage(DamageKind.ROW_ALTERED, table, name, shipment)
        return
    try:
        if table in _VALUES:
            _VALUES[table](row)
    except (ReceivingError, ValueError, LookupError) as fault:
        detail = fault.message if isinstance(fault, ReceivingError) else words_of_error(fault)
        yield Damage(DamageKind.ROW_UNREADABLE, table, name, shipment, detail)


_VALUES: Mapping[str, Callable[[Row], object]] = {
    "manifest_revisions": lambda row: from_text(row["manifest"], Manifest),
    "reads": lambda row: from_text(row["read"], RawRead),
    "notes": lambda row: from_text(row["note"], NOTE_KINDS[row["kind"]]),
    "receipts": lambda row: from_text(row["receipt"], Receipt),
    "photos": lambda row: row["reading"] and from_text(row["reading"], PhotoReading),
}


def first_words(damages: Iterable[Damage]) -> Text:
    """The first damage, for an error."""
    damage = next(iter(damages))
    named = " ".join(part for part in (damage.table, damage.name[:12]) if part)
    return joined(named, DAMAGE_WORDS[damage.kind], damage.detail, separator=": ")


def copy_and_check(source: Path, database: Path) -> None:
    """Copy a database as of one moment, also while it is in use, into a new file that its owner alone may read."""
    with read_only(source) as connection, mapped_sqlite_errors(source):
        database.touch(0o600)
        target = sqlite3.connect(database)
        try:
            connection.backup(target)
            target.execute("PRAGMA journal_mode=DELETE")
        finally:
            target.close()
