"""How each shipment stood at the end of each day on which that changed: kept as it changes, never worked out anew."""

from collections.abc import Iterable
from dataclasses import asdict, dataclass, fields
from datetime import datetime

from receiving.store.tables import Tables
from receiving.store.webhooks import WebhookTables

SHORT_STATES = frozenset({"short", "overdue"})


@dataclass(frozen=True)
class RowDay:
    """How a shipment stood on a day at its store: what is to be done, and its counts. Days are ISO; empty: none."""

    shipment: str
    day: str
    state: str
    next_step: str
    order_by: str
    visit: str
    expected: int
    here: int
    missing: int


_NAMES = tuple(each.name for each in fields(RowDay))
_ADVICE = ("state", "next_step", "order_by")
ROW_DAYS_SCHEMA = (
    """CREATE TABLE row_days (
        shipment TEXT NOT NULL REFERENCES shipments,
        day TEXT NOT NULL,
        state TEXT NOT NULL,
        next_step TEXT NOT NULL,
        order_by TEXT NOT NULL,
        visit TEXT NOT NULL,
        expected INTEGER NOT NULL,
        here INTEGER NOT NULL,
        missing INTEGER NOT NULL,
        PRIMARY KEY (shipment, day)
    ) STRICT, WITHOUT ROWID""",
)


class RowDayTables(WebhookTables, Tables):
    """The history of rows, and the events that come of it."""

    def keep_days(self, found: Iterable[RowDay], at: datetime) -> None:
        """Keep how shipments stand now, where it is other than before, and store the events that this is."""
        told = self.wants_events()
        for each in found:
            rows = self._rows(
                f"SELECT {', '.join(_NAMES)} FROM row_days WHERE shipment = ? ORDER BY day DESC LIMIT 1", each.shipment
            )
            before = RowDay(**rows[0]) if rows else None
            if before is not None and {**asdict(before), "day": each.day} == asdict(each):
                continue
            self._db.execute(
                f"INSERT OR REPLACE INTO row_days ({', '.join(_NAMES)}) VALUES ({', '.join('?' * len(_NAMES))})",
                [getattr(each, name) for name in _NAMES],
            )
            if told:
                self._tell(before, each, at)

    def _tell(self, before: RowDay | None, now: RowDay, at: datetime) -> None:
        store = self._rows("SELECT store FROM shipments WHERE shipment = ?", now.shipment)[0]["store"]
        kinds = []
        if now.state in SHORT_STATES and (before is None or before.state not in SHORT_STATES):
            kinds.append("shipment_short")
        if before is not None and any(getattr(before, name) != getattr(now, name) for name in _ADVICE):
            kinds.append("advice_changed")
        data = {name: getattr(now, name) for name in _NAMES if name != "shipment"}
        data["before"] = {name: getattr(before, name) for name in _ADVICE} if before else None
        for kind in kinds:
            self.add_event(self.new_event_id(), kind, now.shipment, store, at, data)

    def readiness(self, first: str) -> tuple[tuple[str, str, int], ...]:
        """How many shipments came into each state or left it, by day and state, since ``first``; all before on it."""
        rows = self._rows(
            "WITH kept AS (SELECT shipment, day, state, lead(day) OVER (PARTITION BY shipment ORDER BY day) AS until"
            "  FROM row_days WHERE shipment NOT IN (SELECT shipment FROM shipments WHERE voided)),"
            " moved AS (SELECT max(day, ?1) AS day, state, 1 AS n FROM kept WHERE until IS NULL OR until > ?1"
            "  UNION ALL SELECT until, state, -1 FROM kept WHERE until > ?1)"
            " SELECT day, state, sum(n) AS n FROM moved GROUP BY day, state ORDER BY day, state",
            first,
        )
        return tuple((row["day"], row["state"], row["n"]) for row in rows)
