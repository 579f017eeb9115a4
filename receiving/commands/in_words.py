"""A reconciliation and its plan as a person reads it on a terminal."""

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping

from receiving.messages import Joined, Message, Text, joined, message, plural
from receiving.model import (
    BayStaging,
    CartonFinding,
    CartonState,
    How,
    Manifest,
    OpenFirst,
    OtherShipment,
    Over,
    Reconciliation,
    StagingPlan,
    Trip,
    ranked_cautions,
)
from receiving.wording import address_words, both_weights_words, term, trip_wave_words, whose_words, words_of

_FOUND_BY = {
    How.SSCC: message("sscc"),
    How.BARCODE: message("barcode"),
    How.ADDRESS: message("address"),
    How.GUIDED: message("guided"),
    How.TYPED: message("typed"),
    How.INSIDE_OUTER: message("inside outer"),
}


def reconciliation_in_words(
    found: Reconciliation, plan: StagingPlan, manifest: Manifest, to_check: int, names: Mapping[str, str]
) -> Joined:
    """The count that matters first, then what needs a person, then what is here and where it goes.

    ``to_check`` is how many things a person should look at; ``names`` gives the file name of a photo by its id.
    """
    care = ranked_cautions(plan.cautions)
    return joined(
        _looks_like(found.looks_like),
        _headline(found, manifest, to_check),
        _block(message("Open first:"), map(_open_first, plan.open_first)),
        _block(message("Missing:"), map(_line, found.in_state(CartonState.SHORT))),
        _block(message("Inside an outer box, not seen:"), map(_line, found.in_state(CartonState.INSIDE))),
        _block(message("Extra:"), map(_extra, found.extra)),
        _block(message("Two labels with one code:"), (_carton(d.carton, words_of(d.why)) for d in found.duplicates)),
        _block(message("Needs a look:"), [*(words_of(q.why) for q in found.questions), *_unread(found, names)]),
        _block(message("Not understood:"), (words_of(unclear.why) for unclear in found.unclear)),
        _block(message("Here:"), map(_here, found.received)),
        _block(
            message("Trips, in loading order: the first number is loaded first:"),
            [*map(_trip, plan.trips), *_how_good(plan)],
        ),
        _block(message("Bays, in opening order:"), map(_bay, plan.bays)),
        _block(message("Stays in the back room:"), (_carton(held.carton, held.why) for held in plan.held)),
        _block(message("Take care:"), care.first),
        _block(message("Also:"), care.others),
        separator="\n\n",
    )


def _headline(found: Reconciliation, manifest: Manifest, to_check: int) -> Joined:
    values = {"shipment": found.shipment, "store": found.store}
    head = message("Shipment {shipment} to store {store}", **values)
    if manifest.dispatch_date:
        head = message("Shipment {shipment} to store {store}, visit on {day}", day=manifest.dispatch_date, **values)
    counts = plural(
        found.expected,
        "{here} of {number} carton is here, {missing} missing or not seen, {extra} extra, {check} to check.",
        "{here} of {number} cartons are here, {missing} missing or not seen, {extra} extra, {check} to check.",
        here=len(found.received),
        missing=len(found.short),
        extra=len(found.extra),
        check=to_check,
    )
    return joined(head, counts, separator="\n")


def _looks_like(other: OtherShipment | None) -> Text:
    if other is None:
        return ""
    return plural(
        other.labels,
        "THIS PILE LOOKS LIKE SHIPMENT {shipment}, store {store}: {number} label is of that one, "
        "{own} of this one. Check that this is the right manifest.",
        "THIS PILE LOOKS LIKE SHIPMENT {shipment}, store {store}: {number} labels are of that one, "
        "{own} of this one. Check that this is the right manifest.",
        shipment=other.shipment,
        store=other.store,
        own=other.own,
    )


def _block(title: Message, lines: Iterable[Text]) -> Text:
    indented = [joined("  ", line, separator="") for line in lines]
    return joined(title, *indented, separator="\n") if indented else ""


def _open_first(first: OpenFirst) -> Message:
    if first.found:
        return message("carton {carton}", carton=first.carton)
    return message("carton {carton}, NOT FOUND", carton=first.carton)


def _carton(carton: str, words: Text) -> Message:
    return message("carton {carton}: {finding}", carton=carton, finding=words)


def _line(finding: CartonFinding) -> Message:
    carton = finding.carton
    values = {"carton": carton.carton, "kind": term(carton.kind)}
    where = joined(*map(address_words, carton.addresses), separator="; ")
    if not carton.addresses:
        where = joined(*carton.sections, separator=", ")
    if not where.parts:
        return message("carton {carton}, {kind}", **values)
    return message("carton {carton}, {kind}, {places}", places=where, **values)


def _here(finding: CartonFinding) -> Message:
    by = _FOUND_BY[finding.how] if finding.how else ""
    return message("{carton} ({by})", carton=_line(finding), by=by)


def _extra(over: Over) -> Message:
    return message("{code}: {why}", code=over.code, why=joined(term(over.why), whose_words(over), separator=", "))


def _unread(found: Reconciliation, names: Mapping[str, str]) -> Iterator[Message]:
    counts = Counter(names.get(region.photo, region.photo) for region in found.unreadable)
    for name, count in counts.items():
        yield plural(
            count,
            "{photo}: {number} label could not be read; take a closer photo.",
            "{photo}: {number} labels could not be read; take a closer photo.",
            photo=name,
        )


def _how_good(plan: StagingPlan) -> Iterator[Message]:
    """How near to the fewest cart trips the plan is known to be, and how long it was searched."""
    bound = plan.bound
    if not bound.planned:
        return
    if bound.proven:
        yield message("Fewer cart trips are not possible.")
    else:
        yield plural(
            bound.at_least,
            "At least {number} cart trip is needed; searched for about {seconds} s of computing.",
            "At least {number} cart trips are needed; searched for about {seconds} s of computing.",
            seconds=float(plan.search_s),
        )


def _trip(trip: Trip) -> Text:
    load: Text = both_weights_words(trip.load_kg, tenths=True, inside=True)
    if trip.stops:
        load = message("{load}, to {bays}", load=load, bays=", ".join(trip.stops))
    words: Text = message("{trip}: {cartons} ({load})", trip=trip.trip, cartons=", ".join(trip.cartons), load=load)
    if trip.lifted_off:
        off = message("lift off {cartons} on the way", cartons=", ".join(trip.lifted_off))
        words = joined(words, off, separator="; ")
    return joined(words, trip_wave_words(trip), separator=". ")


def _bay(bay: BayStaging) -> Text:
    values = {"bay": bay.bay, "cartons": ", ".join(bay.cartons)}
    words = message("{bay}: {cartons}", **values)
    if bay.wave > 1:
        words = message("{bay}, wave {wave}: {cartons}", wave=bay.wave, **values)
    dug = restacked = None
    if bay.dug_out:
        dug = message("under cartons that are opened later: {cartons}", cartons=", ".join(bay.dug_out))
    if bay.restacked:
        late = ", ".join(bay.restacked)
        restacked = message("to be put under cartons of an earlier trip: {cartons}", cartons=late)
    return joined(words, *(part for part in (dug, restacked) if part), separator="; ")
