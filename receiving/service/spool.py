"""Manifests of a long file, kept beside the memory until all of it was understood."""

import tempfile
from collections.abc import Iterable, Iterator
from types import TracebackType
from typing import Self

from receiving.model import Manifest
from receiving.store.records import from_text, to_text


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
