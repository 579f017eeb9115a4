"""Voiding a shipment that was imported by mistake, and the way back."""

from dataclasses import dataclass
from datetime import datetime
from typing import ClassVar

from receiving.messages import Text, message, plural
from receiving.service import VoidedShipment, Voiding
from web.pages.words import moment_words


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
