"""What all groups of tables share: the connection, transactions, and a shipment's version."""

from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from receiving.errors import NotFound
from receiving.store.connection import connect, immediate, mapped_sqlite_errors

Row = dict[str, Any]


class Tables:
    """One connection to the database; not to be shared between threads."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._db = connect(path)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, fault: BaseException | None, at: TracebackType | None) -> None:
        self.close()

    def close(self) -> None:
        """Close the connection."""
        self._db.conn.close()

    @contextmanager
    def transaction(self, *, before_rollback: Callable[[], None] = lambda: None) -> Iterator[None]:
        """One moment for all that is read and written inside: nobody else writes meanwhile; all is stored or nothing.

        A transaction inside another one joins it, and is undone by itself where it alone fails. ``before_rollback``
        is called where something is undone, before others may write again. Raises StoreError.
        """
        with mapped_sqlite_errors(self.path), immediate(self._db, before_rollback=before_rollback):
            yield

    def _writing(self) -> AbstractContextManager[None]:
        return self.transaction()

    def _rows(self, sql: str, *values: object) -> list[Row]:
        with mapped_sqlite_errors(self.path):
            return list(self._db.query(sql, values))

    @contextmanager
    def _writing_for(self, shipment: str) -> Iterator[None]:
        with self._writing():
            if not list(self._db.query("SELECT 1 FROM shipments WHERE shipment = ?", [shipment])):
                raise no_shipment(shipment)
            yield

    def _touch(self, shipment: str) -> None:
        self._db.execute("UPDATE shipments SET version = version + 1 WHERE shipment = ?", [shipment])


def no_shipment(shipment: str) -> NotFound:
    """The error that names a shipment which is not there."""
    return NotFound(
        f"There is no shipment {shipment!r}.",
        next_step="Check the number, or import its manifest first.",
    )
