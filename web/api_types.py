"""What the API takes and gives: typed values, from which its OpenAPI description is made."""

from datetime import date, datetime
from typing import Annotated

import msgspec
from msgspec import Meta, Struct

from receiving.model import Place

_NO_LABEL = r"\x00-\x03\x05-\x08\x0b\x0c\x0e-\x1b\x7f-\x9f"
LABEL_TEXT = rf"^[^{_NO_LABEL}]*[^\s{_NO_LABEL}][^{_NO_LABEL}]*$"
"""Not blank, and no control characters but those that a label's data can have (ISO/IEC 15434)."""


NAME_TEXT = r"^[^\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\ufffd]*$"
"""What a person's name may hold: no control characters."""


class Missing(Struct):
    """A carton that is missing: what is done about it, and whether it need not hold the visit."""

    carton: str
    status: str
    settled: bool
    positions: int
    due: date | None
    request: str


class ShipmentState(Struct):
    """One shipment on the day at its store."""

    shipment: str
    store: str
    state: str
    next_step: str
    visit: date | None
    days_to_visit: int | None
    latest_order: date | None
    held: bool
    confirmed: bool
    expected: int
    here: int
    inside: int
    missing: list[Missing]
    extra: int
    to_check: int
    last_read_at: datetime | None
    advice: str


class ShipmentList(Struct):
    """A page of shipments, the most pressing first; ``next_page`` is 0 on the last one."""

    shipments: list[ShipmentState]
    page: int
    next_page: int
    count: int


class NewScan(Struct, forbid_unknown_fields=True):
    """One line of a scanner: ``raw`` as it was sent; ``scan_id`` a UUID made by who scanned.

    ``scanned_at`` (RFC 3339) is when, where it was before now; ``by`` is whom the program names, and stands in the
    record with the token's name behind it.
    """

    raw: Annotated[str, Meta(min_length=1, max_length=4000, pattern=LABEL_TEXT)]
    scan_id: Annotated[str, Meta(pattern="^[0-9a-fA-F]{8}(-[0-9a-fA-F]{4}){3}-[0-9a-fA-F]{12}$")]
    place: Place = Place.OTHER
    by: Annotated[str, Meta(max_length=80, pattern=NAME_TEXT)] = ""
    scanned_at: Annotated[datetime, Meta(tz=True)] | None = None


class ScanResult(Struct):
    """What a scan turned out to be."""

    scan_id: str
    outcome: str
    carton: str
    bay: str
    sentence: str


class PhotoResult(Struct):
    """A photo of a shipment: ``status`` is waiting, read or failed; ``symbols`` were found on it so far."""

    photo: str
    name: str
    place: str
    status: str
    symbols: int
    error: str
    advice: str


class NoticeResult(Struct):
    """What a notice did to one shipment."""

    shipment: str
    store: str
    status: str
    revision: int
    changes: list[str]


class NoticeResults(Struct):
    """What a notice did."""

    shipments: list[NoticeResult]


class Trip(Struct):
    """A cart trip of the staging plan."""

    trip: int
    cartons: list[str]
    load_kg: float


class Plan(Struct):
    """The staging plan: what is opened first, here or not, and the cart trips in their order."""

    shipment: str
    open_first: list[str]
    trips: list[Trip]


class DeclaredShort(Struct):
    """Who declared a missing carton short, when, why it was not looked for everywhere, and where it was looked for."""

    by: str
    at: datetime
    reason: str
    searched: list[str]


class ReceiptLine(Struct):
    """A line of a receipt; ``declared`` where it is a missing carton that was declared short."""

    state: str
    words: str
    declared: DeclaredShort | None = None


class ReceiptOut(Struct):
    """A confirmation by the store, exactly as it was shown; ``digest`` is the SHA-256 of what was shown."""

    shipment: str
    number: int
    confirmed_at: datetime
    name: str
    role: str
    with_exceptions: bool
    expected: int
    received: int
    digest: str
    lines: list[ReceiptLine]


class MessageOut(Struct):
    """A receipt as a standard message: ``text`` is the message, to be stored or sent as ``media_type``."""

    shipment: str
    number: int
    kind: str
    media_type: str
    text: str


class Problem(Struct):
    """What went wrong (RFC 9457), and the next step."""

    title: str
    status: int
    detail: str
    next_step: str
    errors: list[str] = msgspec.field(default_factory=list)
