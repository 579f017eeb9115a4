"""What all groups of tables share: the connection, transactions, and a shipment's version."""

import json
from collections.abc import Callable, Iterable, Iterator
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path
from types import TracebackType
from typing import Any, Self, TypeVar

from receiving.errors import NotFound, ReceivingError
from receiving.messages import message
from receiving.model import DataScope
from receiving.store.connection import (
    BUSY_TIMEOUT_S,
    connect,
    immediate,
    mapped_sqlite_errors,
    one_moment,
    waiting_at,
)
from receiving.store.records import SetAside, row_digest

Row = dict[str, Any]
V = TypeVar("V")

NAMES = {
    "shipments": "shipment",
    "manifest_revisions": "revision",
    "reads": "read_id",
    "notes": "note_id",
    "photos": "photo",
    "receipts": "number",
    "seals": "number",
    "documents": "seq",
    "actions": "action_id",
    "audit": "seq",
    "people": "name",
}
"""The column by which a row is named to people."""


class Tables:
    """One connection to the database; not to be shared between threads."""

    def __init__(
        self, path: Path, *, create: bool = True, put_aside: Callable[[SetAside], None] = lambda row: None
    ) -> None:
        """Open the database, or ``create`` it; ``put_aside`` is told of every row asked for that cannot be read."""
        self.path = path
        self._put_aside = put_aside
        self._db = connect(path, create=create)
        self._reads_alone = False

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, fault: BaseException | None, at: TracebackType | None) -> None:
        self.close()

    def close(self) -> None:
        """Close the connection."""
        self._db.conn.close()

    @contextmanager
    def transaction(
        self, *, before_rollback: Callable[[], None] = lambda: None, within_s: float = BUSY_TIMEOUT_S
    ) -> Iterator[None]:
        """One moment for all that is read and written inside: nobody else writes meanwhile; all is stored or nothing.

        A transaction inside another one joins it, and is undone by itself where it alone fails. ``before_rollback``
        is called where something is undone, before others may write again. ``within_s`` is how long others are
        waited for. Raises StoreError.
        """
        if self._reads_alone:
            raise RuntimeError("a moment that only reads cannot write: what it read may be stale by then")
        with (
            mapped_sqlite_errors(self.path),
            immediate(self._db, before_rollback=before_rollback, waiting=waiting_at(str(self.path)), within_s=within_s),
        ):
            yield

    @contextmanager
    def moment(self) -> Iterator[None]:
        """One moment for all that is read inside, and nothing written; others may write meanwhile. Raises StoreError.

        Inside a transaction it is that transaction's, which may write.
        """
        alone = self._reads_alone or not self._db.conn.in_transaction
        before, self._reads_alone = self._reads_alone, alone
        try:
            with mapped_sqlite_errors(self.path), one_moment(self._db):
                yield
        finally:
            self._reads_alone = before

    @property
    def reads_alone(self) -> bool:
        """True inside a moment that only reads."""
        return self._reads_alone

    def _writing(self) -> AbstractContextManager[None]:
        return self.transaction()

    def _rows(self, sql: str, *values: object) -> list[Row]:
        with mapped_sqlite_errors(self.path):
            found = self._db.conn.execute(sql, values)  # `Database.query` would put a savepoint around each
            names = [column[0] for column in found.description]
            return [dict(zip(names, row, strict=True)) for row in found]

    def _tuples(self, sql: str, *values: object) -> list[tuple[Any, ...]]:
        """The rows as they come, for lists that are read often."""
        with mapped_sqlite_errors(self.path):
            return self._db.conn.execute(sql, values).fetchall()

    def _readable(self, table: str, rows: Iterable[Row], value_of: Callable[[Row], V]) -> Iterator[V]:
        """The rows as values. One that cannot be read is set aside: it takes no page and no list with it."""
        for row in rows:
            try:
                yield value_of(row)
            except (ReceivingError, ValueError, LookupError) as fault:
                self.set_aside(table, str(row.get("shipment", "")), str(row[NAMES[table]]), fault)

    def set_aside(self, table: str, shipment: str, name: str, fault: Exception) -> None:
        """Say that this row cannot be read; whoever reads on counts as if it were not there."""
        what = str(fault.message if isinstance(fault, ReceivingError) else fault)
        self._put_aside(SetAside(table, shipment, name, what))

    def _insert(self, table: str, row: Row) -> None:
        """Add a row with its digest."""
        whole = {**row, "digest": row_digest(table, row)}
        names, marks = ", ".join(whole), ", ".join("?" * len(whole))
        self._db.execute(f"INSERT INTO {table} ({names}) VALUES ({marks})", list(whole.values()))

    def _renew_digest(self, table: str, column: str, value: str) -> None:
        """After a row was changed by a right of ours: give it the digest of what it is now."""
        for row in self._rows(f"SELECT * FROM {table} WHERE {column} = ?", value):
            self._db.execute(f"UPDATE {table} SET digest = ? WHERE {column} = ?", [row_digest(table, row), value])

    @contextmanager
    def _writing_for(self, shipment: str) -> Iterator[None]:
        with self._writing():
            if not self._rows("SELECT 1 FROM shipments WHERE shipment = ?", shipment):
                raise no_shipment(shipment)
            yield

    def _touch(self, shipment: str) -> None:
        self._db.execute("UPDATE shipments SET version = version + 1 WHERE shipment = ?", [shipment])


def scope_columns(scope: DataScope) -> tuple[str | None, str | None]:
    """What the columns ``stores`` and ``programmes`` hold for a scope; NULL: all."""
    stores, programmes = (
        None if each is None else json.dumps(sorted(each)) for each in (scope.stores, scope.programmes)
    )
    return stores, programmes


def read_scope(row: Row) -> DataScope:
    """The scope that the columns ``stores`` and ``programmes`` of a row say."""
    stores, programmes = (
        None if row[name] is None else frozenset(map(str, json.loads(row[name]))) for name in ("stores", "programmes")
    )
    return DataScope(stores, programmes)


def no_shipment(shipment: str) -> NotFound:
    """The error that names a shipment which is not there."""
    return NotFound(
        message("There is no shipment {shipment}.", shipment=repr(shipment)),
        next_step=message("Check the number, or import its manifest first."),
    )
