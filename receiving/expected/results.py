"""What reading a manifest file gives: manifests one by one, warnings, what was not understood, and how far it is.

And what a new revision of a manifest changed.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Protocol

from receiving.errors import Fault
from receiving.messages import Text, figure, message, plural
from receiving.model import Carton, Manifest, ManifestChange, What


class SourceFormat(StrEnum):
    """How a manifest came in, told by its content and not by its file name."""

    CSV = "csv"
    XLSX = "xlsx"
    X12 = "x12_856"
    EDIFACT = "desadv"

    @property
    def words(self) -> str:
        """The format as a person reads it."""
        return {"csv": "CSV", "xlsx": "XLSX", "x12_856": "X12 856", "desadv": "EDIFACT DESADV"}[self.value]


@dataclass(frozen=True)
class SegmentFault(Fault):
    """A fault of an EDI file: ``line`` is the segment's number in the file, ``column`` the element's in the segment."""

    @property
    def words(self) -> Text:
        """Where and what, as a line."""
        if not self.line:
            return self.message
        if self.field:
            return message("segment {line} ({field}): {fault}", line=self.line, field=self.field, fault=self.message)
        return message("segment {line}: {fault}", line=self.line, fault=self.message)


@dataclass(frozen=True)
class NotUnderstood:
    """A part of the file that no carton could be made of: where (line, or segment of an EDI file), text, and why."""

    line: int
    text: Text
    why: Text

    @property
    def words(self) -> Text:
        """All of it, as a line."""
        text = repr(self.text) if isinstance(self.text, str) else message("'{text}'", text=self.text)
        if not self.line:
            return message("{text}: {why}", text=text, why=self.why)
        return message("{line}: {text}: {why}", line=self.line, text=text, why=self.why)

    def __str__(self) -> str:
        return str(self.words)


@dataclass(frozen=True)
class Unused:
    """Values of a notice that no carton needs: all of one segment and qualifier, with some of them to look at.

    ``elements``: which elements of the segment, empty where it was left out whole. ``segments`` and ``values`` count.
    """

    line: int
    tag: str
    qualifier: str = ""
    elements: tuple[int, ...] = ()
    segments: int = 0
    values: int = 0
    examples: tuple[str, ...] = ()

    @property
    def words(self) -> Text:
        """All of it, as a line."""
        named = f"{self.tag} {self.qualifier}".strip()
        more = " ..." if self.segments > len(self.examples) else ""
        values = {"tag": named, "segments": figure(self.segments), "examples": f"{', '.join(self.examples)}{more}"}
        if not self.elements:
            return message("{tag}: {segments} not used ({examples})", **values)
        return plural(
            len(self.elements),
            "{tag} element {elements}: {segments} not used ({examples})",
            "{tag} elements {elements}: {segments} not used ({examples})",
            elements=", ".join(map(str, self.elements)),
            **values,
        )

    def __str__(self) -> str:
        return str(self.words)


@dataclass(frozen=True)
class ManifestFile:
    """All that one file gave. ``warnings`` and ``not_understood`` stopped nothing, and nothing of them is lost.

    Of a ship notice every value is counted: ``used`` and ``listed`` (in ``not_understood``) and those of ``unused``
    are all that stand in its messages.
    """

    manifests: tuple[Manifest, ...]
    source_format: SourceFormat
    warnings: tuple[Fault, ...] = ()
    not_understood: tuple[NotUnderstood, ...] = ()
    unused: tuple[Unused, ...] = ()
    used: int = 0
    listed: int = 0

    def __iter__(self) -> Iterator[Manifest]:
        return iter(self.manifests)


@dataclass(frozen=True)
class Progress:
    """How far reading a long file has come: bytes read, manifests and cartons made of them."""

    bytes_read: int
    manifests: int
    cartons: int


# Manifests one after the other, and how far reading them has come.


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
        """This many bytes were read."""
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


def manifest_changes(old: Manifest, new: Manifest) -> tuple[ManifestChange, ...]:
    """What ``new`` changed: the shipment first, then cartons in the order of ``new``, then the removed ones."""
    return (*_shipment(old, new), *_cartons(old, new))


def _shipment(old: Manifest, new: Manifest) -> Iterator[ManifestChange]:
    if old.store != new.store:
        yield ManifestChange("", What.STORE, old.store, new.store)
    if old.dispatch_date != new.dispatch_date:
        yield ManifestChange("", What.VISIT, old.dispatch_date, new.dispatch_date)
    if old.references != new.references:
        yield ManifestChange("", What.REFERENCES, old.references or None, new.references or None)


def _cartons(old: Manifest, new: Manifest) -> Iterator[ManifestChange]:
    before = {carton.carton: carton for carton in old}
    after = {carton.carton: carton for carton in new}
    renamed = _renamed(before, after)
    former = set(renamed.values())
    for name, carton in after.items():
        earlier = before.get(name) or before.get(renamed.get(name, ""))
        if earlier is None:
            yield ManifestChange(name, What.ADDED, None, carton)
        elif earlier != carton:
            yield ManifestChange(name, What.CHANGED, earlier, carton)
    for name, carton in before.items():
        if name not in after and name not in former:
            yield ManifestChange(name, What.REMOVED, carton, None)


def _renamed(before: dict[str, Carton], after: dict[str, Carton]) -> dict[str, str]:
    """New carton id -> old one, for cartons that kept their SSCC and lost their number."""
    by_sscc = {c.sscc: c.carton for c in before.values() if c.sscc and c.carton not in after}
    gained = (c for c in after.values() if c.sscc and c.carton not in before)
    return {c.carton: by_sscc[c.sscc] for c in gained if c.sscc in by_sscc}
