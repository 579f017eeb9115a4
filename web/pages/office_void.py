"""Voiding a shipment that was imported by mistake, and the way back."""

from dataclasses import dataclass
from datetime import datetime
from typing import ClassVar

from receiving.model import Manifest
from receiving.service import VoidedShipment
from web.pages.words import counted, moment_words


@dataclass(frozen=True)
class VoidPage:
    """The question before a shipment is voided; ``said`` where it is voided: since when, by whom and why."""

    template: ClassVar[str] = "office_void.html"

    shipment: str
    store: str
    cartons: str
    said: str

    @property
    def title(self) -> str:
        """The page's title."""
        return f"Shipment {self.shipment} is voided" if self.said else f"Void shipment {self.shipment}?"


def void_page(manifest: Manifest, voided: VoidedShipment | None, now: datetime) -> VoidPage:
    """The page of a shipment that may be voided, or is."""
    cartons = counted(len(manifest.cartons), "carton")
    return VoidPage(manifest.shipment, manifest.store, cartons, voided_words(voided, now) if voided else "")


def voided_words(voided: VoidedShipment, now: datetime) -> str:
    """Since when a shipment is voided, by whom and why."""
    note = voided.note
    by, why = f" by {note.by}" if note.by else "", f": {note.reason}" if note.reason else ""
    return f"Voided {moment_words(note.noted_at, now)}{by}{why}"
