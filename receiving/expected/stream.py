"""Manifests one after the other, and how far reading them has come."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Protocol

from receiving.errors import Fault
from receiving.expected.results import NotUnderstood, Progress, SourceFormat, Unused
from receiving.model import Manifest


class Log(Protocol):
    """Where a reader writes down what it noticed."""

    warnings: list[Fault]
    not_understood: list[NotUnderstood]
    unused: list[Unused]
    used: int
    listed: int


@dataclass
class PlainLog:
    """The log of a table, in which every cell is used or a fault."""

    warnings: list[Fault] = field(default_factory=list)
    not_understood: list[NotUnderstood] = field(default_factory=list)
    unused: list[Unused] = field(default_factory=list)
    used: int = 0
    listed: int = 0


@dataclass
class ManifestStream(Iterator[Manifest]):
    """Manifests one after the other; what its log holds is complete when it is read to its end.

    Faults that stop the file raise `ManifestFaults`; what was yielded before them must not be kept.
    """

    source_format: SourceFormat
    _manifests: Iterator[Manifest]
    _log: Log = field(default_factory=PlainLog)

    @property
    def warnings(self) -> list[Fault]:
        """What is odd and hinders nothing."""
        return self._log.warnings

    @property
    def not_understood(self) -> list[NotUnderstood]:
        """Parts that no carton could be made of."""
        return self._log.not_understood

    @property
    def unused(self) -> list[Unused]:
        """Values that no carton needs, by segment and qualifier."""
        return self._log.unused

    @property
    def used(self) -> int:
        """How many values of a ship notice were used."""
        return self._log.used

    @property
    def listed(self) -> int:
        """How many values stand in ``not_understood``."""
        return self._log.listed

    def __next__(self) -> Manifest:
        return next(self._manifests)


@dataclass
class ProgressReporter:
    """Tells ``progress`` how far it is."""

    progress: Callable[[Progress], None] | None
    bytes_read: int = 0
    manifests: int = 0
    cartons: int = 0

    def read(self, bytes_read: int) -> None:
        """So many bytes were read."""
        self.bytes_read = bytes_read
        self._say()

    def made(self, manifest: Manifest) -> Manifest:
        """One more manifest was made."""
        self.manifests += 1
        self.cartons += len(manifest.cartons)
        self._say()
        return manifest

    def _say(self) -> None:
        if self.progress:
            self.progress(Progress(self.bytes_read, self.manifests, self.cartons))
