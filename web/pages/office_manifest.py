"""The manifest of a shipment: its revisions with what each changed, the way back to one, and voiding the whole.

A shipment that was imported by mistake is voided, and can be brought back.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import ClassVar

from receiving.messages import Message, Text, joined, message, plural
from receiving.model import Manifest
from receiving.service import RevisionOrigin, RevisionPreview, RevisionRecord, VoidedShipment, Voiding
from receiving.wording import from_stored
from web.pages.words import moment_words

FEW_CHANGES = 12


@dataclass(frozen=True)
class RevisionLine:
    """One revision; ``short`` where its changes fit on the page at once."""

    revision: int
    words: Text
    changes: tuple[Text, ...]
    heading: Text
    short: bool
    current: bool


@dataclass(frozen=True)
class ManifestPage:
    """The manifest of a shipment with its history, the newest revision first."""

    template: ClassVar[str] = "office_manifest.html"

    shipment: str
    store: str
    sentence: Text
    revisions: tuple[RevisionLine, ...]
    done: Text

    @property
    def title(self) -> Text:
        """The page's title."""
        return message("Manifest of {shipment}", shipment=self.shipment)


@dataclass(frozen=True)
class RestorePage:
    """What going back to a revision would change now."""

    template: ClassVar[str] = "office_restore.html"

    shipment: str
    store: str
    revision: int
    words: Text
    follows: int
    changes: tuple[Text, ...]

    @property
    def title(self) -> Text:
        """The page's title."""
        return message("Restore revision {number}?", number=self.revision)


def manifest_page(revisions: Iterable[RevisionRecord], *, now: datetime, done: Text = "") -> ManifestPage:
    """The page of a manifest; ``revisions`` oldest first, at least one."""
    revisions = tuple(revisions)
    current = revisions[-1]
    return ManifestPage(
        shipment=current.manifest.shipment,
        store=current.manifest.store,
        sentence=message(
            "{cartons}. Revision {revision} is in use.", cartons=_cartons(current.manifest), revision=current.revision
        ),
        revisions=tuple(_line(each, current.revision, now) for each in reversed(revisions)),
        done=done,
    )


def restore_page(preview: RevisionPreview, now: datetime) -> RestorePage:
    """The page that shows what a restore would change."""
    record = preview.restored or preview.current
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
        changes=tuple(map(from_stored, record.changes)),
        heading=plural(len(record.changes), "{number} change", "{number} changes"),
        short=len(record.changes) < FEW_CHANGES,
        current=record.revision == current,
    )


def _origin(record: RevisionRecord) -> Text:
    match record.origin:
        case RevisionOrigin.CARTON_EDITED:
            return message("carton {carton} edited", carton=record.source)
        case RevisionOrigin.RESTORED:
            return message("revision {number} restored", number=record.source)
        case RevisionOrigin.KIT_PLACES:
            return message("places of the kit")
        case RevisionOrigin.REQUEST:
            return message("request {reference}", reference=record.source)
        case _:
            return record.source


def _words(record: RevisionRecord, now: datetime) -> Text:
    origin, by = _origin(record), record.by
    made = message("{origin} by {person}", origin=origin, person=by) if by else origin
    return joined(moment_words(record.imported_at, now), made, _cartons(record.manifest), separator=", ")


def _cartons(manifest: Manifest) -> Message:
    return plural(len(manifest.cartons), "{number} carton", "{number} cartons")


@dataclass(frozen=True)
class VoidPage:
    """The question before a shipment is voided; ``done`` where it is voided: since when, by whom and why."""

    template: ClassVar[str] = "office_void.html"

    shipment: str
    store: str
    cartons: Text
    done: Text

    @property
    def title(self) -> Text:
        """The page's title."""
        if self.done:
            return message("Shipment {shipment} is voided", shipment=self.shipment)
        return message("Void shipment {shipment}?", shipment=self.shipment)


def void_page(found: Voiding, now: datetime) -> VoidPage:
    """The page of a shipment that may be voided, or is."""
    manifest, voided = found.manifest, found.voided
    cartons = plural(len(manifest.cartons), "{number} carton", "{number} cartons")
    return VoidPage(manifest.shipment, manifest.store, cartons, voided_words(voided, now) if voided else "")


def voided_words(voided: VoidedShipment, now: datetime) -> Text:
    """Since when a shipment is voided, by whom and why."""
    note, at = voided.note, moment_words(voided.note.noted_at, now)
    stated = (
        message("Voided {moment} by {person}", moment=at, person=note.by)
        if note.by
        else message("Voided {moment}", moment=at)
    )
    return message("{statement}: {reason}", statement=stated, reason=note.reason) if note.reason else stated
