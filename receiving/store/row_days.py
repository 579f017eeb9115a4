"""How each shipment stood at the end of each day on which that changed: kept as it changes, never worked out anew."""

import json
from collections.abc import Iterable
from dataclasses import asdict, dataclass, fields
from datetime import datetime

from receiving.model import DataScope
from receiving.store.tables import Tables
from receiving.store.webhooks import WebhookTables

SHORT_STATES = frozenset({"short", "overdue"})


@dataclass(frozen=True)
class RowDay:
    """How a shipment stood on a day at its store: what is to be done, and its counts. Days are ISO; empty: none.

    ``replaces`` is 1 for a replacement shipment, which serves the visits of others.
    """

    shipment: str
    day: str
    state: str
    next_step: str
    order_by: str
    visit: str
    expected: int
    here: int
    missing: int
    replaces: int = 0


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
        wanted = self.wants_events()
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
            if wanted:
                self._tell(before, each, at)

    def _tell(self, before: RowDay | None, now: RowDay, at: datetime) -> None:
        kinds = []
        if now.state in SHORT_STATES and (before is None or before.state not in SHORT_STATES):
            kinds.append("shipment_short")
        if before is not None and any(getattr(before, name) != getattr(now, name) for name in _ADVICE):
            kinds.append("advice_changed")
        data = {name: getattr(now, name) for name in _NAMES if name != "shipment"}
        data["before"] = {name: getattr(before, name) for name in _ADVICE} if before else None
        for kind in kinds:
            self.add_event(self.new_event_id(), kind, now.shipment, at, data)

    def moves_of_rows(self, first: str, scope: DataScope) -> tuple[tuple[str, str, int], ...]:
        """How many visits (within this scope) came into each state, less those that left it, by day since ``first``.

        What was before stands on that day. Voided shipments and replacement shipments are left out.
        """
        rows = self._rows(
            "WITH kept AS (SELECT shipment, day, state, lead(day) OVER (PARTITION BY shipment ORDER BY day) AS until"
            "  FROM row_days JOIN shipments USING (shipment) WHERE NOT voided AND NOT replaces"
            "  AND (?2 IS NULL OR store IN (SELECT value FROM json_each(?2)))"
            "  AND (?3 IS NULL OR programme IN (SELECT value FROM json_each(?3)))),"
            " moved AS (SELECT max(day, ?1) AS day, state, 1 AS n FROM kept WHERE until IS NULL OR until > ?1"
            "  UNION ALL SELECT until, state, -1 FROM kept WHERE until > ?1)"
            " SELECT day, state, sum(n) AS n FROM moved GROUP BY day, state ORDER BY day, state",
            first,
            None if scope.stores is None else json.dumps(sorted(scope.stores)),
            None if scope.programmes is None else json.dumps(sorted(scope.programmes)),
        )
        return tuple((row["day"], row["state"], row["n"]) for row in rows)
