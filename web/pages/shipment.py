"""The shipment page: the count that matters, then what needs a hand, then what is here."""

from collections.abc import Mapping
from dataclasses import dataclass, fields
from datetime import datetime
from typing import ClassVar

from receiving.messages import Listing, Message, Text, joined, message, plural
from receiving.model import Carton, CartonFinding, CartonState, LabelRead, OverReason, Receipt
from receiving.service import PhotoRow, PhotoStatus, ShipmentView, missing_words, search_states
from receiving.wording import cartons_words, from_stored, term, words_of
from web.pages.cartons import (
    CartonCard,
    CartonGroup,
    ExtraCard,
    FirstCard,
    bays_by_carton,
    carton_card,
    carton_groups,
    extra_card,
    first_card,
)
from web.pages.notes import note_words
from web.pages.photos import PhotoCard, photo_card
from web.pages.questions import (
    GuidedCard,
    LooksLike,
    QuestionCard,
    UnclearCard,
    guided_card,
    looks_like,
    question_card,
    unclear_card,
)
from web.pages.scan_bar import Answer, ScanBar
from web.pages.searching import (
    NOTHING_SOUGHT,
    MissingPart,
    ask_overhead,
    missing_part,
    not_looked_at,
    places_of_sections,
    where_to_look,
)
from web.pages.section import SectionGrid, section_grids
from web.pages.staging import StagingPart, staging_part
from web.pages.tone import Tone
from web.pages.words import moment_words, visit_words

MOST_QUESTIONS = 50
"""More at once nobody answers, and 5,000 made a page of 6.6 MB."""


@dataclass(frozen=True)
class Count:
    """A number of the summary that leads to its part of the page."""

    number: int
    words: Text
    tone: Tone
    part: str


@dataclass(frozen=True)
class Summary:
    """The number that matters. Shares are in thousandths of the expected cartons, to draw a bar."""

    here: int
    expected: int
    sentence: Text
    complete: bool
    counts: tuple[Count, ...]
    here_share: int
    inside_share: int


@dataclass(frozen=True)
class RevisionNotice:
    """What the latest revision of the manifest changed."""

    revision: int
    when: Text
    changes: tuple[Text, ...]


@dataclass(frozen=True)
class CheckLine:
    """Something to look at that has no buttons of its own: a doubled label, an unread region, a failed photo."""

    words: Text
    photo: str
    carton: str
    tone: Tone


@dataclass(frozen=True)
class ReceiptLine:
    """A receipt that was given."""

    number: int
    words: Text


@dataclass(frozen=True)
class ShipmentPage:
    """All of one shipment for the rep."""

    template: ClassVar[str] = "shipment.html"

    shipment: str
    store: str
    visit: Text
    held: Text
    voided: bool
    version: str
    summary: Summary
    revision: RevisionNotice | None
    open_first: tuple[FirstCard, ...]
    questions: tuple[QuestionCard, ...]
    guided: tuple[GuidedCard, ...]
    checks: tuple[CheckLine, ...]
    missing: tuple[CartonCard, ...]
    inside: tuple[CartonCard, ...]
    extra: tuple[ExtraCard, ...]
    not_labels: tuple[ExtraCard, ...]
    unclear: tuple[UnclearCard, ...]
    looks_like: LooksLike | None
    here: tuple[CartonCard, ...]
    sections: tuple[SectionGrid, ...]
    staging: StagingPart
    photos: tuple[PhotoCard, ...]
    receipts: tuple[ReceiptLine, ...]
    reading: int
    needs_look: int
    scan_bar: ScanBar
    answer: Answer | None
    last_read: Text
    view: str
    missing_groups: tuple[CartonGroup, ...]
    here_groups: tuple[CartonGroup, ...]
    not_looked_at: Text
    firsts_found: bool
    ask_overhead: tuple[CartonCard, ...]
    search: MissingPart

    @property
    def shown_questions(self) -> tuple[QuestionCard, ...]:
        """The questions to answer first; the others come as these are answered."""
        return self.questions[:MOST_QUESTIONS]

    @property
    def title(self) -> Message:
        """The page's title."""
        return message(
            "{here} of {expected} here, store {store}",
            here=self.summary.here,
            expected=self.summary.expected,
            store=self.store,
        )


@dataclass(frozen=True)
class ShipmentLive(ShipmentPage):
    """The part of the shipment page that follows what is read, on its own."""

    template: ClassVar[str] = "_shipment_live.html"


def shipment_page(
    view: ShipmentView, *, now: datetime, scan_bar: ScanBar, answer: Answer | None, shown: str = "find"
) -> ShipmentPage:
    """The shipment page in the view ``shown`` (find, stage, hand-over); times are in the time zone of ``now``.

    What another view alone shows is left out: of 400 cartons the grids and the search take a third of the time.
    """
    found = view.reconciliation
    findings = {f.carton.carton: f for f in found.cartons}
    reads = {read.read_id: read for read in view.reads}
    rows = {row.photo: row for row in view.photos}
    bays = bays_by_carton(view.plan)
    photo_of = {read_id: read.raw.photo for read_id, read in reads.items()}
    guided = _guided(view, reads, rows)
    checks = _checks(view, rows)
    extras = tuple(extra_card(over, photo_of) for over in found.extra)
    others = tuple(extra_card(o, photo_of) for o in found.over if o.why is OverReason.NOT_A_CARTON_LABEL)

    states, beside = search_states(view.notes), places_of_sections(found.cartons)
    followed = {each.carton: missing_words(each) for each in view.glance.followed}

    def cards(state: CartonState) -> tuple[CartonCard, ...]:
        return tuple(
            carton_card(f, bays, followed.get(f.carton.carton, ""), where_to_look(f, findings, states, beside))
            for f in found.in_state(state)
        )

    sections = {f.carton.carton: _section(f.carton) for f in found.cartons}
    missing, here = cards(CartonState.SHORT), cards(CartonState.RECEIVED)
    asked_overhead, not_seen = set(ask_overhead(view)), not_looked_at(view)
    return ShipmentPage(
        shipment=view.manifest.shipment,
        store=view.manifest.store,
        visit=visit_words(view.glance.visit_date, now.date()),
        held=_held(view),
        voided=view.found.record.voided,
        version=view.version,
        summary=_summary(view),
        revision=_revision(view, now),
        open_first=tuple(first_card(f, findings) for f in view.plan.open_first if f.carton in findings),
        questions=tuple(question_card(q, findings, reads, rows) for q in found.questions),
        guided=guided,
        checks=checks,
        missing=missing,
        inside=cards(CartonState.INSIDE),
        extra=extras,
        not_labels=others,
        unclear=tuple(unclear_card(each, photo_of) for each in found.unclear),
        looks_like=looks_like(found.looks_like),
        here=here,
        sections=section_grids(found, view.layout, bays) if shown == "find" else (),
        staging=staging_part(view.planned, found, view.notes, has_layout=view.layout is not None),
        photos=tuple(photo_card(row) for row in reversed(view.photos)),
        receipts=tuple(ReceiptLine(r.number, _receipt_words(r, now)) for r in view.receipts),
        reading=sum(row.status is PhotoStatus.WAITING for row in view.photos),
        needs_look=view.to_check.count,
        scan_bar=scan_bar,
        answer=answer,
        last_read=moment_words(view.glance.last_read_at, now),
        view=shown,
        missing_groups=carton_groups(missing, sections),
        here_groups=carton_groups(here, sections),
        not_looked_at=joined(*map(term, not_seen), separator=", ") if not_seen else "",
        ask_overhead=tuple(card for card in missing if card.carton in asked_overhead),
        search=missing_part(view, now) if shown == "hand-over" else NOTHING_SOUGHT,
        firsts_found=all(first.found for first in view.plan.open_first),
    )


def _section(carton: Carton) -> str:
    """The first section that a carton names; empty where it names none."""
    return next((line.section for line in carton.contents if line.section), "")


def live_part(page: ShipmentPage) -> ShipmentLive:
    """The same page, to be rendered without its frame."""
    return ShipmentLive(**{each.name: getattr(page, each.name) for each in fields(page)})


def _held(view: ShipmentView) -> Text:
    """Why the visit is held, empty where it is not."""
    return note_words(view.glance.visit) if view.glance.held and view.glance.visit else ""


def _summary(view: ShipmentView) -> Summary:
    found = view.reconciliation
    here, inside = len(found.received), len(found.in_state(CartonState.INSIDE))
    missing, expected = len(found.in_state(CartonState.SHORT)), found.expected
    looks = view.to_check.count
    counts = (
        Count(missing, plural(missing, "missing", "missing"), Tone.MISSING, "missing"),
        Count(inside, plural(inside, "inside", "inside"), Tone.INSIDE, "inside"),
        Count(len(found.extra), plural(len(found.extra), "extra", "extra"), Tone.EXTRA, "extra"),
        Count(looks, plural(looks, "to check", "to check"), Tone.QUESTION, "check"),
    )
    return Summary(
        here=here,
        expected=expected,
        sentence=_sentence(view, missing, inside, looks),
        complete=found.complete and not looks,
        counts=tuple(count for count in counts if count.number),
        here_share=1000 * here // expected if expected else 0,
        inside_share=1000 * inside // expected if expected else 0,
    )


def _sentence(view: ShipmentView, missing: int, inside: int, looks: int) -> Message:
    if not view.reads and not view.notes and not view.photos:
        return message("Nothing seen yet. Take photos of the labels, or scan them.")
    firsts = [f.carton for f in view.plan.open_first if not f.found]
    if firsts:
        return plural(
            len(firsts),
            "Look for {cartons} first: it is opened before the others.",
            "Look for {cartons} first: they are opened before the others.",
            cartons=cartons_words(firsts),
        )
    if missing:
        return plural(missing, "{number} carton still to find.", "{number} cartons still to find.")
    if inside:
        return plural(
            inside,
            "{number} carton inside an outer box: open it to count them.",
            "{number} cartons inside an outer box: open it to count them.",
        )
    if looks:
        return message("All here. To check: {things}.", things=_to_check(view))
    return message("All expected cartons are here.")


def _to_check(view: ShipmentView) -> Listing:
    """What is left to look at, by kind."""
    things = view.to_check
    kinds = (
        plural(len(things.questions), "{number} question", "{number} questions"),
        plural(len(things.guided), "{number} label read with help", "{number} labels read with help"),
        plural(len(things.duplicates), "{number} code that two labels show", "{number} codes that two labels show"),
        plural(len(things.damaged), "{number} damaged carton", "{number} damaged cartons"),
        plural(len(things.unread), "{number} photo with labels not read", "{number} photos with labels not read"),
        plural(len(things.failed), "{number} photo that could not be read", "{number} photos that could not be read"),
    )
    return Listing(tuple(each for each in kinds if each.number))


def _revision(view: ShipmentView, now: datetime) -> RevisionNotice | None:
    latest = view.found.revision
    if latest.revision == 1 or not latest.changes:
        return None
    return RevisionNotice(
        latest.revision, moment_words(latest.imported_at, now), tuple(map(from_stored, latest.changes))
    )


def _guided(view: ShipmentView, reads: Mapping[str, LabelRead], rows: Mapping[str, PhotoRow]) -> tuple[GuidedCard, ...]:
    explained = {each.read_id: each for each in view.reconciliation.explanations}
    return tuple(guided_card(reads[read_id], explained[read_id], rows) for read_id in view.to_check.guided)


def _checks(view: ShipmentView, rows: Mapping[str, PhotoRow]) -> tuple[CheckLine, ...]:
    found = view.reconciliation
    doubled = [
        CheckLine(joined(message("Two labels with one code."), words_of(d.why)), "", d.carton, Tone.QUESTION)
        for d in found.duplicates
    ]
    unread: dict[str, int] = {}
    for region in found.unreadable:
        unread[region.photo] = unread.get(region.photo, 0) + 1
    regions = [
        CheckLine(
            plural(
                n,
                "{number} label on {photo} not read: take a closer photo.",
                "{number} labels on {photo} not read: take a closer photo.",
                photo=rows[photo].name,
            ),
            photo,
            "",
            Tone.QUESTION,
        )
        for photo, n in unread.items()
        if photo in rows
    ]
    failed = [
        CheckLine(message("{photo}: {fault}", photo=row.name, fault=row.error), row.photo, "", Tone.MISSING)
        for row in rows.values()
        if row.status is PhotoStatus.FAILED
    ]
    damaged = [_damage_line(f) for f in found.cartons if f.damage]
    return (*doubled, *damaged, *regions, *failed)


def _damage_line(finding: CartonFinding) -> CheckLine:
    carton = finding.carton.carton
    words = message("Carton {carton}: damage noted, usable.", carton=carton)
    if any(not note.usable for note in finding.damage):
        words = message("Carton {carton}: damage noted, not usable.", carton=carton)
    return CheckLine(words, "", carton, Tone.DAMAGED)


def _receipt_words(receipt: Receipt, now: datetime) -> Message:
    who = joined(receipt.name, receipt.role, moment_words(receipt.confirmed_at, now), separator=", ")
    if receipt.with_exceptions:
        return message("Receipt {receipt}, with exceptions: {who}", receipt=receipt.number, who=who)
    return message("Receipt {receipt}, complete: {who}", receipt=receipt.number, who=who)
