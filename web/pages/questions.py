"""What only a person can decide: which carton a label is, and whether a guided read is right."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import ClassVar

from receiving.model import CartonFinding, Explanation, LabelRead, Question
from receiving.service import PhotoRow
from web.pages.photos import Crop, crops_of, sureness_words
from web.pages.tone import STATE_TONES, Tone
from web.pages.words import shown_text, size_words, where_words


@dataclass(frozen=True)
class Choice:
    """A carton that a label may be, with what helps to tell it, and the photos of it that exist already."""

    carton: str
    kind: str
    where: str
    size: str
    sscc: str
    tone: Tone
    word: str
    crops: tuple[Crop, ...]


@dataclass(frozen=True)
class SizeChoices:
    """The sizes that a person may say in one tap, the one that was said, and the reads that it is said of."""

    choices: tuple[str, ...]
    said: str
    read_ids: tuple[str, ...]


@dataclass(frozen=True)
class QuestionCard:
    """A question with the label in view and the choices.

    ``texts`` are what was read; a guess between several codes is none of them, since it would name one of the choices.
    ``sizes`` has no choices where the size of the carton would not tell.
    """

    question_id: str
    prompt: str
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

    title: ClassVar[str] = "Which carton is this?"


@dataclass(frozen=True)
class GuidedCard:
    """A read that was made with help of the manifest: to be checked, and undoable."""

    read_id: str
    carton: str
    sentence: str
    sureness: str
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
        prompt=question.prompt,
        texts=tuple(dict.fromkeys(shown_text(read.raw.raw) for read in asked if not read.raw.alternatives)),
        crops=crops_of(asked, rows),
        choices=tuple(_choice(findings[c], reads, rows) for c in question.cartons if c in findings),
        sizes=size_choices(question),
    )


def size_choices(question: Question | None) -> SizeChoices:
    """What may be said of the size of the carton in question."""
    if question is None or not question.sizes:
        return SizeChoices((), "", ())
    return SizeChoices(tuple(size.value for size in question.sizes), question.size or "", question.read_ids)


def _choice(finding: CartonFinding, reads: Mapping[str, LabelRead], rows: Mapping[str, PhotoRow]) -> Choice:
    carton = finding.carton
    return Choice(
        carton=carton.carton,
        kind=carton.kind.words,
        where=where_words(carton),
        size=size_words(carton),
        sscc=str(carton.sscc or carton.barcode),
        tone=STATE_TONES[finding.state],
        word=finding.state.words,
        crops=crops_of((reads[r] for r in finding.evidence if r in reads), rows)[:1],
    )


def guided_card(read: LabelRead, explanation: Explanation, rows: Mapping[str, PhotoRow]) -> GuidedCard:
    """A guided read as a card."""
    return GuidedCard(
        read.read_id, explanation.carton, explanation.sentence, sureness_words(read), crops_of((read,), rows)
    )
