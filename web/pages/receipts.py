"""The store manager's pages: what is to be confirmed, and the receipt that was given."""

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import ClassVar

from receiving.messages import Message, Text, joined, listing, message, opening, plural
from receiving.model import Place, Receipt, ReplacementRequest, ShortDeclaration, ShownLine, ShownReceipt
from receiving.service import PhotoRow, ShipmentView, declaration_words, role_words
from receiving.wording import cartons_words, line_words, term
from web.pages.photos import DamagePhoto, damage_photos
from web.pages.problem import Trouble
from web.pages.replacement import issued_words
from web.pages.searching import MissingLine, SearchLine, search_lines
from web.pages.tone import Tone

MESSAGES = (("x12", "X12 861"), ("edi", "EDIFACT RECADV"), ("jsonld", "EPCIS 2.0"))
LINE_TONES = {
    "received": Tone.HERE,
    "inside": Tone.INSIDE,
    "short": Tone.MISSING,
    "damaged": Tone.DAMAGED,
    "counted": Tone.MISSING,
    "extra": Tone.EXTRA,
    "duplicate": Tone.QUESTION,
    "question": Tone.QUESTION,
}


@dataclass(frozen=True)
class ReceiptLine:
    """One line of what is confirmed; ``changed`` when it was not there when the page was shown before."""

    tone: Tone
    words: Text
    declared: Text
    changed: bool
    photos: tuple[DamagePhoto, ...]


@dataclass(frozen=True)
class ReceiptBody:
    """What was received, in plain words."""

    shipment: str
    store: str
    revision: int
    expected: int
    received: int
    sentence: Text
    declared: tuple[Text, ...]
    exceptions: tuple[ReceiptLine, ...]
    here: tuple[ReceiptLine, ...]


@dataclass(frozen=True)
class AskedFor:
    """A replacement request of the store: its number, and how much was asked for when."""

    number: int
    words: Text


@dataclass(frozen=True)
class HandedOver:
    """What is handed over with the receipt, as it is now and not part of what is signed: it changes with the work.

    ``stands`` says where the received cartons are; ``asked`` the store's replacement requests.
    """

    stands: tuple[Text, ...]
    asked: tuple[AskedFor, ...]


@dataclass(frozen=True)
class Signer:
    """Who confirms, in which role."""

    name: str
    role: Text


@dataclass(frozen=True)
class Typed:
    """What the store manager typed so far, and what was wrong with it."""

    name: str = ""
    role: str = ""
    remarks: str = ""
    short: str = ""
    reason: str = ""
    reasons: Mapping[str, str] = field(default_factory=dict)
    trouble: Trouble | None = None


@dataclass(frozen=True)
class ConfirmPage:
    """What the store manager looks at and confirms. Typed values come back when something was wrong.

    ``signer`` is the store manager who is signed in; None where the name is typed.
    """

    template: ClassVar[str] = "confirm.html"

    body: ReceiptBody
    handed: HandedOver
    digest: str
    shown_ms: int
    changed: bool
    gone: tuple[Text, ...]
    earlier: tuple[Text, ...]
    signer: Signer | None
    takes_pin: bool
    missing: tuple[MissingLine, ...]
    searches: tuple[SearchLine, ...]
    typed: Typed

    title: ClassVar[Message] = message("Confirm what was received")


@dataclass(frozen=True)
class DrawnSignature:
    """A finger's signature as the data of an SVG path, with the height of its field (its width is 1000)."""

    path: str
    height: int


@dataclass(frozen=True)
class MessageChoice:
    """A standard message in which the receipt can be sent."""

    kind: str
    words: str


@dataclass(frozen=True)
class ReceiptPage:
    """A receipt as it was confirmed; nothing changes it later."""

    template: ClassVar[str] = "receipt.html"

    body: ReceiptBody
    handed: HandedOver
    number: int
    name: str
    role: Text
    remarks: str
    when: Text
    with_exceptions: bool
    digest: str
    signature: DrawnSignature | None
    taken_by: str
    by_pin: bool
    shown_in: Text
    messages: tuple[MessageChoice, ...]

    @property
    def title(self) -> Message:
        """The page's title."""
        return message("Receipt {number}, shipment {shipment}", number=self.number, shipment=self.body.shipment)


def handed_over(view: ShipmentView, requests: Iterable[ReplacementRequest], now: datetime) -> HandedOver:
    """Where the received cartons stand now, those at a bay first, and what was asked for."""
    at_bay = {carton: bay.bay for bay in view.plan.bays for carton in bay.moved}
    bays: dict[str, list[str]] = {}
    places: dict[Place, list[str]] = {}
    for finding in view.reconciliation.received:
        name = finding.carton.carton
        if name in at_bay:
            bays.setdefault(at_bay[name], []).append(name)
        else:
            places.setdefault(finding.place or Place.OTHER, []).append(name)
    stands: list[Text] = [
        message("At bay {bay}: {cartons}", bay=bay, cartons=cartons_words(names)) for bay, names in bays.items()
    ]
    stands += [
        message("{place}: {cartons}", place=opening(term(place)), cartons=cartons_words(names))
        for place, names in places.items()
    ]
    return HandedOver(tuple(stands), tuple(AskedFor(each.number, issued_words(each, now)) for each in requests))


def confirm_page(
    shown: ShownReceipt,
    *,
    photos: Iterable[PhotoRow],
    handed: HandedOver,
    typed: Typed,
    before: ShownReceipt | None,
    receipts: Iterable[Receipt],
    now: datetime,
    signer: Signer | None = None,
    takes_pin: bool = False,
    missing: tuple[MissingLine, ...] = (),
) -> ConfirmPage:
    """The page to confirm on; lines that are new against ``before`` are marked.

    ``missing`` are the cartons that nobody declared short yet.
    """
    old = {line.words for line in before.lines} if before else set()
    new = {line.words for line in shown.lines}
    return ConfirmPage(
        body=_body(shown, photos, now, known=old if before else None),
        handed=handed,
        digest=shown.digest,
        shown_ms=round(1000 * now.timestamp()),
        changed=before is not None and before.digest != shown.digest,
        gone=tuple(line_words(line) for line in before.lines if line.words not in new) if before else (),
        earlier=tuple(_earlier(r, now) for r in receipts),
        signer=signer,
        takes_pin=takes_pin,
        missing=missing,
        searches=search_lines(missing),
        typed=typed,
    )


def receipt_page(receipt: Receipt, photos: Iterable[PhotoRow], handed: HandedOver, now: datetime) -> ReceiptPage:
    """A receipt as a page; ``photos`` are those of its shipment."""
    drawn = receipt.signature
    return ReceiptPage(
        body=_body(receipt.shown, photos, now, known=None),
        handed=handed,
        number=receipt.number,
        name=receipt.name,
        role=role_words(receipt.role),
        remarks=receipt.remarks,
        when=joined(_when(receipt, now)),
        with_exceptions=receipt.with_exceptions,
        digest=receipt.shown.digest,
        signature=DrawnSignature(drawn.path, drawn.height) if drawn else None,
        by_pin=receipt.by_pin,
        shown_in=_shown_in(receipt.language),
        taken_by=receipt.taken_by if receipt.taken_by != receipt.name else "",
        messages=tuple(MessageChoice(kind, words) for kind, words in MESSAGES) if receipt.advice else (),
    )


_LANGUAGES = {"es": message("Spanish"), "fr": message("French")}


def _shown_in(code: str) -> Text:
    """The language in which it was shown, where it was not English, the language of the record."""
    return message("Shown in {language}", language=_LANGUAGES[code]) if code in _LANGUAGES else ""


def _when(receipt: Receipt, now: datetime) -> datetime:
    return receipt.confirmed_at.astimezone(now.tzinfo)


def _earlier(receipt: Receipt, now: datetime) -> Message:
    return message(
        "Receipt {number}: {name}, {when}", number=receipt.number, name=receipt.name, when=_when(receipt, now)
    )


def _declared(stated: ShortDeclaration, now: datetime) -> Text:
    return declaration_words(stated, stated.at.astimezone(now.tzinfo))


def _body(shown: ShownReceipt, photos: Iterable[PhotoRow], now: datetime, *, known: set[str] | None) -> ReceiptBody:
    declarations = {each.carton: _declared(each.declared, now) for each in shown.lines if each.declared}
    alike: dict[str, list[str]] = {}
    rows = tuple(photos)
    for carton, declaration in declarations.items():
        # As it reads: the declarations of one tap are some microseconds apart.
        alike.setdefault(str(declaration), []).append(carton)

    def line(shown_line: ShownLine) -> ReceiptLine:
        tone = LINE_TONES.get(shown_line.state, Tone.PLAIN)
        new = known is not None and shown_line.words not in known
        declaration = declarations.get(shown_line.carton, "") if shown_line.declared else ""
        declared = declaration if len(alike.get(str(declaration), ())) == 1 else ""
        ended = not declared or shown_line.words.endswith(".")
        words = line_words(shown_line) if ended else joined(line_words(shown_line), ".", separator="")
        return ReceiptLine(tone, words, declared, new, damage_photos(shown_line.photos, rows))

    return ReceiptBody(
        shipment=shown.shipment,
        store=shown.store,
        revision=shown.revision,
        expected=shown.expected,
        received=shown.received,
        sentence=_sentence(shown),
        declared=tuple(
            plural(
                len(cartons),
                "Carton {cartons}: {declared}",
                "Cartons {cartons}: {declared}",
                cartons=listing(cartons),
                declared=declarations[cartons[0]],
            )
            for cartons in alike.values()
            if len(cartons) > 1
        ),
        exceptions=tuple(line(each) for each in shown.lines if each.state != "received"),
        here=tuple(line(each) for each in shown.lines if each.state == "received"),
    )


def _sentence(shown: ShownReceipt) -> Text:
    states = Counter(line.state for line in shown.lines)
    damaged, counted = states["damaged"], states["counted"]
    parts = (
        plural(shown.short, "{number} not seen", "{number} not seen") if shown.short else "",
        plural(damaged, "{number} damaged carton", "{number} damaged cartons") if damaged else "",
        plural(counted, "{number} carton with other contents", "{number} cartons with other contents")
        if counted
        else "",
        plural(shown.extra, "{number} extra carton", "{number} extra cartons") if shown.extra else "",
        plural(shown.questions, "{number} open question", "{number} open questions") if shown.questions else "",
    )
    if not any(parts):
        return message("Everything on the manifest was received.")
    return joined(listing(filter(None, parts)), ".", separator="")
