"""Where to look for what is missing: where nobody looked yet, the outer box that should hold it, who saw it last."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime

from receiving.messages import Message, Text, joined, listing, message, opening, plural
from receiving.model import CartonFinding, CartonPlace, CartonSeen, CartonState, Note, OuterOpened, Place, ShortDeclared
from receiving.service import NOT_SEARCHED, SEARCHED, SearchState, ShipmentView, search_states
from receiving.wording import term
from web.pages.words import moment_words, where_words

OVERHEAD_REQUEST = message("Store management looks there; do not climb.")


@dataclass(frozen=True)
class SearchedPlace:
    """A place where a missing carton may be: ``done`` says who looked there, empty while nobody did."""

    value: str
    words: Text
    done: Text
    caution: Text


@dataclass(frozen=True)
class Search:
    """The search for one missing carton; ``declared`` says that it is declared short, by whom and why."""

    places: tuple[SearchedPlace, ...]
    last_seen: Text
    outer: str
    declared: Text
    is_over: bool


def search_of(view: ShipmentView, finding: CartonFinding, now: datetime) -> Search | None:
    """The search list of a missing carton; None for one that is not missing."""
    if finding.state is not CartonState.SHORT:
        return None
    state = search_states(view.notes).get(finding.carton.carton, NOT_SEARCHED)
    done, declared, left = state.searched, state.declared, state.left
    places = tuple(
        SearchedPlace(
            place.value,
            opening(term(place)),
            "" if place in left else message("Not there: {who}", who=_who(done[place], now)),
            OVERHEAD_REQUEST if place is Place.OVERHEAD else "",
        )
        for place in SEARCHED
    )
    return Search(
        places=places,
        last_seen=_last_seen(view, finding, now),
        outer=finding.carton.outer,
        declared=_declared_words(declared, now) if declared else "",
        is_over=not left,
    )


def _who(note: Note, now: datetime) -> Text:
    return joined(note.by, moment_words(note.noted_at, now), separator=", ")


def _last_seen(view: ShipmentView, finding: CartonFinding, now: datetime) -> Message:
    """Who saw the carton last, or what it travels with: nobody ever saw most of those that are missing."""
    for is_outer, carton in ((False, finding.carton.carton), (True, finding.carton.outer)):
        seen = max(_sightings(view, carton), default=None) if carton else None
        if seen:
            at, by, place = seen
            who = joined(by, term(Place(place)) if place else "", moment_words(at, now), separator=", ")
            return _seen_words(who, by_person=bool(by), is_outer=is_outer)
    return message("Nobody has seen it yet.")


def _seen_words(who: Text, *, by_person: bool, is_outer: bool) -> Message:
    """``who`` is by whom, where and when, as far as that is known."""
    if by_person and is_outer:
        return message("Its outer box was seen last by {who}.", who=who)
    if by_person:
        return message("It was seen last by {who}.", who=who)
    if is_outer:
        return message("Its outer box was seen last, {who}.", who=who)
    return message("It was seen last, {who}.", who=who)


def _sightings(view: ShipmentView, carton: str) -> Iterator[tuple[datetime, str, str]]:
    """When, by whom and where this carton was read or noted, also where that was taken back since.

    The place is its value, empty where nobody said it.
    """
    named = {each.read_id for each in view.reconciliation.explanations if each.carton == carton}
    named |= {note.read_id for note in view.notes if getattr(note, "carton", "") == carton and hasattr(note, "read_id")}
    for read in view.reads:
        if read.read_id in named:
            yield read.raw.read_at, read.raw.by, read.raw.place.value
    for note in view.notes:
        if isinstance(note, CartonPlace | CartonSeen | OuterOpened) and note.carton == carton:
            place = note.place.value if isinstance(note, CartonPlace) else ""
            yield note.noted_at, note.by, place


@dataclass(frozen=True)
class MissingLine:
    """How far the search for one missing carton is: where it was looked for, where not, and if it is declared short."""

    carton: str
    kind: Text
    where: Text
    looked: Text
    left: Text
    declared: Text


@dataclass(frozen=True)
class SearchLine:
    """Missing cartons that were looked for in the same places."""

    cartons: Text
    looked: Text
    left: Text


def search_lines(missing: Iterable[MissingLine]) -> tuple[SearchLine, ...]:
    """Missing cartons by the places in which they were looked for, so that a long list is read at once."""
    groups: dict[tuple[Text, Text], list[str]] = {}
    for line in missing:
        groups.setdefault((line.looked, line.left), []).append(line.carton)
    return tuple(SearchLine(listing(cartons), looked, left) for (looked, left), cartons in groups.items())


@dataclass(frozen=True)
class PlaceToSearch:
    """A place, and the missing cartons that nobody looked for there yet; ``none_there`` says that they are not."""

    value: str
    none_there: Text
    cartons: tuple[str, ...]
    caution: Text


@dataclass(frozen=True)
class MissingPart:
    """The missing cartons at the hand-over: ``open`` are not declared short yet."""

    lines: tuple[MissingLine, ...]
    open: tuple[MissingLine, ...]
    places: tuple[PlaceToSearch, ...]


NOTHING_SOUGHT = MissingPart((), (), ())


def missing_part(view: ShipmentView, now: datetime) -> MissingPart:
    """What the store is asked to confirm as missing, with the search for each carton."""
    states = search_states(view.notes)
    short = view.reconciliation.in_state(CartonState.SHORT)
    searched = [(finding, states.get(finding.carton.carton, NOT_SEARCHED)) for finding in short]
    lines = tuple(_missing_line(finding, state, now) for finding, state in searched)
    sought = (
        (place, tuple(f.carton.carton for f, state in searched if place in state.left and not state.declared))
        for place in SEARCHED
    )
    return MissingPart(
        lines=lines,
        open=tuple(line for line in lines if not line.declared),
        places=tuple(_place_to_search(place, cartons) for place, cartons in sought if cartons),
    )


def _place_to_search(place: Place, cartons: tuple[str, ...]) -> PlaceToSearch:
    none_there = plural(
        len(cartons),
        "{place}: carton {carton} is not there",
        "{place}: none of {number} there",
        place=opening(term(place)),
        carton=cartons[0],
    )
    return PlaceToSearch(place.value, none_there, cartons, OVERHEAD_REQUEST if place is Place.OVERHEAD else "")


def _missing_line(finding: CartonFinding, state: SearchState, now: datetime) -> MissingLine:
    return MissingLine(
        carton=finding.carton.carton,
        kind=term(finding.carton.kind),
        where=where_words(finding.carton),
        looked=_places(place for place in SEARCHED if place in state.searched),
        left=_places(state.left),
        declared=_declared_words(state.declared, now) if state.declared else "",
    )


def _places(places: Iterable[Place]) -> Text:
    """Places as a sentence lists them; empty where there is none."""
    return listing(named) if (named := tuple(map(term, places))) else ""


def _declared_words(note: ShortDeclared, now: datetime) -> Message:
    who = _who(note, now)
    if note.reason:
        return message("Declared short by {who}: {reason}", who=who, reason=note.reason)
    return message("Declared short by {who}", who=who)


def ask_overhead(view: ShipmentView) -> tuple[str, ...]:
    """The missing cartons that store management is asked to look for in overhead storage."""
    states = search_states(view.notes)
    short = [finding.carton.carton for finding in view.reconciliation.in_state(CartonState.SHORT)]
    found = [(carton, states.get(carton, NOT_SEARCHED)) for carton in short]
    return tuple(carton for carton, state in found if Place.OVERHEAD in state.left and not state.declared)


def not_looked_at(view: ShipmentView) -> tuple[Place, ...]:
    """The places in which nothing of this shipment was read yet, no photo taken, and no carton put."""
    seen = {read.raw.place for read in view.reads} | {photo.place for photo in view.photos}
    seen |= {finding.place for finding in view.reconciliation.cartons if finding.place}
    return tuple(place for place in SEARCHED if place not in seen)


def where_to_look(
    finding: CartonFinding,
    findings: Mapping[str, CartonFinding],
    states: Mapping[str, SearchState],
    beside: Mapping[str, Place],
) -> Text:
    """Where a missing carton may be, as far as the manifest and what was seen tell; empty where they do not.

    ``states`` is what `search_states` gives, ``beside`` what `places_of_sections` gives for these ``findings``.
    """
    if finding.state is not CartonState.SHORT:
        return ""
    if states.get(finding.carton.carton, NOT_SEARCHED).declared:
        return message("declared short")
    outer = findings.get(finding.carton.outer) if finding.carton.outer else None
    if outer and outer.state is CartonState.RECEIVED:
        if outer.place:
            return message("look in outer box {outer}, {place}", outer=outer.carton.carton, place=term(outer.place))
        return message("look in outer box {outer}", outer=outer.carton.carton)
    if outer:
        return message("travels in outer box {outer}, which is missing too", outer=outer.carton.carton)
    own = _sections(finding)
    last = next((place for section, place in reversed(tuple(beside.items())) if section in own), None)
    return message("others of its section: {place}", place=term(last)) if last else ""


def places_of_sections(findings: Iterable[CartonFinding]) -> dict[str, Place]:
    """Where the last carton of each section is that is here, the section whose carton is the last one last."""
    places: dict[str, Place] = {}
    for finding in findings:
        if finding.state is CartonState.RECEIVED and finding.place:
            for section in _sections(finding):
                places.pop(section, None)  # so that it stands last
                places[section] = finding.place
    return places


def _sections(finding: CartonFinding) -> frozenset[str]:
    return frozenset(line.section.casefold() for line in finding.carton.contents if line.section)
