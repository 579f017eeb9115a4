"""The ledger of actions: what was asked for under an id that its sender made, and what was answered.

And what a person was shown and has not answered yet: files before they are imported, receipts before they are
confirmed. Both are rows of the store, so that a server that starts anew, or another one of the same data folder, finds
them.
"""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from receiving.model.hidden_characters import without_hidden_characters
from receiving.store.records import as_utc_text
from receiving.store.tables import Tables


@dataclass(frozen=True)
class ActionRecord:
    """One action that was carried out. ``content_sha256`` is over what was asked for; ``answer`` is JSON text."""

    action_id: str
    content_sha256: str
    answer: str


class ActionTables(Tables):
    """Actions that were carried out; each is added with what it did, and never changed."""

    def action(self, action_id: str) -> ActionRecord | None:
        """The action that was carried out under this id, or None."""
        rows = self._rows("SELECT * FROM actions WHERE action_id = ?", action_id)
        return ActionRecord(action_id, rows[0]["content_sha256"], rows[0]["answer"]) if rows else None

    def add_action(self, action: ActionRecord, *, answered_at: datetime) -> None:
        """Record an action; call it in the transaction of what the action did."""
        with self._writing():
            self._insert(
                "actions",
                {
                    "action_id": action.action_id,
                    "content_sha256": action.content_sha256,
                    "answered_at": as_utc_text(answered_at),
                    "answer": action.answer,
                },
            )


class Purpose(StrEnum):
    """What waits for an answer."""

    IMPORT = "import"
    RECEIPT = "receipt"


NEWEST = {Purpose.IMPORT: 16, Purpose.RECEIPT: 2048}
"""This many of each are kept; an older one has to be shown again."""


@dataclass(frozen=True)
class Pending:
    """What waits for an answer: a file of this ``name``, read as ``detail`` says, or counts."""

    name: str
    detail: str
    body: bytes


class PendingTables(Tables):
    """What waits for an answer."""

    def add_pending(
        self, purpose: Purpose, key: str, body: bytes, *, shown_at: datetime, name: str = "", detail: str = ""
    ) -> None:
        """Keep what was shown under this key, in place of what was before; the oldest go."""
        kept = Pending(without_hidden_characters(name), detail, body)
        if self.pending(purpose, key) == kept:
            return
        with self._writing():
            self._db.execute(
                "INSERT INTO pending (purpose, key, shown_at, name, detail, body) VALUES (?, ?, ?, ?, ?, ?)"
                " ON CONFLICT (purpose, key) DO UPDATE SET name = excluded.name, detail = excluded.detail,"
                " body = excluded.body",
                [purpose, key, as_utc_text(shown_at), kept.name, detail, body],
            )
            self._db.execute(
                "DELETE FROM pending WHERE purpose = ?1 AND seq NOT IN"
                " (SELECT seq FROM pending WHERE purpose = ?1 ORDER BY seq DESC LIMIT ?2)",
                [purpose, NEWEST[purpose]],
            )

    def pending(self, purpose: Purpose, key: str) -> Pending | None:
        """What was shown under this key; None where it is not kept any more."""
        rows = self._rows("SELECT name, detail, body FROM pending WHERE purpose = ? AND key = ?", purpose, key)
        return Pending(**rows[0]) if rows else None
