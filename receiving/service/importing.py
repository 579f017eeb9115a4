"""Manifest files read in a process with limits, long ones through a file beside the memory until all is understood.

No file takes the server's memory or holds up who scans.
"""

import tempfile
from collections.abc import Iterable, Iterator, Sequence
from types import TracebackType
from typing import Any, Protocol, Self

from receiving.errors import Fault, Limit, ManifestFaults, ScanFaults, WorkStopped
from receiving.expected import ColumnMapping, Kit, ManifestFile, TableSample, read_manifests, read_table_sample
from receiving.messages import message
from receiving.model import Manifest, RawRead
from receiving.reading import read_scans
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
