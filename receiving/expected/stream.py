"""Manifests one after the other, and how far reading them has come."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

from receiving.errors import Fault
from receiving.expected.results import NotUnderstood, Progress, SourceFormat
from receiving.model import Manifest


@dataclass
class ManifestStream(Iterator[Manifest]):
    """Manifests one after the other; ``warnings`` and ``not_understood`` grow while it is read.

    Faults that stop the file raise `ManifestFaults`; what was yielded before them must not be kept.
    """

    source_format: SourceFormat
    _manifests: Iterator[Manifest]
    warnings: list[Fault] = field(default_factory=list)
    not_understood: list[NotUnderstood] = field(default_factory=list)

    def __next__(self) -> Manifest:
        return next(self._manifests)


@dataclass
class Said:
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
