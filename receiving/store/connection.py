"""One connection to the database: whose it is, pragmas, migrations, transactions, SQLite's errors in our words."""

import errno
import os
import sqlite3
import stat
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, closing, contextmanager, nullcontext
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from receiving.errors import NoData, StoreError
from receiving.messages import Text, message

if TYPE_CHECKING:
    from receiving.store.library import Database, Migrations


# One connection that stays open while a data folder is in use, so that no other one is ever the last.
#
# SQLite copies its write-ahead log into the database, and waits for the disk, whenever the last connection is closed. A
# service whose threads open one for each use would pay for that at every read of a label.


class Anchor:
    """Holds a database open; safe to use from several threads, and to close twice."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._held: sqlite3.Connection | None = None
        self._closed = False

    def hold(self, database: Path) -> None:
        """Hold this database, which is there already, unless one is held; where it cannot be, all goes on as before."""
        if self._held is not None or self._closed:
            return
        with self._lock:
            if self._held is None and not self._closed:
                connection = sqlite3.connect(database, isolation_level=None, check_same_thread=False)
                try:
                    connection.execute("SELECT 1 FROM sqlite_master LIMIT 1").fetchall()  # the log opens at a read
                except sqlite3.Error:
                    connection.close()
                    return
                self._held = connection

    def close(self) -> None:
        """Hold it no longer."""
        with self._lock:
            self._closed = True
            if self._held is not None:
                self._held.close()
                self._held = None


# Who waits to write: few, so that a lock that another program holds leaves threads to read with.


MOST_WAITING = 4
"""Threads that may wait once the first of them has waited long; a server has eight."""

LONGEST_TURN_S = 20.0
PATIENCE_S = 1.0
"""A write takes milliseconds: whoever waits longer waits for something that is held."""


class Waiting:
    """The threads of this process that wait for the right to write; one for each database."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._since_s: dict[int, float] = {}
        self._turn = threading.Lock()

    @contextmanager
    def in_turn(self, within_s: float = LONGEST_TURN_S) -> Iterator[None]:
        """One writer of this process at a time, in about the order in which they came. Raises StoreError.

        SQLite lets those that wait ask again now and then: some wait a second among others that wait a millisecond.
        """
        if not self._turn.acquire(timeout=within_s):
            raise _busy()
        try:
            yield
        finally:
            self._turn.release()

    @contextmanager
    def one_more(self) -> Iterator[None]:
        """Wait inside. Raises StoreError at once where enough others have waited long already."""
        me, now_s = threading.get_ident(), time.monotonic()
        with self._lock:
            longest_s = now_s - min(self._since_s.values(), default=now_s)
            if len(self._since_s) >= MOST_WAITING and longest_s > PATIENCE_S:
                raise _busy()
            self._since_s[me] = now_s
        try:
            yield
        finally:
            with self._lock:
                self._since_s.pop(me, None)


def _busy() -> StoreError:
    return StoreError(
        message("The database is busy; nothing was stored."),
        next_step=message("Another program holds it. Try again in a moment."),
    )


_WAITING: dict[str, Waiting] = {}


def waiting_at(database: str) -> Waiting:
    """The waiting threads of this database."""
    return _WAITING.setdefault(database, Waiting())


BUSY_TIMEOUT_S = 20.0

APPLICATION_ID = 0x52435647
"""Stands in the file's header (SQLite file format, section 1.3: offset 68), and says that a database is ours."""


@cache
def _migrations() -> "Migrations":
    """The migrations; sqlite-utils brings half a second of imports, which a command without data does not need."""
    from receiving.store.schema import migrations

    return migrations


def _database(connection: sqlite3.Connection) -> "Database":
    from receiving.store.library import Database

    return Database(connection, execute_plugins=False)


def schema_names() -> tuple[str, ...]:
    """The migrations by name, in order."""
    return tuple(migration.name for migration in _migrations()._migrations)


def schema_version() -> int:
    """The number of migrations, as ``user_version`` in the file's header (offset 60)."""
    return len(schema_names())


SCHEMA_SQL = (
    "SELECT type, name, sql FROM sqlite_master"
    " WHERE sql IS NOT NULL AND tbl_name != '_sqlite_migrations' AND name NOT LIKE 'sqlite_%'"
)


@cache
def expected_schema() -> dict[tuple[str, str], str]:
    """The tables, indexes and triggers of this version: their SQL by type and name."""
    with closing(sqlite3.connect(":memory:", isolation_level=None)) as connection:
        _migrations().apply(_database(connection))
        return {(kind, name): sql for kind, name, sql in connection.execute(SCHEMA_SQL)}


def connect(path: Path, *, create: bool = True) -> "Database":
    """Open the database, with its migrations applied; ``create`` makes one where there is none.

    WAL lets pages be read while a read is stored; ``synchronous=FULL`` keeps a confirmed read through a power cut.
    Raises StoreError for what is not a database, another program's, or a newer version's, and leaves it as it is;
    NoData where there is none and none is to be made.
    """
    with mapped_errors(path):
        if _is_new(path):
            if not create:
                raise no_data(path)
            _make_file(path)
        connection = sqlite3.connect(path, timeout=BUSY_TIMEOUT_S, isolation_level=None)
        try:
            return _set_up(connection, path)
        except BaseException:
            connection.close()
            raise


def _set_up(connection: sqlite3.Connection, path: Path) -> "Database":
    current = _is_current(connection)
    if not current:
        _refuse_others(connection, path)
    connection.execute("PRAGMA journal_mode=WAL")
    connection.execute("PRAGMA synchronous=FULL")
    connection.execute("PRAGMA foreign_keys=ON")
    connection.execute("PRAGMA recursive_triggers=ON")
    db = _database(connection)
    if not current:
        _migrate(db)
    _close_to_others(path)
    return db


def is_current(path: Path) -> bool:
    """True when the database says that it is ours, and of this version."""
    try:
        with closing(_opened_to_read(path)) as connection:
            return _is_current(connection)
    except sqlite3.DatabaseError:
        return False


def _is_current(connection: sqlite3.Connection) -> bool:
    """Asked of SQLite, never read from the file: closing a file of our own drops all locks that this process has on it.

    Those are POSIX locks, and another process would then take the log away (SQLite, "How To Corrupt An SQLite Database
    File", section 2.2).
    """
    ours, version = (connection.execute(f"PRAGMA {name}").fetchone()[0] for name in ("application_id", "user_version"))
    return bool((ours, version) == (APPLICATION_ID, schema_version()))


def _opened_to_read(path: Path) -> sqlite3.Connection:
    return sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", timeout=BUSY_TIMEOUT_S, uri=True)


def _is_new(path: Path) -> bool:
    return not path.exists() or path.stat().st_size == 0


def _make_file(path: Path) -> None:
    """An empty file that its owner alone may read; SQLite gives the files beside it the same mode."""
    if not path.parent.exists():
        path.parent.mkdir(parents=True)
        path.parent.chmod(0o700)
    os.close(os.open(path, os.O_CREAT | os.O_RDWR, 0o600))


def _close_to_others(path: Path) -> None:
    mode = stat.S_IMODE(path.stat().st_mode)
    if mode & 0o077 and path.stat().st_uid == os.geteuid():
        path.chmod(mode & 0o700)


def _refuse_others(connection: sqlite3.Connection, path: Path) -> None:
    """Look without writing; raises StoreError for what is not ours or is newer."""
    whose = connection.execute("PRAGMA application_id").fetchone()[0]
    version = connection.execute("PRAGMA user_version").fetchone()[0]
    tables = {row[0] for row in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
    applied: set[str] = set()
    migrations = _migrations()
    if migrations.migrations_table in tables:
        sql = f"SELECT name FROM {migrations.migrations_table} WHERE migration_set = ?"
        applied = {row[0] for row in connection.execute(sql, [migrations.name])}
    ours = whose == APPLICATION_ID or (whose == 0 and (applied or not tables))
    if not ours:
        raise StoreError(
            message("This is another program's database; nothing in it was changed."),
            next_step=message("Choose the data folder of this service, or an empty one, with --data FOLDER."),
            where=str(path),
        )
    if version > schema_version() or applied - set(schema_names()):
        raise StoreError(
            message("This data was made by a newer version of this service; nothing in it was changed."),
            next_step=message("Install that version or a later one."),
            where=str(path),
        )


def no_data(path: Path) -> NoData:
    """The error that says that this folder holds no data of ours."""
    return NoData(
        message("There is no data of this service in this folder."),
        next_step=message("Name the data folder with --data FOLDER; `receiving import` makes a new one."),
        where=str(path.parent),
    )


def _migrate(db: "Database") -> None:
    with immediate(db):
        _migrations().apply(db)
        db.conn.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        db.conn.execute(f"PRAGMA user_version = {schema_version()}")
    db.conn.execute("PRAGMA wal_checkpoint(PASSIVE)")  # so that the header says so


@contextmanager
def immediate(
    db: "Database",
    *,
    before_rollback: Callable[[], None] = lambda: None,
    waiting: Waiting | None = None,
    within_s: float = BUSY_TIMEOUT_S,
) -> Iterator[None]:
    """A write transaction that takes its lock at once; inside another one, a step that can be undone by itself.

    A deferred one that reads first fails at its first write, when another wrote meanwhile, whatever the timeout.
    ``before_rollback`` is called where something is undone, while the lock is still held: nobody can have stored
    anything since. ``within_s`` is how long others are waited for, this process's and other programs.
    """
    inside = db.conn.in_transaction
    begin, commit, rollback = _STEP if inside else _WHOLE
    with ExitStack() as held:
        with waiting.one_more() if waiting and not inside else nullcontext():
            if waiting and not inside:
                held.enter_context(waiting.in_turn(within_s))
            with _patience(db, within_s):
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


@contextmanager
def _patience(db: "Database", within_s: float) -> Iterator[None]:
    """Wait no longer than this for the lock of another program; where it is the usual time nothing is asked for."""
    if within_s == BUSY_TIMEOUT_S:
        yield
        return
    db.conn.execute(f"PRAGMA busy_timeout = {round(within_s * 1000)}")
    try:
        yield
    finally:
        db.conn.execute(f"PRAGMA busy_timeout = {round(BUSY_TIMEOUT_S * 1000)}")


@contextmanager
def one_moment(db: "Database") -> Iterator[None]:
    """Everything read inside was true together; inside a transaction that is so already."""
    if db.conn.in_transaction:
        yield
        return
    db.conn.execute("BEGIN DEFERRED")
    try:
        yield
    finally:
        if db.conn.in_transaction:
            db.conn.execute("ROLLBACK")  # there is nothing to keep


_WHOLE = ("BEGIN IMMEDIATE", "COMMIT", ("ROLLBACK",))
_STEP = ("SAVEPOINT step", "RELEASE step", ("ROLLBACK TO step", "RELEASE step"))


def read_only(path: Path) -> closing[sqlite3.Connection]:
    """A connection that cannot write, to copy and to check what is there. Raises NoData, StoreError.

    What is not ours, or is newer, is refused like everywhere.
    """
    with mapped_errors(path):
        if _is_new(path):
            raise no_data(path)
        connection = _opened_to_read(path)
        try:
            if not _is_current(connection):
                _refuse_others(connection, path)
        except BaseException:
            connection.close()
            raise
        return closing(connection)


@contextmanager
def mapped_errors(path: Path) -> Iterator[None]:
    """Turn what SQLite and the file system raise into StoreError with the next step."""
    try:
        with mapped_sqlite_errors(path):
            yield
    except OSError as fault:
        raise StoreError(
            message("The data folder cannot be used: {fault}.", fault=fault.strerror or fault),
            next_step=advice_on(fault),
            where=str(path.parent),
        ) from fault


@contextmanager
def mapped_sqlite_errors(path: Path) -> Iterator[None]:
    """Turn what SQLite raises into StoreError with the next step; other faults are not the database's."""
    try:
        yield
    except sqlite3.OperationalError as fault:
        raise StoreError(
            message("The database cannot be used: {fault}.", fault=fault),
            next_step=_advice(str(fault)),
            where=str(path),
        ) from fault
    except sqlite3.DatabaseError as fault:
        raise StoreError(
            message("The database is damaged or is not a database: {fault}.", fault=fault),
            next_step=message("Restore the data folder from its last good copy with `receiving restore`."),
            where=str(path),
        ) from fault


def advice_on(fault: OSError) -> Text:
    """What to do about what the file system refused."""
    if fault.errno in (errno.ENOSPC, errno.EDQUOT):
        return message("Free some space, then send it again. What is stored can still be read.")
    if fault.errno in (errno.EMFILE, errno.ENFILE):
        return message("Too much is going on at once; wait a moment and send it again.")
    if fault.errno == errno.EIO:
        return message(
            "The disk is failing: copy the data folder with `receiving backup` while it can still be read, "
            "then replace the disk."
        )
    return message("Check that the data folder can be written to, or choose another with --data FOLDER.")


def _advice(fault: str) -> Text:
    if "locked" in fault:
        return message("Another program holds it; wait a moment and try again.")
    if "full" in fault:
        return message("The disk is full; free some space and try again. What is stored can still be read.")
    if "disk I/O" in fault:
        return advice_on(OSError(errno.EIO, ""))
    return message("Check that the data folder can be written to, or choose another with --data FOLDER.")
