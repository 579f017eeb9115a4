"""What the printed text around a photo's unread labels may say: each line is a suggestion."""

from dataclasses import dataclass
from typing import ClassVar

from receiving.messages import Text, message
from receiving.service import PrintRead


@dataclass(frozen=True)
class SuggestedLine:
    """One suggestion: what it may be in words, the printed line, and the text that taking it types."""

    words: Text
    line: str
    text: str


@dataclass(frozen=True)
class PhotoPrintPage:
    """The suggestions for one photo, the surest first."""

    template: ClassVar[str] = "photo_print.html"

    shipment: str
    store: str
    photo: str
    lines: tuple[SuggestedLine, ...]

    title: ClassVar[Text] = message("Printed text")


def print_page(found: PrintRead, *, shipment: str, photo: str) -> PhotoPrintPage:
    """The suggestions as a page."""
    lines = tuple(SuggestedLine(s.words, s.line, s.text) for s in found.suggestions)
    return PhotoPrintPage(shipment, found.store, photo, lines)
