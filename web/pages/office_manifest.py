"""The manifest of a shipment: its revisions with what each changed, and the way back to one."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import ClassVar

from receiving.messages import Text
from receiving.service import RevisionOrigin, RevisionPreview, RevisionRecord
from receiving.wording import told
from web.pages.words import counted, moment_words

FEW_CHANGES = 12


@dataclass(frozen=True)
class RevisionLine:
    """One revision; ``short`` where its changes fit on the page at once."""

    revision: int
    words: str
    changes: tuple[Text, ...]
    heading: str
    short: bool
    current: bool


@dataclass(frozen=True)
class ManifestPage:
    """The manifest of a shipment with its history, the newest revision first."""

    template: ClassVar[str] = "office_manifest.html"

    shipment: str
    store: str
    sentence: str
    revisions: tuple[RevisionLine, ...]
    done: str

    @property
    def title(self) -> str:
        """The page's title."""
        return f"Manifest of {self.shipment}"


@dataclass(frozen=True)
class RestorePage:
    """What going back to a revision would change now."""

    template: ClassVar[str] = "office_restore.html"

    shipment: str
    store: str
    revision: int
    words: str
    follows: int
    changes: tuple[Text, ...]

    @property
    def title(self) -> str:
        """The page's title."""
        return f"Restore revision {self.revision}?"


def manifest_page(revisions: Iterable[RevisionRecord], *, now: datetime, done: str = "") -> ManifestPage:
    """The page of a manifest; ``revisions`` oldest first, at least one."""
    revisions = tuple(revisions)
    current = revisions[-1]
    cartons = counted(len(current.manifest.cartons), "carton")
    return ManifestPage(
        shipment=current.manifest.shipment,
        store=current.manifest.store,
        sentence=f"{cartons}. Revision {current.revision} is in use.",
        revisions=tuple(_line(each, current.revision, now) for each in reversed(revisions)),
        done=done,
    )


def restore_page(record: RevisionRecord, preview: RevisionPreview, now: datetime) -> RestorePage:
    """The page that shows what a restore would change."""
    manifest = record.manifest
    return RestorePage(
        manifest.shipment,
        manifest.store,
        record.revision,
        _words(record, now),
        preview.follows,
        preview.changes,
    )


def _line(record: RevisionRecord, current: int, now: datetime) -> RevisionLine:
    return RevisionLine(
        revision=record.revision,
        words=_words(record, now),
        changes=tuple(map(told, record.changes)),
        heading=counted(len(record.changes), "change"),
        short=len(record.changes) < FEW_CHANGES,
        current=record.revision == current,
    )


_ORIGIN_WORDS = {
    RevisionOrigin.FILE: "{}",
    RevisionOrigin.CARTON_EDITED: "carton {} edited",
    RevisionOrigin.RESTORED: "revision {} restored",
    RevisionOrigin.KIT_PLACES: "places of the kit",
    RevisionOrigin.REQUEST: "request {}",
}


def _words(record: RevisionRecord, now: datetime) -> str:
    cartons = counted(len(record.manifest.cartons), "carton")
    by = f" by {record.by}" if record.by else ""
    return (
        f"{moment_words(record.imported_at, now)}, {_ORIGIN_WORDS[record.origin].format(record.source)}{by}, {cartons}"
    )
