"""One connection to the database: pragmas, migrations, transactions, and SQLite's errors in our words."""

import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from sqlite_utils import Database

from receiving.errors import StoreError
from receiving.store.schema import migrations

BUSY_TIMEOUT_S = 20.0


def connect(path: Path) -> Database:
    """Open the database, with its migrations applied; raises StoreError.

    WAL lets pages be read while a read is stored; ``synchronous=FULL`` keeps a confirmed read through a power cut.
    """
    with mapped_errors(path):
        path.parent.mkdir(parents=True, exist_ok=True)
        connection = sqlite3.connect(path, timeout=BUSY_TIMEOUT_S, isolation_level=None)
        try:
            connection.execute("PRAGMA journal_mode=WAL")
            connection.execute("PRAGMA synchronous=FULL")
            connection.execute("PRAGMA foreign_keys=ON")
            connection.execute("PRAGMA recursive_triggers=ON")
            db = Database(connection, execute_plugins=False)
            if migrations.pending(db):
                _migrate(db)
        except BaseException:
            connection.close()
            raise
        return db


def _migrate(db: Database) -> None:
    with immediate(db):
        migrations.apply(db)


@contextmanager
def immediate(db: Database, *, before_rollback: Callable[[], None] = lambda: None) -> Iterator[None]:
    """A write transaction that takes its lock at once; inside another one, a step that can be undone by itself.

    A deferred one that reads first fails at its first write, when another wrote meanwhile, whatever the timeout.
    ``before_rollback`` is called where something is undone, while the lock is still held: nobody can have stored
    anything since.
    """
    begin, commit, rollback = _STEP if db.conn.in_transaction else _WHOLE
    db.conn.execute(begin)
    changes = db.conn.total_changes
    try:
        yield
        db.conn.execute(commit)
    except BaseException:
        if db.conn.total_changes != changes:
            before_rollback()
        if db.conn.in_transaction:  # SQLite itself ends a transaction on some faults, such as a full disk
            for statement in rollback:
                db.conn.execute(statement)
        raise


_WHOLE = ("BEGIN IMMEDIATE", "COMMIT", ("ROLLBACK",))
_STEP = ("SAVEPOINT step", "RELEASE step", ("ROLLBACK TO step", "RELEASE step"))


@contextmanager
def mapped_errors(path: Path) -> Iterator[None]:
    """Turn what SQLite and the file system raise into StoreError with the next step."""
    try:
        with mapped_sqlite_errors(path):
            yield
    except OSError as fault:
        raise StoreError(
            f"The data folder {path.parent} cannot be used: {fault.strerror or fault}.",
            next_step="Choose a folder that you may write to, with --data FOLDER.",
        ) from fault


@contextmanager
def mapped_sqlite_errors(path: Path) -> Iterator[None]:
    """Turn what SQLite raises into StoreError with the next step; other faults are not the database's."""
    try:
        yield
    except sqlite3.OperationalError as fault:
        raise StoreError(f"The database {path} cannot be used: {fault}.", next_step=_advice(str(fault))) from fault
    except sqlite3.DatabaseError as fault:
        raise StoreError(
            f"The database {path} is damaged or no database: {fault}.",
            next_step="Move the file away and restore the data folder from its last copy.",
        ) from fault


def _advice(fault: str) -> str:
    if "locked" in fault:
        return "Another program holds it; wait a moment and try again."
    if "full" in fault:
        return "The disk is full; free some space and try again."
    return "Check that the data folder can be written to, or choose another with --data FOLDER."
