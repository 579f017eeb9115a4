"""The place where a rep works: who, where, photos, scans, and the answer to the last scan."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime
from typing import ClassVar

from receiving.messages import Message, Text, message, opening
from receiving.model import Note, Outcome, Place, RawRead, ReadAssigned, SizeStated
from receiving.service import ScanAnswer, ShipmentView, notes_in_force
from receiving.wording import term
from web.pages.questions import SizeChoices, size_choices
from web.pages.tone import OUTCOME_TONES, OUTCOME_WORDS, Tone
from web.pages.words import moment_words

OVERHEAD_CAUTION = message("Overhead: ask store management to bring it down; do not climb.")


@dataclass(frozen=True)
class PlaceChoice:
    """One place to choose."""

    place: str
    words: Text
    chosen: bool


@dataclass(frozen=True)
class ScanBar:
    """What stays at hand while boxes are received. ``scan_id`` makes sending a typed line twice harmless."""

    person: str
    place: str
    place_words: Text
    places: tuple[PlaceChoice, ...]
    caution: Text
    scan_id: str


@dataclass(frozen=True)
class Answer:
    """What the last scan turned out to be; ``read_id`` is empty where there is nothing to undo.

    ``stated`` are the notes of the last thing that a person said of the label, which is undone before the scan is.
    ``may_be_extra``: nobody knows what it is, and a person may note it as an extra carton.
    """

    template: ClassVar[str] = "_answer.html"

    tone: Tone
    word: Text
    sentence: Text
    carton: str
    open_first: bool
    bay: str
    question_id: str
    shipment: str
    read_id: str
    sizes: SizeChoices
    stated: tuple[str, ...] = ()
    already: Text = ""
    may_be_extra: bool = False
    choices: tuple[str, ...] = ()

    @property
    def sound(self) -> str:
        """Which tone a phone gives: the same for every answer that asks for the same of a rep."""
        if self.already and self.tone is Tone.HERE:
            return "already"
        if self.tone is Tone.HERE:
            return "first" if self.open_first else "here"
        return "extra" if self.tone is Tone.EXTRA else "question"


def scan_bar_of(person: str, place: Place, scan_id: str) -> ScanBar:
    """The scan bar for this person at this place."""
    return ScanBar(
        person=person,
        place=place.value,
        place_words=term(place),
        places=tuple(PlaceChoice(each.value, opening(term(each)), each is place) for each in Place),
        caution=OVERHEAD_CAUTION if place is Place.OVERHEAD else "",
        scan_id=scan_id,
    )


def scan_answer(given: ScanAnswer, shipment: str, *, already: Text = "") -> Answer:
    """A scan's answer in large words, with the question that it raised, and who saw the carton before."""
    asked = given.question
    return Answer(
        tone=OUTCOME_TONES[given.outcome],
        word=OUTCOME_WORDS[given.outcome],
        sentence=given.sentence,
        carton=given.carton,
        open_first=given.open_first and given.outcome is Outcome.MATCHED,
        bay=given.bay,
        question_id=asked.question_id if asked else "",
        shipment=shipment,
        read_id="" if given.outcome is Outcome.REJECTED else given.read_id,
        sizes=size_choices(asked),
        already=already,
        may_be_extra=given.outcome is Outcome.UNCLEAR,
        choices=asked.cartons if asked else (),
    )


def unread_answer(shipment: str, *, is_read: bool) -> Answer:
    """The answer to a picture of a label that gave nothing (``is_read``), or that is still being read."""
    return Answer(
        tone=Tone.QUESTION,
        word=message("Not read") if is_read else message("Being read"),
        sentence=(
            message("Go closer with the camera, or type what is printed on the label. The picture is kept.")
            if is_read
            else message("The picture is kept; what it shows appears in the list.")
        ),
        carton="",
        open_first=False,
        bay="",
        question_id="",
        shipment=shipment,
        read_id="",
        sizes=size_choices(None),
    )


def seen_before(first: RawRead, now: datetime) -> Message:
    """Who saw the carton of a read first, where and when, by the oldest other read of it."""
    place, when = term(first.place), moment_words(first.read_at, now)
    if first.by:
        return message("Already seen by {person}, {place}, {when}", person=first.by, place=place, when=when)
    return message("Already seen, {place}, {when}", place=place, when=when)


def stored_answer(view: ShipmentView, read_id: str) -> Answer | None:
    """The answer to a scan that was stored before, as things stand now."""
    given = view.answer_of(read_id)
    if given is None:
        return None
    answer = scan_answer(given, view.manifest.shipment)
    return replace(answer, stated=_last_stated(view.notes, read_id))


def _last_stated(notes: Iterable[Note], read_id: str) -> tuple[str, ...]:
    """The notes that one tap made, of which one is on this read: a question is answered for all its reads at once."""
    stated = [note for note in notes_in_force(notes) if isinstance(note, ReadAssigned | SizeStated)]
    last = next((note for note in reversed(stated) if note.read_id == read_id), None)
    if last is None:
        return ()
    return tuple(
        note.note_id for note in stated if note is last or (note.action_id and note.action_id == last.action_id)
    )
