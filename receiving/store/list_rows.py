"""Rows of lists, kept with what they are sorted and looked for by; and how each shipment stood at the end of each day.

A row is derived: it can be made again from what is stored, and is, once something that it follows from was stored;
`receiving.store.table_schema` knows what that is. How a shipment stood on a day is kept as it changes, never worked out
anew.
"""

import json
from collections.abc import Collection, Iterable, Sequence
from dataclasses import asdict, dataclass, fields
from datetime import date, datetime
from itertools import starmap
from typing import NamedTuple

from receiving.model import EVERYTHING, DataScope
from receiving.store.records import as_utc_text
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


@dataclass(frozen=True)
class ListRowRecord:
    """One row of a list as it is stored: ``row`` whole as JSON, the rest of it to look for and to sort by.

    ``words`` in lower case; ``visit`` and ``order_by`` ISO days; ``here`` the share of the expected cartons;
    ``rank``, ``distance``, ``load`` and ``missing`` sort upwards; ``good_until`` is when the day changes what they are.
    ``day`` is what is kept of it as history. ``by_patterns``: 2 where a plain text was read, 1 where elements were
    that a pattern may name, 0 where no pattern changes anything; ``by_parts``: whether the parts list may.
    """

    shipment: str
    store: str
    words: str
    urgency: int
    rank: int
    distance: int
    load: int
    missing: int
    visit: str | None
    order_by: str | None
    here: float | None
    last_read: str | None
    sections: str
    shipper: str
    good_until: str
    row: str
    day: RowDay
    by_patterns: int = 2
    by_parts: bool = True


class CachedRow(NamedTuple):
    """A row as it is kept, whole as JSON, and until when the day leaves what is to be done as it is."""

    shipment: str
    row: str
    good_until: str


@dataclass(frozen=True)
class ListQuery:
    """Which rows are wanted, and in which order: ``sort`` is a column, empty for the most pressing first.

    ``words`` in lower case, each of which a row's own must hold, unless ``found`` pairs it with the row's shipment;
    within ``scope``.
    """

    scope: DataScope = EVERYTHING
    words: tuple[str, ...] = ()
    found: tuple[tuple[str, frozenset[str]], ...] = ()
    urgencies: frozenset[int] = frozenset()
    visit_from: str = ""
    visit_to: str = ""
    section: str = ""
    shipper: str = ""
    shipment: str = ""
    sort: str = ""
    descending: bool = False


SORTS = {"store": "store", "visit": "visit", "here": "here", "missing": "-missing", "order_by": "order_by"} | {
    "last_read": "last_read"
}
_NAMED = (("list_sections", "section"), ("list_rows", "shipper"))
_PRESSING = "rank, distance, load, missing, shipment"
_COLUMNS = tuple(each.name for each in fields(ListRowRecord) if each.name != "day")
_PUT = (
    f"INSERT INTO list_rows ({', '.join(_COLUMNS)}) VALUES ({', '.join('?' * len(_COLUMNS))}) "
    f"ON CONFLICT (shipment) DO UPDATE SET {', '.join(f'{name} = excluded.{name}' for name in _COLUMNS[1:])}"
)


class ListRowTables(RowDayTables):
    """Rows of lists."""

    def stale_rows(self, limit: int) -> dict[str, int]:
        """Shipments whose row is to be made again, at most this many, each with the mark to put it back with."""
        rows = self._rows("SELECT shipment, mark FROM stale_rows LIMIT ?", limit)
        return {row["shipment"]: row["mark"] for row in rows}

    def count_stale_rows(self) -> int:
        """How many rows are to be made again."""
        return int(self._rows("SELECT count(*) AS n FROM stale_rows")[0]["n"])

    def made_by(self, maker: str) -> None:
        """Say by what rows are made; where it was something else before, all are made again."""
        rows = self._rows("SELECT maker FROM list_maker")
        if rows and rows[0]["maker"] == maker:
            return
        with self._writing():
            self._db.execute("INSERT OR REPLACE INTO list_maker VALUES (1, ?)", [maker])
            self._db.execute("INSERT OR REPLACE INTO stale_rows SELECT shipment, random() FROM shipments")

    def put_list_rows(
        self,
        made: Iterable[tuple[ListRowRecord, Collection[str]]],
        marks: dict[str, int],
        now: datetime,
        *,
        unreadable: Iterable[str] = (),
        voided: Iterable[str] = (),
    ) -> None:
        """Keep rows that were made, each with the codes that were read there and are not its own.

        ``unreadable`` shipments have none, and stay to be made; ``voided`` ones have none. A row whose mark changed
        while it was made stays to be made again.
        """
        made = tuple(made)
        with self._writing():
            self.keep_days((record.day for record, _ in made), now)
            for record, strange in made:
                self._db.execute(_PUT, [getattr(record, name) for name in _COLUMNS])
                self._put_sections(record.shipment, json.loads(record.sections))
                self._db.execute("DELETE FROM strange_codes WHERE shipment = ?", [record.shipment])
                self._db.conn.executemany(
                    "INSERT INTO strange_codes VALUES (?, ?)", [(code, record.shipment) for code in strange]
                )
                self._unmark(record.shipment, marks)
            for shipment in voided:
                self._put_sections(shipment, ())
                self._db.execute("DELETE FROM list_rows WHERE shipment = ?", [shipment])
                self._unmark(shipment, marks)
            for shipment in unreadable:
                self._put_sections(shipment, ())
                self._db.execute("DELETE FROM list_rows WHERE shipment = ?", [shipment])
            self._rows_changed()

    def _unmark(self, shipment: str, marks: dict[str, int]) -> None:
        self._db.execute("DELETE FROM stale_rows WHERE shipment = ? AND mark = ?", [shipment, marks[shipment]])

    def _put_sections(self, shipment: str, sections: Collection[str]) -> None:
        self._db.execute("DELETE FROM list_sections WHERE shipment = ?", [shipment])
        self._db.conn.executemany(
            "INSERT INTO list_sections (section, shipment) VALUES (?, ?)", [(name, shipment) for name in set(sections)]
        )

    def list_names(self, scope: DataScope, most: int) -> tuple[tuple[str, ...], tuple[str, ...]]:
        """The sections and the shippers of the rows (within this scope), in order, at most this many of each.

        Of all rows each name is one step in an index, however many rows there are (sqlite.org/lang_with.html).
        """
        names = [self._names(table, column, scope, most) for table, column in _NAMED]
        return names[0], names[1]

    def _names(self, table: str, column: str, scope: DataScope, most: int) -> tuple[str, ...]:
        if scope == EVERYTHING:
            sql = (
                f"WITH RECURSIVE names (name) AS (SELECT min({column}) FROM {table} WHERE {column} > ''"
                f" UNION ALL SELECT (SELECT min({column}) FROM {table} WHERE {column} > name) FROM names"
                " WHERE name IS NOT NULL) SELECT name FROM names WHERE name IS NOT NULL LIMIT ?"
            )
            return tuple(str(row[0]) for row in self._tuples(sql, most))
        where, values = _where(ListQuery(scope=scope))
        sql = (
            f"SELECT DISTINCT {column} FROM {table} WHERE {column} > '' AND shipment IN"
            f" (SELECT shipment FROM list_rows WHERE {where}) ORDER BY {column} LIMIT ?"
        )
        return tuple(str(row[0]) for row in self._tuples(sql, *values, most))

    def _rows_changed(self) -> None:
        self._db.execute("UPDATE list_version SET version = version + 1")

    def list_version(self) -> int:
        """A number that grows whenever a row of a list is other than it was."""
        return int(self._rows("SELECT version FROM list_version")[0]["version"])

    def ended_rows(self, now: datetime, limit: int) -> tuple[str, ...]:
        """Rows, whole, whose sort keys are of a day that is over."""
        rows = self._rows("SELECT row FROM list_rows WHERE good_until <= ? LIMIT ?", as_utc_text(now), limit)
        return tuple(row["row"] for row in rows)

    def put_days(self, records: Iterable[ListRowRecord], now: datetime) -> None:
        """Keep rows whose day changed; one that was made again meanwhile is left as it is."""
        names = ("urgency", "rank", "distance", "load", "missing", "order_by", "good_until")
        records = tuple(records)
        with self._writing():
            self.keep_days((record.day for record in records), now)
            self._db.conn.executemany(
                f"UPDATE list_rows SET {', '.join(f'{name} = ?' for name in names)} WHERE shipment = ? AND row = ?",
                [(*(getattr(each, name) for name in names), each.shipment, each.row) for each in records],
            )
            self._rows_changed()

    def list_rows(self, query: ListQuery, *, limit: int = -1, offset: int = 0) -> tuple[CachedRow, ...]:
        """The rows that are wanted, whole, in order; at most ``limit`` of them after ``offset``."""
        where, values = _where(query)
        sql = f"SELECT shipment, row, good_until FROM list_rows WHERE {where} ORDER BY {_order(query)} LIMIT ? OFFSET ?"
        return tuple(starmap(CachedRow, self._tuples(sql, *values, limit, offset)))

    def listed_shipments(self, query: ListQuery) -> tuple[str, ...]:
        """The shipments of the rows that are wanted, in order."""
        where, values = _where(query)
        sql = f"SELECT shipment FROM list_rows WHERE {where} ORDER BY {_order(query)}"
        return tuple(str(row[0]) for row in self._tuples(sql, *values))

    def list_rows_of(self, shipments: Sequence[str]) -> tuple[CachedRow, ...]:
        """The rows of these shipments, in their order; one that has none any more is left out."""
        sql = (
            "SELECT wanted.value, row, good_until FROM json_each(?) AS wanted JOIN list_rows ON shipment = wanted.value"
            " ORDER BY wanted.key"
        )
        return tuple(starmap(CachedRow, self._tuples(sql, json.dumps(shipments))))

    def count_list_rows(self, query: ListQuery) -> int:
        """How many rows are wanted."""
        where, values = _where(query)
        return int(self._rows(f"SELECT count(*) AS n FROM list_rows WHERE {where}", *values)[0]["n"])

    def urgencies(self, scope: DataScope) -> dict[int, int]:
        """How many rows there are of each urgency, within this scope."""
        where, values = _where(ListQuery(scope=scope))
        rows = self._rows(f"SELECT urgency, count(*) AS n FROM list_rows WHERE {where} GROUP BY urgency", *values)
        return {row["urgency"]: row["n"] for row in rows}

    def shipments_around(self, shipment: str, first: date, last: date, *, most: int) -> tuple[str, ...]:
        """At most this many other shipments whose visit is planned between two days, both counted, earliest first."""
        rows = self._rows(
            "SELECT shipment FROM shipments WHERE dispatch_date BETWEEN ? AND ? AND shipment <> ?"
            " AND NOT voided ORDER BY dispatch_date, shipment LIMIT ?",
            first.isoformat(),
            last.isoformat(),
            shipment,
            most,
        )
        return tuple(row["shipment"] for row in rows)


def _where(query: ListQuery) -> tuple[str, list[object]]:
    parts: list[str] = []
    values: list[object] = []

    def add(part: str, *given: object) -> None:
        parts.append(part)
        values.extend(given)

    if query.scope.stores is not None:
        add("store IN (SELECT value FROM json_each(?))", json.dumps(sorted(query.scope.stores)))
    if query.scope.programmes is not None:
        add(
            "shipment IN (SELECT shipment FROM shipments WHERE programme IN (SELECT value FROM json_each(?)))",
            json.dumps(sorted(query.scope.programmes)),
        )
    if query.shipment:
        add("shipment = ?", query.shipment)
    if query.urgencies:
        add("urgency IN (SELECT value FROM json_each(?))", json.dumps(sorted(query.urgencies)))
    if query.visit_from:
        add("visit >= ?", query.visit_from)
    if query.visit_to:
        add("visit <= ?", query.visit_to)
    if query.section:
        add("shipment IN (SELECT shipment FROM list_sections WHERE section = ?)", query.section)
    if query.shipper:
        add("shipper = ?", query.shipper)
    found = dict(query.found)
    for word in query.words:
        if shipments := found.get(word):
            named = json.dumps(sorted(shipments))
            add("(instr(words, ?) > 0 OR shipment IN (SELECT value FROM json_each(?)))", word, named)
        else:
            add("instr(words, ?) > 0", word)
    return " AND ".join(parts) or "1", values


def _order(query: ListQuery) -> str:
    if not query.sort:
        return ", ".join(f"{name} DESC" for name in _PRESSING.split(", ")) if query.descending else _PRESSING
    column = SORTS[query.sort]
    downwards = " DESC" if query.descending else ""
    by = f"store{downwards}, shipment{downwards}" if query.sort == "store" else f"{column}{downwards}"
    return f"{column} IS NULL, {by}, {_PRESSING}"


def words_of(texts: Sequence[str]) -> str:
    """What a row is looked for by."""
    return " ".join(texts).casefold()
