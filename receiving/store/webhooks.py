"""Webhooks: who is told of what, the events that happened, and how often each was sent to whom.

An event and its deliveries are stored in the transaction of what happened, so that none is lost at a stop.
"""

import json
import uuid
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

from receiving.messages import message
from receiving.model import DataScope
from receiving.store.records import as_utc_text, from_utc_text
from receiving.store.tables import Row, Tables, read_scope, scope_columns

RETAINED_DAYS = 30
"""Deliveries that are over are listed so long."""


@dataclass(frozen=True)
class Webhook:
    """An address that is told of events within its ``scope``, and what its messages are signed with.

    ``old_secret`` signs beside the new one until ``old_until``.
    """

    webhook_id: str
    url: str
    events: frozenset[str]
    scope: DataScope
    secret: str
    created_at: datetime
    created_by: str
    old_secret: str = ""
    old_until: datetime | None = None
    ended_at: datetime | None = None


@dataclass(frozen=True)
class Delivery:
    """One event on its way to one webhook: ``tries`` so far, the next one at ``next_at``; None when it is over.

    ``answer`` is the last HTTP status, 0 where none came; ``fault`` says why it did not arrive.
    """

    delivery_id: int
    webhook_id: str
    event_id: str
    kind: str
    shipment: str
    at: datetime
    body: str
    tries: int
    next_at: datetime | None
    delivered_at: datetime | None
    answer: int
    fault: str


_DELIVERY = (
    "SELECT d.delivery_id, d.webhook_id, e.event_id, e.kind, e.shipment, e.at, e.body, d.tries, d.next_at,"
    " d.delivered_at, d.answer, d.fault FROM webhook_deliveries d JOIN webhook_events e USING (event_seq)"
)

WEBHOOK_SCHEMA = (
    """CREATE TABLE webhooks (
        webhook_id TEXT PRIMARY KEY,
        url TEXT NOT NULL,
        events TEXT NOT NULL,
        stores TEXT,
        secret TEXT NOT NULL,
        old_secret TEXT NOT NULL DEFAULT '',
        old_until TEXT,
        created_at TEXT NOT NULL,
        created_by TEXT NOT NULL,
        ended_at TEXT
    ) STRICT""",
    """CREATE TABLE webhook_events (
        event_seq INTEGER PRIMARY KEY,
        event_id TEXT NOT NULL UNIQUE,
        kind TEXT NOT NULL,
        shipment TEXT NOT NULL,
        store TEXT NOT NULL,
        at TEXT NOT NULL,
        body TEXT NOT NULL
    ) STRICT""",
    """CREATE TABLE webhook_deliveries (
        delivery_id INTEGER PRIMARY KEY,
        webhook_id TEXT NOT NULL REFERENCES webhooks,
        event_seq INTEGER NOT NULL REFERENCES webhook_events,
        tries INTEGER NOT NULL DEFAULT 0,
        next_at TEXT,
        delivered_at TEXT,
        answer INTEGER NOT NULL DEFAULT 0,
        fault TEXT NOT NULL DEFAULT ''
    ) STRICT""",
    "CREATE INDEX webhook_deliveries_due ON webhook_deliveries (next_at) WHERE next_at IS NOT NULL",
    "CREATE INDEX webhook_deliveries_of_event ON webhook_deliveries (event_seq)",
)


class WebhookTables(Tables):
    """Webhooks, events, deliveries."""

    def add_webhook(self, webhook: Webhook) -> None:
        """Tell this address of what happens from now on."""
        with self._writing():
            self._db.execute(
                "INSERT INTO webhooks (webhook_id, url, events, stores, programmes, secret, created_at, created_by)"
                " VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
                [
                    webhook.webhook_id,
                    webhook.url,
                    json.dumps(sorted(webhook.events)),
                    *scope_columns(webhook.scope),
                    webhook.secret,
                    as_utc_text(webhook.created_at),
                    webhook.created_by,
                ],
            )

    def webhooks(self) -> tuple[Webhook, ...]:
        """All of them, those in use first, the newest on top."""
        rows = self._rows("SELECT * FROM webhooks ORDER BY ended_at IS NOT NULL, created_at DESC, webhook_id")
        return tuple(map(_webhook, rows))

    def change_secret(self, webhook_id: str, secret: str, old_until: datetime) -> bool:
        """Sign with this secret from now on, and with the one before it until then; False where there is none."""
        with self._writing():
            done = self._db.execute(
                "UPDATE webhooks SET old_secret = secret, old_until = ?, secret = ?"
                " WHERE webhook_id = ? AND ended_at IS NULL",
                [as_utc_text(old_until), secret, webhook_id],
            )
            return bool(done.rowcount)

    def end_webhook(self, webhook_id: str, at: datetime) -> bool:
        """Tell this address nothing more; False where there is none in use."""
        with self._writing():
            done = self._db.execute(
                "UPDATE webhooks SET ended_at = ? WHERE webhook_id = ? AND ended_at IS NULL",
                [as_utc_text(at), webhook_id],
            )
            self._db.execute(
                "UPDATE webhook_deliveries SET next_at = NULL, fault = ? WHERE webhook_id = ? AND next_at IS NOT NULL",
                [str(message("The webhook was ended.")), webhook_id],
            )
            return bool(done.rowcount)

    def add_event(self, event_id: str, kind: str, shipment: str, at: datetime, data: object, *, only: str = "") -> None:
        """Store an event with a delivery to each webhook that wants it (``only`` to one); nothing where none does."""
        found = self._rows("SELECT store, programme FROM shipments WHERE shipment = ?", shipment)
        store, programme = (found[0]["store"], found[0]["programme"]) if found else ("", "")
        takers = [
            each.webhook_id
            for each in self.webhooks()
            if each.ended_at is None
            and (each.webhook_id == only if only else kind in each.events and each.scope.sees(store, programme))
        ]
        if not takers:
            return
        whole = {"event": kind, "at": at.isoformat(), "shipment": shipment, "store": store, "data": data}
        with self._writing():
            added = self._db.execute(
                "INSERT INTO webhook_events (event_id, kind, shipment, store, at, body) VALUES (?, ?, ?, ?, ?, ?)",
                [event_id, kind, shipment, store, as_utc_text(at), json.dumps(whole, ensure_ascii=False)],
            )
            self._db.conn.executemany(
                "INSERT INTO webhook_deliveries (webhook_id, event_seq, next_at) VALUES (?, ?, ?)",
                [(webhook, added.lastrowid, as_utc_text(at)) for webhook in takers],
            )

    @staticmethod
    def new_event_id() -> str:
        """An id for an event that the store itself notices."""
        return str(uuid.uuid4())

    def wants_events(self) -> bool:
        """True while any webhook is in use."""
        return bool(self._rows("SELECT 1 FROM webhooks WHERE ended_at IS NULL LIMIT 1"))

    def due_deliveries(self, now: datetime, most: int, but: Iterable[str] = ()) -> tuple[Delivery, ...]:
        """Deliveries that are due, the oldest event first, at most this many, without those of these webhooks."""
        rows = self._rows(
            f"{_DELIVERY} WHERE d.next_at <= ? AND d.webhook_id NOT IN (SELECT value FROM json_each(?))"
            " ORDER BY d.next_at, d.delivery_id LIMIT ?",
            as_utc_text(now),
            json.dumps(sorted(but)),
            most,
        )
        return tuple(map(_delivery, rows))

    def deliveries(self, most: int, webhook_id: str = "") -> tuple[Delivery, ...]:
        """The last deliveries, the newest first."""
        where = "WHERE d.webhook_id = ?" if webhook_id else "WHERE ? = ''"
        rows = self._rows(f"{_DELIVERY} {where} ORDER BY d.delivery_id DESC LIMIT ?", webhook_id, most)
        return tuple(map(_delivery, rows))

    def tried(
        self, delivery_id: int, *, answer: int, fault: str, delivered_at: datetime | None, next_at: datetime | None
    ) -> None:
        """Store what came of a try; ``next_at`` None: it is over. One that was ended meanwhile stays so."""
        with self._writing():
            self._db.execute(
                "UPDATE webhook_deliveries SET tries = tries + 1, answer = ?, fault = ?, delivered_at = ?,"
                " next_at = CASE WHEN next_at IS NULL THEN NULL ELSE ? END WHERE delivery_id = ?",
                [
                    answer,
                    fault,
                    as_utc_text(delivered_at) if delivered_at else None,
                    as_utc_text(next_at) if next_at else None,
                    delivery_id,
                ],
            )

    def send_again(self, delivery_id: int, at: datetime) -> bool:
        """Send a delivery that is not under way once more; False where there is none, or its webhook was ended."""
        with self._writing():
            done = self._db.execute(
                "UPDATE webhook_deliveries SET next_at = ?, tries = 0, fault = '' WHERE delivery_id = ?"
                " AND webhook_id IN (SELECT webhook_id FROM webhooks WHERE ended_at IS NULL)",
                [as_utc_text(at), delivery_id],
            )
            return bool(done.rowcount)

    def forget_deliveries(self, now: datetime) -> None:
        """Drop what is over and longer ago than is listed."""
        with self._writing():
            self._db.execute(
                "DELETE FROM webhook_deliveries WHERE next_at IS NULL AND event_seq IN"
                " (SELECT event_seq FROM webhook_events WHERE at < ?)",
                [as_utc_text(now - timedelta(days=RETAINED_DAYS))],
            )
            self._db.execute(
                "DELETE FROM webhook_events WHERE event_seq NOT IN (SELECT event_seq FROM webhook_deliveries)"
            )


def _webhook(row: Row) -> Webhook:
    return Webhook(
        row["webhook_id"],
        row["url"],
        frozenset(json.loads(row["events"])),
        read_scope(row),
        row["secret"],
        from_utc_text(row["created_at"]),
        row["created_by"],
        row["old_secret"],
        from_utc_text(row["old_until"]) if row["old_until"] else None,
        from_utc_text(row["ended_at"]) if row["ended_at"] else None,
    )


def _delivery(row: Row) -> Delivery:
    times = {name: from_utc_text(row[name]) if row[name] else None for name in ("next_at", "delivered_at")}
    return Delivery(**{**row, **times, "at": from_utc_text(row["at"])})
