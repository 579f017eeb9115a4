"""Notes in words, each with what undoes it."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from receiving.messages import Message, Text, joined, message
from receiving.model import (
    CartonMoved,
    CartonPlace,
    CartonSeen,
    ContentCounted,
    DamageNoted,
    Note,
    OuterOpened,
    PlaceSearched,
    ReadAssigned,
    ReadRejected,
    RegionResolved,
    ShipmentDelivered,
    ShipmentVoided,
    ShortageFollowed,
    ShortDeclared,
    SizeStated,
    StagingChanged,
    VisitDecided,
)
from receiving.service import day_words, held_words, notes_in_force, step_words
from receiving.wording import term
from web.pages.cartons import damage_words
from web.pages.words import moment_words


@dataclass(frozen=True)
class NoteLine:
    """One note; ``withdrawn`` when it no longer counts; ``photo`` shows what it says, where one was taken."""

    note_id: str
    words: Text
    who: Text
    withdrawn: bool
    photo: str


def note_lines(about: Iterable[Note], notes: Iterable[Note], now: datetime) -> tuple[NoteLine, ...]:
    """The notes ``about`` something, newest first; ``notes`` are all of the shipment, which may withdraw them."""
    in_force = {note.note_id for note in notes_in_force(notes)}
    return tuple(
        NoteLine(
            note.note_id, note_words(note), _who(note, now), note.note_id not in in_force, getattr(note, "photo", "")
        )
        for note in sorted(about, key=lambda note: note.order, reverse=True)
    )


def _who(note: Note, now: datetime) -> Text:
    return joined(note.by, moment_words(note.noted_at, now), separator=", ")


GIVEN_REASONS = {
    "the same carton, seen again": message("the same carton, seen again"),
    "scanned by mistake": message("scanned by mistake"),
    "a typing mistake": message("a typing mistake"),
    "not a carton of this delivery": message("not a carton of this delivery"),
    "guided read is wrong": message("guided read is wrong"),
    "wrong for this carton": message("wrong for this carton"),
    "wrong on the photo": message("wrong on the photo"),
    "its label on a photo, named by a person": message("its label on a photo, named by a person"),
}
"""The reasons that forms of the pages give by themselves, as they are stored; what a person typed stays as it is."""


def note_words(note: Note) -> Text:
    """What a note says, as a sentence."""
    match note:
        case DamageNoted():
            return message("{damage}.", damage=damage_words(note))
        case ReadRejected():
            return _because(message("A read was left out"), note.reason)
        case ReadAssigned() if note.carton:
            return message("A label was said to be carton {carton}.", carton=note.carton)
        case ReadAssigned():
            return message("A label was said to belong to no carton.")
        case SizeStated():
            return message("A label's carton was said to be {size}.", size=term(note.size))
        case CartonSeen():
            return _because(message("Seen here without a label"), note.reason)
        case RegionResolved() if note.carton:
            return message(
                "An unread region of a photo was said to be the label of carton {carton}.", carton=note.carton
            )
        case RegionResolved():
            return message("An unread region of a photo was said to be no carton label.")
        case PlaceSearched():
            return message("Looked for in: {place}; it was not there.", place=term(note.place))
        case ShortDeclared() if not note.reason:
            return message("Declared short, after it was looked for everywhere.")
        case ShortDeclared():
            return _because(message("Declared short"), note.reason)
        case CartonPlace():
            return message("Stands in: {place}.", place=term(note.place))
        case ShipmentDelivered():
            return message("Delivered on {day}.", day=day_words(note.day))
        case ShipmentVoided():
            what = message("The shipment was voided") if note.voided else message("The shipment counts again")
            return _because(what, note.reason)
        case CartonMoved() | StagingChanged():
            return _moved_words(note)
        case ShortageFollowed() | VisitDecided():
            return _followed_words(note)
        case _:
            return _opened_words(note)


def _moved_words(note: CartonMoved | StagingChanged) -> Message:
    if isinstance(note, CartonMoved):
        return message("Taken to bay {bay}.", bay=note.bay) if note.bay else message("Taken back to the back room.")
    if note.trip and note.bay:
        return message(
            "Plan changed: carton {carton} on trip {trip} to bay {bay}.",
            carton=note.carton,
            trip=note.trip,
            bay=note.bay,
        )
    if note.trip:
        return message("Plan changed: carton {carton} on trip {trip}.", carton=note.carton, trip=note.trip)
    return message("Plan changed: carton {carton} to bay {bay}.", carton=note.carton, bay=note.bay)


def _followed_words(note: ShortageFollowed | VisitDecided) -> Text:
    remark = note.remark.rstrip(".")
    if isinstance(note, ShortageFollowed):
        followed = message("Carton {carton}: {step}", carton=note.carton, step=step_words(note))
        return _because(followed, remark)
    return _because(message("The rep is sent") if note.go else held_words(note), remark)


def _opened_words(note: Note) -> Text:
    match note:
        case OuterOpened() if note.by_store and note.all_inside:
            return message("Opened by store staff; everything is inside.")
        case OuterOpened() if note.by_store:
            return message("Opened by store staff; its cartons are seen one by one.")
        case OuterOpened() if note.all_inside:
            return message("Opened; everything is inside.")
        case OuterOpened():
            return message("Opened; its cartons are seen one by one.")
        case ContentCounted() if not note.item:
            return message("All contents are there.")
        case ContentCounted() if note.qty is None:
            return message("Counted all of {item}.", item=note.item)
        case ContentCounted():
            return message("Counted {number} of {item}.", number=note.qty, item=note.item)
        case _:
            return message("A note.")


def _because(what: Text, reason: str) -> Message:
    """A sentence, with its reason where one was given."""
    if not reason:
        return message("{note}.", note=what)
    return message("{note}: {reason}.", note=what, reason=GIVEN_REASONS.get(reason, reason))
