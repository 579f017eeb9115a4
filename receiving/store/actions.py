"""The ledger of actions: what was asked for under an id that its sender made, and what was answered."""

from dataclasses import dataclass
from datetime import datetime

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
