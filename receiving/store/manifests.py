"""Shipments and the revisions of their manifests."""

import json
from collections.abc import Iterable
from datetime import date, datetime
from typing import TYPE_CHECKING

from receiving.errors import Conflict, NotFound
from receiving.messages import message
from receiving.model import Manifest, StoredMessage, listed_forms
from receiving.model.hidden_characters import without_hidden_characters
from receiving.store.records import (
    RevisionOrigin,
    RevisionRecord,
    ShipmentRecord,
    as_utc_text,
    from_text,
    from_utc_text,
    to_text,
    unreadable,
)
from receiving.store.tables import Row, Tables, no_shipment

if TYPE_CHECKING:
    from receiving.store.library import Database

SHORTEST_END = 6
"""Fewer characters of a code fit too many."""


class ManifestTables(Tables):
    """What should arrive, in every revision."""

    def shipments(self, *, voided: bool | None = False) -> tuple[ShipmentRecord, ...]:
        """The shipments that count, or those that are ``voided``, or all (None), by dispatch date, then id.

        Undated ones come last; one whose row cannot be read is set aside.
        """
        rows = self._rows(
            "SELECT * FROM shipments WHERE ?1 IS NULL OR voided = ?1"
            " ORDER BY dispatch_date IS NULL, dispatch_date, shipment",
            None if voided is None else int(voided),
        )
        return tuple(self._readable("shipments", rows, _shipment))

    def shipment(self, shipment: str) -> ShipmentRecord:
        """The shipment with this id; raises NotFound."""
        rows = self._rows("SELECT * FROM shipments WHERE shipment = ?", shipment)
        if not rows:
            raise no_shipment(shipment)
        return _shipment(rows[0])

    def programmes_of(self, store: str) -> frozenset[str]:
        """The programmes of the shipments to this store; an empty one where a shipment is of none."""
        rows = self._rows("SELECT DISTINCT programme FROM shipments WHERE store = ?", store)
        return frozenset(row["programme"] for row in rows)

    def stamp(self) -> tuple[int, int]:
        """Two numbers that grow with every stored document, and every manifest revision or voided shipment."""
        row = self._rows(
            "SELECT (SELECT ifnull(max(seq), 0) FROM documents) AS d, (SELECT ifnull(max(seq), 0)"
            " FROM manifest_revisions) + (SELECT count(*) FROM notes WHERE kind = 'shipment_voided') AS r"
        )[0]
        return int(row["d"]), int(row["r"])

    def store_version(self, store_id: str) -> int:
        """A number that grows with everything stored for any shipment of this store.

        What a replacement request brought is received as a shipment of its own, and settles what another lacks.
        """
        rows = self._rows("SELECT ifnull(sum(version), 0) AS v FROM shipments WHERE store = ?", store_id)
        return int(rows[0]["v"])

    def revision(self, shipment: str, revision: int | None = None) -> RevisionRecord:
        """One revision of the shipment's manifest, the current one by default; raises NotFound."""
        newest = self.shipment(shipment).revision
        wanted = revision if revision is not None else newest
        known = 1 <= wanted <= newest
        rows = self._rows(
            "SELECT * FROM manifest_revisions WHERE shipment = ? AND revision = ?", shipment, wanted if known else 0
        )
        if not rows:
            raise NotFound(
                message("Shipment {shipment} has no revision {revision}.", shipment=repr(shipment), revision=wanted),
                next_step=message("Choose one of the listed revisions."),
            )
        return _revision(rows[0])

    def revisions(self, shipment: str) -> tuple[RevisionRecord, ...]:
        """All revisions, oldest first; one that cannot be read is set aside."""
        rows = self._rows("SELECT * FROM manifest_revisions WHERE shipment = ? ORDER BY revision", shipment)
        return tuple(self._readable("manifest_revisions", rows, _revision))

    def add_revisions(
        self,
        revisions: Iterable[tuple[Manifest, int, tuple[StoredMessage, ...]]],
        *,
        source: str,
        imported_at: datetime,
        origin: RevisionOrigin = RevisionOrigin.FILE,
        by: str = "",
    ) -> None:
        """Save manifests as new revisions, all or none. Each: manifest, the revision it follows (0: none), changes.

        ``origin``, ``source`` and ``by`` as in `RevisionRecord`. Raises Conflict when a shipment has moved on from the
        revision that the caller compared with.
        """
        with self._writing():
            for manifest, follows, changes in revisions:
                self._move_on(manifest, follows)
                self._insert(
                    "manifest_revisions",
                    {
                        "shipment": manifest.shipment,
                        "revision": follows + 1,
                        "imported_at": as_utc_text(imported_at),
                        "file_name": without_hidden_characters(source),
                        "manifest": to_text(manifest),
                        "changes": json.dumps([change.plain for change in changes]),
                        "origin": origin,
                        "by": by,
                    },
                )
                self._set_codes(manifest)

    def _move_on(self, manifest: Manifest, follows: int) -> None:
        """The shipment's row at the revision after ``follows``; raises Conflict when it is not there any more."""
        rows = self._rows("SELECT revision FROM shipments WHERE shipment = ?", manifest.shipment)
        if (rows[0]["revision"] if rows else 0) != follows:
            raise Conflict(
                message("Shipment {shipment} was changed by someone else meanwhile.", shipment=repr(manifest.shipment)),
                next_step=message("Load the file again to see what it changes now."),
            )
        day = manifest.dispatch_date.isoformat() if manifest.dispatch_date else None
        self._db.execute(
            "INSERT INTO shipments (shipment, store, programme, dispatch_date, revision, version)"
            " VALUES (?, ?, ?, ?, ?, 1) ON CONFLICT (shipment) DO UPDATE SET store = excluded.store,"
            " programme = excluded.programme, dispatch_date = excluded.dispatch_date,"
            " revision = excluded.revision, version = version + 1",
            [manifest.shipment, manifest.store, manifest.programme, day, follows + 1],
        )

    def _set_codes(self, manifest: Manifest) -> None:
        self._db.execute("DELETE FROM carton_codes WHERE shipment = ?", [manifest.shipment])
        add_terms(self._db, manifest)
        self._db.conn.executemany(
            "INSERT INTO carton_codes (code, shipment) VALUES (?, ?)",
            [(code, manifest.shipment) for code in codes_of(manifest)],
        )

    def shipments_with_term(self, term: str) -> frozenset[str]:
        """The shipments with a carton of this id, or with a code that ends with these characters (6 at least)."""
        key = term.casefold()[::-1]
        until = f"{key}\U0010ffff" if len(key) >= SHORTEST_END else key
        rows = self._rows("SELECT DISTINCT shipment FROM carton_terms WHERE term BETWEEN ? AND ?", key, until)
        return frozenset(row["shipment"] for row in rows)

    def shipments_with_codes(self, codes: Iterable[str]) -> tuple[str, ...]:
        """The shipments that count whose current manifest holds one of these SSCCs or barcodes."""
        rows = self._rows(
            "SELECT DISTINCT shipment FROM carton_codes JOIN shipments USING (shipment)"
            " WHERE code IN (SELECT value FROM json_each(?)) AND NOT voided ORDER BY 1",
            json.dumps(sorted(set(codes))),
        )
        return tuple(row["shipment"] for row in rows)


def add_terms(db: "Database", manifest: Manifest) -> None:
    """Make the cartons of this manifest findable, in place of those of an earlier revision."""
    db.execute("DELETE FROM carton_terms WHERE shipment = ?", [manifest.shipment])
    terms = {term for carton in manifest for term in (carton.carton, *carton.codes)}
    db.conn.executemany(
        "INSERT INTO carton_terms (term, shipment) VALUES (?, ?)",
        [(term.casefold()[::-1], manifest.shipment) for term in sorted(terms)],
    )


def codes_of(manifest: Manifest) -> list[str]:
    """The codes by which the manifest's cartons are found, sorted."""
    return sorted({form for carton in manifest for code in carton.codes for form in (code, *listed_forms(code))})


def _shipment(row: Row) -> ShipmentRecord:
    with unreadable("shipment", row["shipment"]):
        return _shipment_record(row)


def _shipment_record(row: Row) -> ShipmentRecord:
    return ShipmentRecord(
        shipment=row["shipment"],
        store=row["store"],
        dispatch_date=date.fromisoformat(row["dispatch_date"]) if row["dispatch_date"] else None,
        revision=row["revision"],
        version=row["version"],
        last_read_at=from_utc_text(row["last_read_at"]) if row["last_read_at"] else None,
        voided=bool(row["voided"]),
        programme=row["programme"],
    )


def _revision(row: Row) -> RevisionRecord:
    with unreadable("revision", row["revision"]):
        return _revision_record(row)


def _revision_record(row: Row) -> RevisionRecord:
    return RevisionRecord(
        revision=row["revision"],
        imported_at=from_utc_text(row["imported_at"]),
        origin=RevisionOrigin(row["origin"]),
        source=row["file_name"],
        by=row["by"],
        manifest=from_text(row["manifest"], Manifest),
        changes=tuple(map(StoredMessage, json.loads(row["changes"]))),
    )
