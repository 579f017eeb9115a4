"""What only a person can decide: which carton a label is, and whether a guided read is right."""

from collections.abc import Mapping
from dataclasses import dataclass
from math import exp
from typing import ClassVar

from receiving.messages import Text, figure, message, plural
from receiving.model import CartonFinding, Explanation, LabelRead, OtherShipment, Question, SizeClass, Unclear
from receiving.service import PhotoRow
from receiving.wording import term, words_of
from web.pages.photos import Crop, crops_of, sureness_words
from web.pages.tone import STATE_TONES, Tone
from web.pages.words import shown_text, size_words, where_words

MOST_NATS = 14.0
"""Odds above about a million to one are not told apart."""


@dataclass(frozen=True)
class Choice:
    """A carton that a label may be, with what helps to tell it, and the photos of it that exist already.

    ``again``: it is here already, and this may be a second look at its label.
    """

    carton: str
    kind: Text
    where: Text
    size: Text
    sscc: str
    tone: Tone
    word: Text
    crops: tuple[Crop, ...]
    again: bool = False


@dataclass(frozen=True)
class SizeChoice:
    """One size to say."""

    value: str
    words: Text


@dataclass(frozen=True)
class SizeChoices:
    """The sizes that a person may say in one tap, the one that was said, and the reads that it is said of."""

    choices: tuple[SizeChoice, ...]
    chosen: str
    read_ids: tuple[str, ...]


@dataclass(frozen=True)
class QuestionCard:
    """A question with the label in view and the choices.

    ``texts`` are what was read; a guess between several codes is none of them, since it would name one of the choices.
    ``sizes`` has no choices where the size of the carton would not tell.
    """

    question_id: str
    prompt: Text
    texts: tuple[str, ...]
    crops: tuple[Crop, ...]
    choices: tuple[Choice, ...]
    sizes: SizeChoices


@dataclass(frozen=True)
class QuestionPage:
    """One question in full: the label beside what is known of each choice."""

    template: ClassVar[str] = "question.html"

    shipment: str
    store: str
    question: QuestionCard

    title: ClassVar[Text] = message("Which carton is this?")


@dataclass(frozen=True)
class GuidedCard:
    """A read that was made with help of the manifest: to be checked, and undoable."""

    read_id: str
    carton: str
    sentence: Text
    sureness: Text
    crops: tuple[Crop, ...]


def question_card(
    question: Question,
    findings: Mapping[str, CartonFinding],
    reads: Mapping[str, LabelRead],
    rows: Mapping[str, PhotoRow],
) -> QuestionCard:
    """A question as a card."""
    asked = [reads[read_id] for read_id in question.read_ids if read_id in reads]
    return QuestionCard(
        question_id=question.question_id,
        prompt=words_of(question.why),
        texts=tuple(dict.fromkeys(shown_text(read.raw.raw) for read in asked if not read.raw.alternatives)),
        crops=crops_of(asked, rows),
        choices=(
            *(_choice(findings[c], reads, rows) for c in question.cartons if c in findings),
            *(_choice(findings[c], reads, rows, again=True) for c in question.again if c in findings),
        ),
        sizes=size_choices(question),
    )


def size_choices(question: Question | None) -> SizeChoices:
    """What may be said of the size of the carton in question."""
    if question is None or not question.sizes:
        return SizeChoices((), "", ())
    choices = tuple(SizeChoice(size.value, term(SizeClass(size))) for size in question.sizes)
    return SizeChoices(choices, question.size or "", question.read_ids)


def _choice(
    finding: CartonFinding, reads: Mapping[str, LabelRead], rows: Mapping[str, PhotoRow], *, again: bool = False
) -> Choice:
    carton = finding.carton
    return Choice(
        carton=carton.carton,
        kind=term(carton.kind),
        where=where_words(carton),
        size=size_words(carton),
        sscc=str(carton.sscc or carton.plain_code),
        tone=STATE_TONES[finding.state],
        word=term(finding.state),
        crops=crops_of((reads[r] for r in finding.evidence if r in reads), rows)[:1],
        again=again,
    )


@dataclass(frozen=True)
class UnclearCard:
    """A text that names no carton, with why, and the photo that it is on where it is on one."""

    text: str
    why: Text
    read_ids: tuple[str, ...]
    photo: str


def unclear_card(unclear: Unclear, photos: Mapping[str, str]) -> UnclearCard:
    """The card of a text that is not understood; ``photos`` gives the photo of a read id."""
    photo = next((photos[read] for read in unclear.read_ids if photos.get(read)), "")
    return UnclearCard(shown_text(unclear.raw), words_of(unclear.why), unclear.read_ids, photo)


@dataclass(frozen=True)
class LooksLike:
    """The shipment that a pile seems to be."""

    shipment: str
    store: str
    words: Text


def looks_like(found: OtherShipment | None) -> LooksLike | None:
    """Which shipment the pile seems to be, and how surely."""
    if found is None:
        return None
    odds = exp(min(found.log_odds, MOST_NATS))
    sure = figure(odds) if found.log_odds < MOST_NATS else message("over a million")
    words = plural(
        found.labels,
        "{number} label is of that shipment, {own} of this one: {odds} to 1.",
        "{number} labels are of that shipment, {own} of this one: {odds} to 1.",
        own=found.own,
        odds=sure,
    )
    return LooksLike(found.shipment, found.store, words)


def guided_card(read: LabelRead, explanation: Explanation, rows: Mapping[str, PhotoRow]) -> GuidedCard:
    """A guided read as a card."""
    return GuidedCard(
        read.read_id, explanation.carton, words_of(explanation.why), sureness_words(read), crops_of((read,), rows)
    )
