"""The context that every use case works at: the data folder, a clock, an id maker, the pools, and who runs this."""

import copy
import getpass
import itertools
import logging
import os
import threading
import uuid
from collections.abc import Callable, Iterator, Sequence
from concurrent import futures
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime
from ipaddress import IPv4Network, IPv6Network
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol, Self, TypeAlias

from receiving.model import Actor, ExpectedCode, PhotoReading, Quad
from receiving.model.limits import PHOTO_LIMIT_S
from receiving.reading import PhotoPool
from receiving.service.planning import Cache, Planner, PlannerAway, PlannerHere
from receiving.service.pools import (
    PHOTOS_AT_ONCE,
    Delayed,
    ManifestReader,
    Pictures,
    PicturesAway,
    PicturesHere,
    ReadAway,
    ReadHere,
    RowMaker,
    RowsAway,
    RowsHere,
)
from receiving.store import DATABASE, PHOTOS, SHOWN, Anchor, PhotoFolder, SetAside, ShownFolder, Store

try:
    import pwd
except ImportError:  # a system without such a list of users
    pwd = None  # type: ignore[assignment]

if TYPE_CHECKING:
    from receiving.reading import PrintedLine, Still

MOST_SNAPSHOTS = 500
"""Shipments kept in full; tests/bench/kept_shipments.py measures what they take."""

COMMAND_LINE = "command line"
"""The role of somebody who is known as a user of the operating system alone."""

AFTER_A_FAULT_S = 10.0
CLOSE_WITHIN_S = 10.0

Job: TypeAlias = tuple[Any, ...]
"""Background work: a function that gives nothing, and its values."""

_log = logging.getLogger(__name__)


class PhotoReader(Protocol):
    """Reads one photo, and raises PhotoError when it cannot."""

    def read(self, name: str, data: bytes, expected: Sequence[ExpectedCode] = ()) -> PhotoReading:
        """All labels of this photo."""
        ...

    def read_awaited(self, name: str, data: bytes, expected: Sequence[ExpectedCode] = ()) -> PhotoReading:
        """The same for a small picture that somebody waits for."""
        ...

    def prepare(self) -> None:
        """Be ready for what is awaited."""
        ...

    def video_stills(self, name: str, data: bytes, expected: Sequence[ExpectedCode] = ()) -> "tuple[Still, ...]":
        """The frames of this video that show its labels best, each with its reading."""
        ...

    def poster(self, name: str, data: bytes) -> bytes:
        """A frame of this video, as a JPEG."""
        ...

    def printed_lines(self, name: str, data: bytes, regions: Sequence[Quad] = ()) -> "tuple[PrintedLine, ...]":
        """The lines printed around these regions of a photo."""
        ...

    def close(self) -> None:
        """Stop the workers."""
        ...


@dataclass(frozen=True)
class _Quick:
    """Background work that takes a moment."""

    work: Callable[..., None]

    def __call__(self, *values: object) -> None:
        self.work(*values)


@dataclass
class Context:
    """What all use cases share. Safe to use from several threads: each works with a `Store` of its own.

    ``create`` makes the data folder where there is none. ``now`` gives aware UTC times; ``new_id`` gives UUIDs;
    ``reader`` reads photos away from the caller's thread; ``planner`` makes staging plans, ``pictures`` what is shown
    of photos, and ``manifests`` reads files that come in. ``webhook_networks`` may be told of events, though they
    are private.
    """

    data: Path
    reader: PhotoReader
    now: Callable[[], datetime] = lambda: datetime.now(UTC)
    new_id: Callable[[], str] = lambda: str(uuid.uuid4())
    workers: int = 1
    create: bool = True
    planner: Planner = field(default_factory=PlannerHere)
    pictures: Pictures = field(default_factory=PicturesHere)
    manifests: ManifestReader = field(default_factory=ReadHere)
    snapshots: Cache[Any] = field(default_factory=lambda: Cache(MOST_SNAPSHOTS))
    row_maker: RowMaker = field(default_factory=RowsHere)
    webhook_networks: tuple[IPv4Network | IPv6Network, ...] = ()
    run_by: Actor = field(default_factory=Actor)
    _clock: Callable[[], datetime] | None = None
    _closing: threading.Event = field(init=False, default_factory=threading.Event)
    _anchor: Anchor = field(init=False, default_factory=Anchor)
    _background: ThreadPoolExecutor = field(init=False)
    _quick: ThreadPoolExecutor = field(init=False)
    _delayed: Delayed = field(init=False, default_factory=Delayed)
    _jobs: set[Future[None]] = field(init=False, default_factory=set)
    _set_aside: dict[SetAside, None] = field(init=False, default_factory=dict)
    _at_close: list[Callable[[], None]] = field(init=False, default_factory=list)
    _threads: list[threading.Thread] = field(init=False, default_factory=list)
    _thread: threading.local = field(init=False, default_factory=threading.local)

    def __post_init__(self) -> None:
        Store(self.data / DATABASE, create=self.create).close()
        self._background = ThreadPoolExecutor(self.workers, thread_name_prefix="photo")
        self._quick = ThreadPoolExecutor(PHOTOS_AT_ONCE, thread_name_prefix="picture")

    @classmethod
    def at(cls, data: Path, *, workers: int = 1, create: bool = False) -> Self:
        """A context at this data folder, with a pool of processes that read photos.

        Raises NoData where there is none and none is to be made, StoreError where it cannot be used.
        """
        Store(data / DATABASE, create=create).close()  # before processes are started for nothing
        reader = PhotoPool(workers=workers, limit_s=PHOTO_LIMIT_S)
        return cls(
            data,
            reader,
            workers=workers,
            create=False,
            planner=PlannerAway(),
            pictures=PicturesAway(),
            row_maker=RowsAway(),
            manifests=ReadAway(),
            run_by=user_of_this_machine(),
        )

    @property
    def actor(self) -> Actor:
        """Who does what is done in this thread: a request's sender, else whoever runs this process."""
        return getattr(self._thread, "actor", None) or self.run_by

    @actor.setter
    def actor(self, actor: Actor | None) -> None:
        self._thread.actor = actor

    @contextmanager
    def store(self) -> Iterator[Store]:
        """The store for one use case in this thread; inside another one, the same store again.

        Its connection stays open with the thread, since opening one takes as long as storing a read.
        """
        held: Store | None = getattr(self._thread, "store", None)
        if held is not None:
            yield held
            return
        store = self._thread.store = self._opened()
        try:
            yield store
        finally:
            self._thread.store = None

    def _opened(self) -> Store:
        """This thread's store; opened anew where another file has taken the database's place, or it was closed."""
        path = self.data / DATABASE
        try:
            stat = path.stat()
            file = (stat.st_dev, stat.st_ino)
        except OSError:
            file = (0, 0)  # the store says what is wrong
        kept: tuple[tuple[int, int], Store] | None = getattr(self._thread, "kept", None)
        if kept is not None and kept[0] == file:
            return kept[1]
        self._close_kept()
        store = Store(path, create=False, put_aside=self._put_aside)
        self._anchor.hold(path)
        self._thread.kept = (file, store)
        return store

    def _close_kept(self) -> None:
        kept: tuple[tuple[int, int], Store] | None = getattr(self._thread, "kept", None)
        if kept is not None:
            self._thread.kept = None
            kept[1].close()

    def _put_aside(self, row: SetAside) -> None:
        if row not in self._set_aside:
            _log.error("a row of %s (%s, shipment %s) cannot be read: %s", row.table, row.name, row.shipment, row.fault)
            self._set_aside[row] = None

    def set_aside(self) -> tuple[SetAside, ...]:
        """The stored rows that were asked for since the start and could not be read."""
        return tuple(self._set_aside)

    @contextmanager
    def transaction(self) -> Iterator[Store]:
        """One moment in which a use case reads, decides and writes; all of it is stored, or nothing.

        A use case called inside another one joins its transaction. Background work that is asked for inside starts
        once everything is stored.
        """
        with self.store() as store:
            outer: list[Job] | None = getattr(self._thread, "jobs", None)
            inner: list[Job] = []
            self._thread.jobs = inner
            try:
                with store.transaction(before_rollback=self._forget):
                    yield store
            finally:
                self._thread.jobs = outer
            if outer is None:
                for job in inner:
                    self._start(*job)
            else:
                outer += inner

    @contextmanager
    def moment(self) -> Iterator[Store]:
        """One moment in which a use case only reads: all that it reads was true together."""
        with self.store() as store, store.moment():
            yield store

    def _forget(self) -> None:
        """Forget what was worked out from what is undone now: the next thing stored gets the same version."""
        self.snapshots.clear()

    @property
    def photos(self) -> PhotoFolder:
        """The folder of photos."""
        return PhotoFolder(self.data / PHOTOS)

    @property
    def shown(self) -> ShownFolder:
        """The folder of photos as they are shown; it can be emptied at any time."""
        return ShownFolder(self.data / SHOWN)

    def acting(self, action_id: str, *, made_at: datetime) -> Self:
        """The same context for one action that a phone made at another time than now.

        Ids follow from the action's, the first being the same: done twice, it stores the same records.
        """
        numbers = itertools.count()

        def next_id() -> str:
            number = next(numbers)
            return str(uuid.uuid5(uuid.UUID(action_id), str(number))) if number else action_id

        ctx = copy.copy(self)
        ctx.now, ctx.new_id, ctx._clock = (lambda: made_at), next_id, self.clock
        return ctx

    def clock(self) -> datetime:
        """The time of this machine, whatever time an action says it was made at: for sessions, tries and links."""
        return self._clock() if self._clock else self.now()

    def later(self, work: Callable[..., None], *values: object) -> None:
        """Do this work in the background, once the open transaction is stored; a fault of ours goes to the log."""
        waiting: list[Job] | None = getattr(self._thread, "jobs", None)
        if waiting is None:
            self._start(work, *values)
        else:
            waiting.append((work, *values))

    def soon(self, work: Callable[..., None], *values: object) -> None:
        """As `later`, for what takes a moment: it does not wait for the photos that are still to be read."""
        self.later(_Quick(work), *values)

    def after(self, seconds: float, work: Callable[..., None], *values: object) -> None:
        """Do this work in the background after this many seconds, in which other work goes on.

        Where the context is closed before, it is not done.
        """
        self._note(self._delayed.start_after(seconds, lambda: self._start(work, *values)))

    def repeat(self, work: Callable[[], float], *, name: str) -> None:
        """Do this work in a thread of its own until the context is closed; it gives the seconds until the next time.

        A fault of it goes to the log, and the work goes on after a while.
        """

        def go_on() -> None:
            try:
                while not self._closing.wait(self._once(work, name)):
                    pass
            finally:
                self._close_kept()

        thread = threading.Thread(target=go_on, name=name, daemon=True)
        thread.start()
        self._threads.append(thread)  # once it runs: a thread that could not be started cannot be waited for

    @staticmethod
    def _once(work: Callable[[], float], name: str) -> float:
        try:
            return work()
        except Exception:
            _log.exception("%s: failed, tried again in %g s", name, AFTER_A_FAULT_S)
            return AFTER_A_FAULT_S

    def _start(self, work: Callable[..., None], *values: object) -> None:
        self._note((self._quick if isinstance(work, _Quick) else self._background).submit(self._do, work, *values))

    def _note(self, job: Future[None]) -> None:
        self._jobs.add(job)
        job.add_done_callback(self._ended)

    def _do(self, work: Callable[..., None], *values: object) -> None:
        """Background work in its thread, which may end after it and leave no connection behind."""
        try:
            work(*values)
        finally:
            self._close_kept()

    def _ended(self, job: Future[None]) -> None:
        self._jobs.discard(job)
        if not job.cancelled() and (fault := job.exception()):
            _log.error("background work failed", exc_info=fault)

    def wait(self) -> None:
        """Wait until the background work is done, with what it asked for in its turn."""
        while jobs := tuple(self._jobs):
            futures.wait(jobs)
            self._jobs.difference_update(jobs)  # what is done is told to those who wait before it takes itself out

    @property
    def closing(self) -> bool:
        """True once the context is being closed: work that fails from now on says nothing of what it worked on."""
        return self._closing.is_set()

    def at_close(self, work: Callable[[], None]) -> None:
        """Do this when the context is closed, while its store can still be used."""
        self._at_close.append(work)

    def close(self) -> None:
        """Stop the background work; photos not yet read, those in work too, wait for the next start."""
        self._closing.set()
        self._delayed.close()
        for work in (self._background, self._quick):
            work.shutdown(wait=False, cancel_futures=True)
        self.reader.close()
        self.planner.close()
        self.pictures.close()
        self.row_maker.close()
        self.manifests.close()
        while self._at_close:
            self._at_close.pop()()
        for work in (self._background, self._quick):
            work.shutdown(wait=True)
        for thread in self._threads:
            thread.join(CLOSE_WITHIN_S)
        self._anchor.close()
        self._close_kept()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *fault: object) -> None:
        self.close()


def user_of_this_machine() -> Actor:
    """The user of the operating system who runs a command, as the system knows him and not as he says."""
    try:
        name = pwd.getpwuid(os.getuid()).pw_name if pwd else getpass.getuser()
    except (KeyError, OSError, ImportError):
        name = ""
    return Actor(name or f"user {os.getuid() if hasattr(os, 'getuid') else '?'}", COMMAND_LINE)
