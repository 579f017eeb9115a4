"""Work that no request does itself: manifest files read, photos made fit to show, rows made, what is due after a while.

Files and photos are read in processes with limits (memory, CPU time), so that none takes the server's memory or holds
up who scans; each protocol has a way without processes, too.
"""

import heapq
import itertools
import logging
import math
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import Future
from dataclasses import dataclass, field
from pathlib import Path
from types import TracebackType
from typing import Any, Protocol, Self

from receiving.errors import Fault, Limit, ManifestFaults, NotAPhoto, PhotoTooLarge, ScanFaults, WorkStopped
from receiving.expected import ColumnMapping, Kit, ManifestFile, TableSample, read_manifests, read_table_sample
from receiving.messages import message
from receiving.model import Manifest, RawRead
from receiving.reading import check_photo, is_video, read_scans, shown_jpegs
from receiving.store.records import from_text, to_text
from receiving.workers import Limits, WorkerPool

FILES_AT_ONCE = 2
IMPORT_LIMITS = Limits(wall_s=1800, cpu_s=90, memory_mb=768, file_mb=0, open_files=64)
"""A table of 100,000 rows takes some 20 s and 300 MB."""

FILE_FREE_WITHIN_S = 30.0

SHORT_LIST_BYTES = 64 * 1024
"""Some 700 scans: 15 ms of CPU."""


class ManifestReader(Protocol):
    """Reads manifest files."""

    def read(self, name: str, data: bytes, kit: Kit | None, mappings: Sequence[ColumnMapping] = ()) -> ManifestFile:
        """What `read_manifests` gives; raises ManifestFaults."""
        ...

    def sample(self, name: str, data: bytes) -> TableSample:
        """What `read_table_sample` gives; raises ManifestFaults."""
        ...

    def scans(self, name: str, data: bytes, most: int) -> tuple[RawRead, ...]:
        """What `read_scans` gives of a list of at most this many; raises ScanFaults."""
        ...

    def close(self) -> None:
        """Stop what is in work."""
        ...


class ReadHere:
    """Reads them in the thread that asks: for commands and tests."""

    def read(self, name: str, data: bytes, kit: Kit | None, mappings: Sequence[ColumnMapping] = ()) -> ManifestFile:
        """What `read_manifests` gives; raises ManifestFaults."""
        return read_manifests(name, data, kit=kit, mappings=mappings)

    def sample(self, name: str, data: bytes) -> TableSample:
        """What `read_table_sample` gives; raises ManifestFaults."""
        return read_table_sample(name, data)

    def scans(self, name: str, data: bytes, most: int) -> tuple[RawRead, ...]:
        """What `read_scans` gives of a list of at most this many; raises ScanFaults."""
        return read_scans(name, data, most=most)

    def close(self) -> None:
        """Nothing is in work."""


class ReadAway:
    """Reads them in processes with limits on memory, time and files, at low priority, two at once."""

    def __init__(self, at_once: int = FILES_AT_ONCE, *, limits: Limits = IMPORT_LIMITS) -> None:
        self._pool = WorkerPool(at_once, limits, name="importer")

    def read(self, name: str, data: bytes, kit: Kit | None, mappings: Sequence[ColumnMapping] = ()) -> ManifestFile:
        """What `read_manifests` gives; raises ManifestFaults, and WorkStopped while all are busy."""
        file: ManifestFile = self._asked(
            "receiving.expected:read_manifests", name, data, kit=kit, mappings=tuple(mappings)
        )
        return file

    def sample(self, name: str, data: bytes) -> TableSample:
        """What `read_table_sample` gives; raises ManifestFaults, and WorkStopped while all are busy."""
        sample: TableSample = self._asked("receiving.expected:read_table_sample", name, data)
        return sample

    def scans(self, name: str, data: bytes, most: int) -> tuple[RawRead, ...]:
        """What `read_scans` gives; a short list is read here, before a process could be asked. As `read`."""
        if len(data) <= SHORT_LIST_BYTES:
            return read_scans(name, data, most=most)
        try:
            reads: tuple[RawRead, ...] = self._asked("receiving.reading:read_scans", name, data, most=most)
        except ManifestFaults as stopped:
            step = message("Check that it is the list of this shipment, and send it in parts.")
            raise ScanFaults(name, stopped.faults, next_step=step) from stopped
        return reads

    def _asked(self, task: str, name: str, data: bytes, **named: Any) -> Any:
        try:
            return self._pool.run(task, name, data, free_within_s=FILE_FREE_WITHIN_S, **named)
        except WorkStopped as fault:
            raise _refused_file(name, fault) from fault

    def close(self) -> None:
        """End the processes."""
        self._pool.close()


def _refused_file(name: str, fault: WorkStopped) -> Exception:
    """A file that runs into a limit is refused; that no process is free says nothing of it."""
    if fault.limit in (Limit.BUSY, Limit.CLOSED, Limit.CANCELLED):
        return fault
    words = message("reading this file needs more than it may have; it is damaged, or made to do so")
    if fault.limit is Limit.TIME:
        words = message("reading this file needs more time than a manifest does; it is damaged, or made to do so")
    if fault.limit is Limit.MEMORY:
        words = message("reading this file needs more memory than a manifest does; it is damaged, or made to do so")
    return ManifestFaults(
        name, (Fault(0, 0, words),), next_step=message("Save the table alone as CSV UTF-8, or split the file.")
    )


# Manifests of a long file, kept beside the memory until all of it was understood.


class ManifestSpool:
    """A temporary file of manifests; the last one of a shipment counts.

    Keeps one offset a shipment in memory, so that a file of thousands of stores does not have to fit.
    """

    def __init__(self) -> None:
        self._file = tempfile.TemporaryFile()  # noqa: SIM115 - closed by __exit__
        self._offsets: dict[str, int] = {}

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, fault: BaseException | None, at: TracebackType | None) -> None:
        self._file.close()

    def fill(self, manifests: Iterable[Manifest]) -> None:
        """Write all manifests."""
        for manifest in manifests:
            self._offsets[manifest.shipment] = self._file.tell()
            self._file.write(to_text(manifest).encode() + b"\n")

    def __iter__(self) -> Iterator[Manifest]:
        for offset in self._offsets.values():
            self._file.seek(offset)
            yield from_text(self._file.readline().decode(), Manifest)


PHOTO_SIZES_PX = (480, 2000)
"""The longer side of a photo in a list, and of one that is looked at."""

PHOTOS_AT_ONCE = 2
PICTURE_LIMITS = Limits(wall_s=900, cpu_s=60, memory_mb=1024, file_mb=0, open_files=64)
"""64 megapixels take 200 MB as colours, twice while they are turned or made smaller."""

PHOTO_FREE_WITHIN_S = 10.0

PLAIN_FORMATS = (b"\xff\xd8\xff", b"\x89PNG\r\n\x1a\n", b"GIF8", b"BM")
"""JPEG, PNG, GIF, BMP: their headers are read in a step. Containers (HEIF, AVIF, TIFF, WebP) are parsed by a worker."""


class Pictures(Protocol):
    """Makes photos fit to show."""

    def check(self, name: str, data: bytes) -> None:
        """What `check_photo` does."""
        ...

    def jpegs(self, name: str, source: Path | bytes, sizes_px: Sequence[int]) -> dict[int, bytes]:
        """What `shown_jpegs` gives."""
        ...

    def close(self) -> None:
        """Stop what is in work."""
        ...


class PicturesHere:
    """Makes them in the thread that asks: for commands and tests."""

    def check(self, name: str, data: bytes) -> None:
        """Refuse what is not a usable photo. Raises NotAPhoto, PhotoTooLarge."""
        check_photo(name, data)

    def jpegs(self, name: str, source: Path | bytes, sizes_px: Sequence[int]) -> dict[int, bytes]:
        """The photo at each size. Raises NotAPhoto, PhotoTooLarge."""
        return shown_jpegs(name, source, sizes_px)

    def close(self) -> None:
        """Nothing is in work."""


class PicturesAway:
    """Makes them in processes with limits, at most two at once: no photo takes the server's memory."""

    def __init__(self, at_once: int = PHOTOS_AT_ONCE, *, limits: Limits = PICTURE_LIMITS) -> None:
        self._pool = WorkerPool(at_once, limits, name="pictures")

    def check(self, name: str, data: bytes) -> None:
        """Refuse what is not a usable photo. Raises NotAPhoto, PhotoTooLarge, and WorkStopped while all are busy."""
        if data.startswith(PLAIN_FORMATS) or is_video(data):
            check_photo(name, data)
            return
        try:
            self._pool.run("receiving.reading:check_photo", name, data, free_within_s=PHOTO_FREE_WITHIN_S)
        except WorkStopped as fault:
            raise _refused_photo(name, fault) from fault

    def jpegs(self, name: str, source: Path | bytes, sizes_px: Sequence[int]) -> dict[int, bytes]:
        """The photo at each size. Raises NotAPhoto, PhotoTooLarge, and WorkStopped while all are busy."""
        try:
            made: dict[int, bytes] = self._pool.run(
                "receiving.reading:shown_jpegs", name, source, tuple(sizes_px), free_within_s=PHOTO_FREE_WITHIN_S
            )
        except WorkStopped as fault:
            raise _refused_photo(name, fault) from fault
        return made

    def close(self) -> None:
        """End the processes."""
        self._pool.close()


def _refused_photo(name: str, fault: WorkStopped) -> Exception:
    """A photo that runs into a limit is refused; that no worker is free says nothing of it."""
    if fault.limit in (Limit.BUSY, Limit.CLOSED, Limit.CANCELLED):
        return fault
    again = message("Take it again at the camera's normal size, as JPEG.")
    if fault.limit in (Limit.MEMORY, Limit.TIME):
        return PhotoTooLarge(
            message("The photo {name} takes too much to show. {why}", name=repr(name), why=fault.message),
            next_step=again,
        )
    return NotAPhoto(
        message("The photo {name} cannot be shown. {why}", name=repr(name), why=fault.message), next_step=again
    )


WATCHED_S = 60.0
"""A board that is open asks every second; one in a tab behind others may ask once a minute."""

_log = logging.getLogger(__name__)


class RowMaker(Protocol):
    """Makes rows that are many. A list makes at most ``at_once`` itself; the others are made beside it."""

    at_once: int

    def asked(self) -> None:
        """Somebody looks at a list now."""
        ...

    def make_all(self, data: Path, make_some: Callable[[], bool]) -> None:
        """Make, or begin to make, all rows of a data folder; ``make_some`` makes some here, False when none is left."""
        ...

    def close(self) -> None:
        """Give up what is in work."""
        ...


class RowsHere:
    """Makes them in the thread that asks: for commands and tests."""

    at_once = sys.maxsize

    def asked(self) -> None:
        """Nothing is made for those who look."""

    def make_all(self, data: Path, make_some: Callable[[], bool]) -> None:
        """Make all rows that are to be made."""
        while make_some():
            pass

    def close(self) -> None:
        """Nothing is in work."""


class RowsAway:
    """Makes few beside the requests, in this process, where they are warm; many in a process of its own."""

    at_once = 5
    """A list waits for this many: a cold one takes some 15 ms of CPU."""

    def __init__(self) -> None:
        self.asked_s = -math.inf
        self._pool = WorkerPool(1, Limits(wall_s=3600, memory_mb=2048, open_files=64), name="rows")
        self._lock = threading.Lock()
        self._working = False

    def asked(self) -> None:
        """Somebody looks at a list now: rows are made soon after they went stale."""
        self.asked_s = time.monotonic()

    @property
    def watched(self) -> bool:
        """True when somebody looked at a list lately."""
        return time.monotonic() - self.asked_s < WATCHED_S

    def make_all(self, data: Path, make_some: Callable[[], bool]) -> None:
        """Begin to make them, unless that is in work."""
        with self._lock:
            if self._working:
                return
            self._working = True
        threading.Thread(target=self._work, args=(data,), name="rows", daemon=True).start()

    def _work(self, data: Path) -> None:
        try:
            self._pool.run("receiving.service.list_pages:make_all_rows", data)
        except Exception as fault:
            _log.warning("rows of lists were not made: %s", fault)
        finally:
            self._working = False

    def close(self) -> None:
        """End the process; what is not made is made later."""
        self._pool.close()


@dataclass(order=True)
class _Due:
    at_s: float
    number: int
    start: Callable[[], None] = field(compare=False)
    waits: Future[None] = field(compare=False, default_factory=Future)


class Delayed:
    """Starts work when it is due, in turn, in a thread that lives while there is any; safe to use from several threads.

    What is started must take a moment: it hands the work on to those who do it.
    """

    def __init__(self) -> None:
        self._due: list[_Due] = []
        self._changed = threading.Condition()
        self._numbers = itertools.count()
        self._thread: threading.Thread | None = None
        self._closed = False

    def start_after(self, seconds: float, start: Callable[[], None]) -> Future[None]:
        """Call ``start`` once, after this many seconds; what is given is done when it was called, or is not to be."""
        due = _Due(time.monotonic() + seconds, next(self._numbers), start)
        with self._changed:
            if self._closed:
                due.waits.set_result(None)
                return due.waits
            heapq.heappush(self._due, due)
            if self._thread is None:
                self._thread = threading.Thread(target=self._go_on, name="delayed", daemon=True)
                self._thread.start()
            self._changed.notify()
        return due.waits

    def _go_on(self) -> None:
        while due := self._next():
            try:
                due.start()
            except Exception as fault:
                due.waits.set_exception(fault)
            else:
                due.waits.set_result(None)

    def _next(self) -> _Due | None:
        """The next that is due, once it is; None where nothing waits any more, and then the thread ends."""
        with self._changed:
            while self._due and (wait_s := self._due[0].at_s - time.monotonic()) > 0:
                self._changed.wait(wait_s)
            if self._due:
                return heapq.heappop(self._due)
            self._thread = None
            return None

    def close(self) -> None:
        """Start nothing any more: what waits never is, and whoever waits for it goes on."""
        with self._changed:
            self._closed = True
            waiting, self._due = self._due, []
            self._changed.notify()
        for due in waiting:
            due.waits.set_result(None)
