"""What a new revision of a manifest changed, in plain sentences."""

from collections.abc import Callable, Iterator
from typing import Any

from receiving.messages import Message, Text, joined, message, plural
from receiving.model import Carton, ContentLine, ManifestChange, What
from receiving.model.measures import both_lengths_words, both_weights_words
from receiving.wording.terms import term
from receiving.wording.values import address_words

MOST_PLACES = 3


def change_words(change: ManifestChange) -> Message:
    """One change as a sentence."""
    return _CHANGES[change.what](change.carton, change.before, change.after)


def _store(_: str, before: Any, after: Any) -> Message:
    return message("The shipment's store is now {store}; before: {before}.", store=after, before=before)


def _visit(_: str, before: Any, after: Any) -> Message:
    if before is None:
        return message("The shipment's visit date is now {day}.", day=after)
    if after is None:
        return message("The shipment's visit date is no longer given; before: {before}.", before=before)
    return message("The shipment's visit date is now {day}; before: {before}.", day=after, before=before)


def _references(_: str, before: Any, after: Any) -> Message:
    was, now = (", ".join(f"{name} {value}" for name, value in of or ()) for of in (before, after))
    if not was:
        return message("The shipment's references are now {references}.", references=now)
    if not now:
        return message("The shipment's references are no longer given; before: {before}.", before=was)
    return message("The shipment's references are now {references}; before: {before}.", references=now, before=was)


def _added(carton: str, _: Any, after: Any) -> Message:
    return message("Carton {carton} was added: {details}.", carton=carton, details=_described(after))


def _removed(carton: str, before: Any, _: Any) -> Message:
    return message("Carton {carton} was removed: {details}.", carton=carton, details=_described(before))


def _changed(carton: str, before: Any, after: Any) -> Message:
    changes = joined(*_fields(before, after), *_contents(before.contents, after.contents), separator="; ")
    return message("Carton {carton} changed: {changes}.", carton=carton, changes=changes)


_CHANGES: dict[What, Callable[[str, Any, Any], Message]] = {
    What.STORE: _store,
    What.VISIT: _visit,
    What.REFERENCES: _references,
    What.ADDED: _added,
    What.REMOVED: _removed,
    What.CHANGED: _changed,
}


def _described(carton: Carton) -> Text:
    """A carton in a few words: ``tray for Harbor, column 3, row 2``."""
    named: Text = term(carton.kind)
    if places := _places(carton):
        named = message("{kind} for {places}", kind=named, places=places)
    return message("{carton}, open first", carton=named) if carton.open_first else named


def _places(carton: Carton) -> Text:
    places: list[Text] = [*map(address_words, carton.addresses)] or [*carton.sections]
    shown, more = joined(*places[:MOST_PLACES], separator="; "), len(places) - MOST_PLACES
    if more > 0:
        return plural(more, "{places} and {number} more", "{places} and {number} more", places=shown)
    return shown if places else ""


_FIELDS: tuple[tuple[str, Callable[[Any], Text], Message, Message, Message], ...] = (
    (
        "sscc",
        str,
        message("SSCC from {before} to {after}"),
        message("SSCC is now {after}"),
        message("SSCC {before} is no longer given"),
    ),
    (
        "barcode",
        str,
        message("barcode from {before} to {after}"),
        message("barcode is now {after}"),
        message("barcode {before} is no longer given"),
    ),
    (
        "numbers",
        ", ".join,
        message("other numbers from {before} to {after}"),
        message("other numbers are now {after}"),
        message("other numbers {before} are no longer given"),
    ),
    (
        "outer",
        str,
        message("outer box from {before} to {after}"),
        message("outer box is now {after}"),
        message("outer box {before} is no longer given"),
    ),
    (
        "weight_kg",
        both_weights_words,
        message("weight from {before} to {after}"),
        message("weight is now {after}"),
        message("weight {before} is no longer given"),
    ),
    (
        "length_cm",
        both_lengths_words,
        message("length from {before} to {after}"),
        message("length is now {after}"),
        message("length {before} is no longer given"),
    ),
    (
        "width_cm",
        both_lengths_words,
        message("width from {before} to {after}"),
        message("width is now {after}"),
        message("width {before} is no longer given"),
    ),
    (
        "height_cm",
        both_lengths_words,
        message("height from {before} to {after}"),
        message("height is now {after}"),
        message("height {before} is no longer given"),
    ),
)
"""By the name of a carton's field: how its value is said, and that it became another one, was given, was taken away."""


def _fields(old: Carton, new: Carton) -> Iterator[Message]:
    if old.carton != new.carton:
        yield message("it was carton {carton}", carton=old.carton)
    if old.kind != new.kind:
        yield message("{before} is now {after}", before=term(old.kind), after=term(new.kind))
    if old.open_first != new.open_first:
        yield message("open first now") if new.open_first else message("no longer open first")
    for name, stated, other, given, gone in _FIELDS:
        before, after = (stated(value) if (value := getattr(carton, name)) else "" for carton in (old, new))
        if before != after:
            words = given if not before else gone if not after else other
            yield words.filled(before=before, after=after)


def _contents(old: tuple[ContentLine, ...], new: tuple[ContentLine, ...]) -> Iterator[Message]:
    gone, come = list(old), []
    for line in new:
        if line in gone:
            gone.remove(line)
        else:
            come.append(line)
    if not gone and not come and old != new:
        yield message("the order of its contents")
    yield from (message("no longer holds {line}", line=_line(line)) for line in gone)
    yield from (message("now holds {line}", line=_line(line)) for line in come)


def _line(line: ContentLine) -> Text:
    counted = f"{line.qty} {line.unit}".strip() if line.qty else ""
    named = line.item or line.description
    what: Text = counted or named or message("something")
    if counted and named:
        what = message("{quantity} of {item}", quantity=counted, item=named)
    place = address_words(line.address) if line.address else line.section
    return message("{item} for {place}", item=what, place=place) if place else what
