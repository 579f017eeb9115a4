"""Notes in words, each with what undoes it."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from receiving.messages import Text, joined
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
    RegionSettled,
    ShipmentDelivered,
    ShipmentVoided,
    ShortageFollowed,
    ShortDeclared,
    SizeSaid,
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
    words: str
    who: Text
    withdrawn: bool
    photo: str


def note_lines(about: Iterable[Note], notes: Iterable[Note], now: datetime) -> tuple[NoteLine, ...]:
    """The notes ``about`` something, newest first; ``notes`` are all of the shipment, which may withdraw them."""
    snapshot = {note.note_id for note in notes_in_force(notes)}
    return tuple(
        NoteLine(
            note.note_id, note_words(note), _who(note, now), note.note_id not in snapshot, getattr(note, "photo", "")
        )
        for note in sorted(about, key=lambda note: note.order, reverse=True)
    )


def _who(note: Note, now: datetime) -> Text:
    return joined(note.by, moment_words(note.noted_at, now), separator=", ")


def note_words(note: Note) -> str:
    """What a note says, as a sentence."""
    match note:
        case DamageNoted():
            return damage_words(note) + "."
        case ReadRejected():
            return f"A read was left out{_because(note.reason)}."
        case ReadAssigned():
            return f"A label was said to be carton {note.carton}." if note.carton else "A label was said to be none."
        case SizeSaid():
            return f"A label's carton was said to be {note.size.value}."
        case CartonSeen():
            return f"Seen here without a label{_because(note.reason)}."
        case RegionSettled():
            what = f"the label of carton {note.carton}" if note.carton else "no carton label"
            return f"An unread region of a photo was said to be {what}."
        case PlaceSearched():
            return f"Looked for in: {term(note.place)}; it was not there."
        case ShortDeclared():
            return f"Declared short{_because(note.reason) or ', after it was looked for everywhere'}."
        case CartonPlace():
            return f"Stands in: {term(note.place)}."
        case CartonMoved():
            return f"Taken to bay {note.bay}." if note.bay else "Taken back to the back room."
        case StagingChanged():
            trip = f" on trip {note.trip}" if note.trip else ""
            return f"Plan changed: carton {note.carton}{trip}{f' to bay {note.bay}' if note.bay else ''}."
        case ShipmentDelivered():
            return f"Delivered on {day_words(note.day)}."
        case ShipmentVoided():
            return f"The shipment {'was voided' if note.voided else 'counts again'}{_because(note.reason)}."
        case ShortageFollowed() | VisitDecided():
            return _followed_words(note)
        case _:
            return _opened_words(note)


def _followed_words(note: ShortageFollowed | VisitDecided) -> str:
    remark = _because(note.remark.rstrip("."))
    if isinstance(note, ShortageFollowed):
        return f"Carton {note.carton}: {step_words(note)}{remark}."
    return f"The rep is sent{remark}." if note.go else f"{held_words(note)}{remark}."


def _opened_words(note: Note) -> str:
    match note:
        case OuterOpened():
            who = "Opened by store staff" if note.by_store else "Opened"
            return f"{who}; everything is inside." if note.all_inside else f"{who}; its cartons are seen one by one."
        case ContentCounted() if not note.item:
            return "All contents are there."
        case ContentCounted():
            return f"Counted {note.qty if note.qty is not None else 'all'} of {note.item}."
        case _:
            return "A note."


def _because(reason: str) -> str:
    return f": {reason}" if reason else ""
