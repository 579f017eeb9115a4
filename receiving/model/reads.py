"""What was seen: symbols on photos, raw reads as stored, and what a label claims."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from receiving.messages import Message, Text, figure, message
from receiving.model.identifiers import Address, Sscc
from receiving.model.limits import check_moment

Quad = tuple[tuple[float, float], tuple[float, float], tuple[float, float], tuple[float, float]]
"""Four corners in pixels of the upright photo (EXIF orientation applied), clockwise from the top left."""


MOST_SURE = 0.99
"""Confidence above which no figure is given: a person reads 100 % as certain."""


def sure_words(confidence: float) -> Message:
    """How sure a read is, as a person reads it.

    >>> str(sure_words(0.87)), str(sure_words(0.99995))
    ('87% sure', 'over 99% sure')
    """
    if confidence > MOST_SURE:
        return message("over {percent}% sure", percent=figure(100 * MOST_SURE))
    return message("{percent}% sure", percent=figure(100 * confidence))


class Place(StrEnum):
    """Where in the store a label was seen."""

    DOCK = "dock"
    BACK_ROOM = "back_room"
    OVERHEAD = "overhead"
    SALES_FLOOR = "sales_floor"
    OTHER = "other"


class SizeClass(StrEnum):
    """How large a carton looks beside the others of its shipment; a long one is long before all else."""

    SMALL = "small"
    MEDIUM = "medium"
    LARGE = "large"
    LONG = "long"


class Source(StrEnum):
    """The door through which a read came in."""

    PHOTO = "photo"
    SCANNER = "scanner"
    TYPED = "typed"


@dataclass(frozen=True, slots=True)
class Symbol:
    """One symbol (or printed field) found on a photo.

    ``raw`` is its text with GS kept as U+001D, without the symbology identifier; ``symbology`` is the AIM
    symbology identifier (ISO/IEC 15424), e.g. ``]C1``. ``label`` numbers the physical label on the photo that
    carries it. ``alternatives`` are other expected codes that a guided read could not rule out: with any of
    them, the read is a question for a person.
    """

    raw: str
    symbology: str
    quad_px: Quad
    reader: str
    label: int = 0
    guided: bool = False
    confidence: float = 1.0
    alternatives: tuple[str, ...] = ()


PHOTO_ADVICE = {
    "dark": message("The photo is too dark: use a light or the flash, from the side."),
    "glare": message("Light reflects from a label: tilt the camera a little or step to the side."),
    "small": message("A label is too small on the photo: go closer."),
    "blurred": message(
        "A label is blurred: hold still, tap the label on the screen to focus, and go closer if you can."
    ),
    "": message("A label could not be read: take it again from straight ahead and closer."),
    "all dark": message("The photo is too dark to see labels: use a light or the flash, from the side."),
    "no label": message("No label was found on the photo: point the camera at the label and go closer."),
    "no codes": message("A video in which nothing could be read. Pan more slowly and closer, or take photos."),
    "region": message("needs a closer photo"),
}
"""What a photo may need, by what is wrong with it; it is stored as its English text, the key of its message."""


@dataclass(frozen=True, slots=True)
class UnreadRegion:
    """A part of a photo that looks like a label and was not read, and what to do about it."""

    quad_px: Quad
    advice: str = PHOTO_ADVICE["region"].text


@dataclass(frozen=True)
class PhotoReading:
    """All that one photo gave. Size in pixels, upright; ``ms`` is the time that reading took."""

    width_px: int
    height_px: int
    symbols: tuple[Symbol, ...]
    unread: tuple[UnreadRegion, ...] = ()
    advice: str = ""
    refused: tuple[str, ...] = ()
    ms: float = 0.0


@dataclass(frozen=True)
class ExpectedCode:
    """A code that a label in view may carry, for guided reading: ``raw`` and ``symbology`` as in `Symbol`."""

    raw: str
    symbology: str


@dataclass(frozen=True, slots=True)
class RawRead:
    """One read exactly as it came in; stored first and never changed.

    ``read_id`` is a UUID made by whoever read, so that sending it twice is harmless. ``photo`` is the SHA-256 of
    the photo's bytes. ``read_at`` is aware, UTC.
    """

    read_id: str
    read_at: datetime
    source: Source
    raw: str
    symbology: str = ""
    place: Place = Place.OTHER
    by: str = ""
    photo: str = ""
    quad_px: Quad | None = None
    label: int = 0
    reader: str = ""
    guided: bool = False
    confidence: float = 1.0
    alternatives: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        check_moment(f"read {self.read_id}: read_at", self.read_at)


@dataclass(frozen=True, slots=True)
class Claim:
    """What one symbol says about its carton, once understood. Empty fields are not claimed.

    ``barcode`` is the plain value to compare with a manifest's ``barcode``, ``numbers`` are others of the same label.
    ``column`` is a column whose row cannot be read; with both, ``address`` has them. ``elements`` are all data elements
    in label order: (application or data identifier, value). ``warnings`` name what is wrong with the data.
    """

    sscc: Sscc | None = None
    barcode: str = ""
    gtin: str = ""
    address: Address | None = None
    column: int | None = None
    section: str = ""
    carton: str = ""
    carton_n: int | None = None
    carton_total: int | None = None
    shipment: str = ""
    store: str = ""
    kind: str = ""
    open_first: bool = False
    outer: bool = False
    item: str = ""
    size: SizeClass | None = None
    elements: tuple[tuple[str, str], ...] = ()
    pattern: str = ""
    warnings: tuple[Text, ...] = ()
    numbers: tuple[str, ...] = ()

    @property
    def faulty_sscc(self) -> str:
        """The digits of AI 00 where they are not an SSCC; a manifest may have the same wrong number."""
        return next((value for ai, value in self.elements if ai == "00"), "") if self.sscc is None else ""


@dataclass(frozen=True, slots=True)
class LabelRead:
    """A raw read and what it claims."""

    raw: RawRead
    claim: Claim

    @property
    def read_id(self) -> str:
        """The id of the raw read."""
        return self.raw.read_id
