"""What dispatch decides, and the contents of cartons, kits and lanes, as messages: one place for page, command and CSV.

Lists hold facts, so that each reader has their words.
"""

from collections import Counter
from collections.abc import Iterable, Mapping
from datetime import date
from typing import Any

from receiving import dispatch
from receiving.dispatch import (
    CartonOutlook,
    CartonStatus,
    DispatchRow,
    MissingCarton,
    NextStep,
    ShipmentRow,
    Urgency,
    Weight,
)
from receiving.messages import Day, Message, Text, joined, message, opening, plural
from receiving.model import Address, CartonKind, FollowUp, ShortageFollowed, VisitDecided
from receiving.wording import address_words, term

MOST_NAMED = 3

URGENCY_WORDS = {
    Urgency.OVERDUE: message("Overdue"),
    Urgency.SHORT: message("Short"),
    Urgency.HOLD_ENDED: message("Hold has ended"),
    Urgency.UNSEEN: message("Not seen yet"),
    Urgency.FOLLOWED: message("Followed up"),
    Urgency.TO_DECIDE: message("To decide"),
    Urgency.AWAITED: message("On its way"),
    Urgency.COMPLETE: message("Complete"),
    Urgency.CLOSED: message("Closed"),
}


def advice_words(decided: DispatchRow) -> Text:
    """What to do about a shipment, in sentences."""
    row = decided.row
    if decided.urgency is Urgency.CLOSED:
        return _after_the_visit(row)
    return joined(_held(decided), _confirmed(row), _what_to_do(decided), _when(decided))


def day_words(day: date | None) -> Text:
    """A day as a person reads it; nothing where there is none.

    >>> str(day_words(date(2026, 12, 1)))
    'Tue 1 Dec'
    """
    return Day(day) if day else ""


def step_words(followed: ShortageFollowed) -> Message:
    """What is done about a missing carton, and by when it is due."""
    step = term(followed.step)
    return message("{step}, due {day}", step=step, day=Day(followed.due)) if followed.due else step


def held_words(visit: VisitDecided) -> Message:
    """That a visit is held, and until when."""
    if visit.until:
        return message("The visit is held until {day}", day=Day(visit.until))
    return message("The visit is held")


def missing_words(missing: MissingCarton) -> Text:
    """What is done about a missing carton, empty where nothing is."""
    if missing.replaced:
        return message("its replacement is here, {request}", request=missing.request)
    if missing.followed is None:
        return message("asked for on {request}", request=missing.request) if missing.request else ""
    return _remarked(step_words(missing.followed), missing.followed.remark)


def outlook_words(outlook: CartonOutlook) -> Text:
    """What is done about a missing carton, and whether that helps the visit."""
    comes = {
        CartonStatus.OVERDUE: message("overdue"),
        CartonStatus.COMING_LATE: message("not before the visit"),
        CartonStatus.COMING_UNDATED: message("no day known"),
    }
    covered = message("the rep goes without it") if outlook.covered else ""
    return joined(missing_words(outlook.missing), comes.get(outlook.status, ""), covered, separator=", ")


def weight_words(missing: MissingCarton, positions: int) -> Message:
    """What waits for a missing carton; ``positions`` are all of the planogram."""
    match missing.weight:
        case Weight.SECTION:
            return message("a whole section cannot be set without it")
        case Weight.POSITIONS:
            return plural(
                missing.positions,
                "{number} of {positions} positions cannot be set without it",
                "{number} of {positions} positions cannot be set without it",
                positions=positions,
            )
        case _:
            return message("no position needs it")


def _after_the_visit(row: ShipmentRow) -> Message:
    if row.confirmed and row.short:
        return message("The store has confirmed, {gap}.", gap=_gap(row))
    if row.confirmed:
        return message("The store has confirmed.")
    if row.short:
        return message("The visit date has passed without a confirmation, {gap}.", gap=_gap(row))
    return message("The visit date has passed; ask the store to confirm.")


def _held(decided: DispatchRow) -> Text:
    visit, day = decided.row.visit, decided.row.visit_date
    if visit is None or visit.go:
        return ""
    if decided.urgency is not Urgency.HOLD_ENDED:
        stated = held_words(visit)
    elif day:
        stated = message("The hold of the visit ended on {day}", day=Day(day))
    else:
        stated = message("The hold of the visit ended")
    return message("{statement}.", statement=_because(stated, visit))


def _confirmed(row: ShipmentRow) -> Text:
    return message("The store has confirmed what came.") if row.confirmed and row.short else ""


def _what_to_do(decided: DispatchRow) -> Text:
    row = decided.row
    match decided.urgency:
        case Urgency.OVERDUE | Urgency.SHORT:
            return _shortage(decided)
        case Urgency.HOLD_ENDED if row.short:
            return message("{gap}: send the rep, or hold the visit until another day.", gap=opening(_gap(row)))
        case Urgency.HOLD_ENDED:
            return message("All here: send the rep, or hold the visit until another day.")
        case Urgency.UNSEEN if row.delivered:
            return message(
                "Delivered on {day} and not counted yet; ask the store to scan the cartons.", day=Day(row.delivered)
            )
        case Urgency.UNSEEN:
            return message("Nobody has looked yet; ask the store to scan the cartons.")
        case Urgency.FOLLOWED:
            return _followed(decided)
        case Urgency.TO_DECIDE if decided.next_step is NextStep.END_THE_HOLD:
            return message("All here: the visit need not be held.")
        case Urgency.TO_DECIDE:
            return message("All expected cartons are here; look at {oddities}.", oddities=_oddities(row))
        case Urgency.AWAITED if row.due:
            return message(
                "A replacement that was asked for, due by {day}; nothing to scan before it comes.", day=Day(row.due)
            )
        case Urgency.AWAITED:
            return message("A replacement that was asked for; nothing to scan before it comes.")
        case _:
            return message("All here.")


def _shortage(decided: DispatchRow) -> Text:
    row = decided.row
    if row.replaces and not row.looked_at:
        return message(
            "A replacement that was due {day} and is not here: find out where it is.", day=day_words(row.due)
        )
    overdue = [each for each in decided.outlooks if each.status is CartonStatus.OVERDUE and not each.resolved]
    situation: Text = opening(_gap(row))
    if waiting := _waiting(decided):
        situation = message("{gap}, and {waiting}", gap=situation, waiting=waiting)
    situation = _taken_care_of(situation, decided)
    step = message("{situation}: {step}.", situation=situation, step=_step(decided))
    return joined(_overdue(overdue) if overdue else "", step)


def _overdue(outlooks: list[CartonOutlook]) -> Message:
    days = {each.missing.followed.due for each in outlooks if each.missing.followed}
    due, cartons = next(iter(days)) if len(days) == 1 else None, _cartons(each.missing for each in outlooks)
    if due:
        return plural(
            len(outlooks),
            "Overdue: {cartons} was due {day} and is not here.",
            "Overdue: {cartons} were due {day} and are not here.",
            cartons=cartons,
            day=Day(due),
        )
    return plural(
        len(outlooks),
        "Overdue: {cartons} was due and is not here.",
        "Overdue: {cartons} were due and are not here.",
        cartons=cartons,
    )


def _followed(decided: DispatchRow) -> Message:
    row = decided.row
    if not row.looked_at:
        goes = message("Nobody has looked yet; the rep goes all the same")
        return message("{statement}.", statement=_because(goes, row.visit))
    gap = _taken_care_of(opening(_gap(row)), decided)
    if any(each.covered for each in decided.outlooks) or (row.inside and row.inside_covered):
        goes = message("{gap}; the rep goes all the same", gap=gap)
        return message("{statement}.", statement=_because(goes, row.visit))
    return message("{gap}: nothing that must hold the visit.", gap=gap)


def _waiting(decided: DispatchRow) -> Text:
    """What waits for what may hold the visit: the whole section, some positions, or nothing."""
    unresolved = decided.unresolved
    blocking = [each for each in unresolved if each.weight is Weight.SECTION]
    if blocking:
        return message("a whole section waits for {cartons}", cartons=_cartons(blocking))
    row = decided.row
    waiting = row.positions - row.settable
    if any(each.positions for each in unresolved) and waiting:
        return plural(
            waiting,
            "{number} of {positions} positions cannot be set",
            "{number} of {positions} positions cannot be set",
            positions=row.positions,
        )
    return plural(row.missing, "nothing waits for it", "nothing waits for them") if _can_follow(decided) else ""


def _can_follow(decided: DispatchRow) -> bool:
    unresolved = decided.unresolved
    return bool(unresolved) and not decided.row.inside and all(each.weight is Weight.NOTHING for each in unresolved)


def _step(decided: DispatchRow) -> Message:
    without = _can_follow(decided)
    match decided.next_step:
        case NextStep.CHASE if without:
            return message("trace or order again; the rep can go without")
        case NextStep.CHASE:
            return message("trace or order again before sending the rep")
        case NextStep.ORDER if without:
            return message("order or trace; the rep can go without")
        case NextStep.ORDER:
            return message("order or trace before sending the rep")
        case NextStep.ORDER_THE_REST if without:
            return message("order or trace the rest; the rep can go without")
        case NextStep.ORDER_THE_REST:
            return message("order or trace the rest before sending the rep")
        case NextStep.HOLD_OR_DO_WITHOUT:
            return message("not sure to be there before the visit; hold it, or do without")
        case _:
            return message("ask the store to open the outer box")


def _taken_care_of(gap: Text, decided: DispatchRow) -> Text:
    """With how much of what is missing is taken care of, in brackets: ``(1 due by Tue 1 Dec, 1 done without)``."""
    coming = (CartonStatus.COMING_IN_TIME, CartonStatus.COMING_LATE)
    dues = [
        each.missing.followed.due
        for each in decided.outlooks
        if each.status in coming and each.missing.followed and each.missing.followed.due
    ]
    counts = Counter(each.status for each in decided.outlooks)
    undated, replaced = counts[CartonStatus.COMING_UNDATED], counts[CartonStatus.REPLACED]
    without, asked = counts[CartonStatus.DONE_WITHOUT], counts[CartonStatus.ASKED_FOR]
    due = plural(len(dues), "{number} due by {day}", "{number} due by {day}", day=Day(max(dues))) if dues else ""
    parts: tuple[Text, ...] = (
        due,
        plural(undated, "{number} on the way without a day", "{number} on the way without a day") if undated else "",
        plural(replaced, "{number} replaced", "{number} replaced") if replaced else "",
        plural(without, "{number} done without", "{number} done without") if without else "",
        plural(asked, "{number} asked for", "{number} asked for") if asked else "",
    )
    return message("{gap} ({details})", gap=gap, details=joined(*parts, separator=", ")) if any(parts) else gap


def _cartons(missing: Iterable[MissingCarton]) -> Message:
    found = list(missing)
    each = (message("{carton} ({kind})", carton=one.carton, kind=term(one.kind)) for one in found[:MOST_NAMED])
    named: Text = joined(*each, separator=", ")
    if len(found) > MOST_NAMED:
        named = message("{cartons} and {number} more", cartons=named, number=len(found) - MOST_NAMED)
    return plural(len(found), "carton {cartons}", "cartons {cartons}", cartons=named)


def _gap(row: ShipmentRow) -> Message:
    missing = plural(row.missing, "{number} missing", "{number} missing")
    inside = plural(row.inside, "{number} inside an unopened outer box", "{number} inside an unopened outer box")
    if row.missing and row.inside:
        return message("{missing} and {inside}", missing=missing, inside=inside)
    if row.missing or row.inside:
        return missing if row.missing else inside
    return message("nothing missing")


def _oddities(row: ShipmentRow) -> Text:
    others = max(0, row.to_check - row.questions - row.damaged)
    parts = (
        plural(row.extra, "{number} extra", "{number} extra") if row.extra else "",
        plural(row.questions, "{number} undecided", "{number} undecided") if row.questions else "",
        plural(row.damaged, "{number} damaged", "{number} damaged") if row.damaged else "",
        plural(others, "{number} to check", "{number} to check") if others else "",
    )
    return joined(*parts, separator=", ")


def _because(statement: Message, visit: VisitDecided | None) -> Text:
    return _remarked(statement, visit.remark.rstrip(".")) if visit else statement


def _remarked(statement: Message, remark: str) -> Message:
    return message("{statement} ({remark})", statement=statement, remark=remark) if remark else statement


def _when(decided: DispatchRow) -> Text:
    days = decided.days_to_visit
    if decided.urgency is Urgency.HOLD_ENDED:
        return ""
    if days is None:
        return message("No visit is planned.")
    if days == 0:
        return message("The visit is today.")
    if days == 1:
        return message("The visit is tomorrow.")
    return plural(days, "The visit is in {number} day.", "The visit is in {number} days.")


def follow_up_words(step: FollowUp) -> Message:
    """A step as a choice on the page."""
    return {
        FollowUp.ON_ITS_WAY: message("Found, on its way"),
        FollowUp.SENT_AGAIN: message("Sent again"),
        FollowUp.NOT_COMING: message("Will not come"),
        FollowUp.DONE_WITHOUT: message("Do without"),
    }[step]


def name_words(name: str) -> Text:
    """What a list calls a carton's contents, a kit or a lane; a name that a manifest gave is said as it is.

    >>> str(name_words('{"kind":"tray","lines":[["TRAY-1",2,"Oak",3,1]]}'))
    'tray: 2 × TRAY-1 for Oak, column 3, row 1'
    """
    facts: Mapping[str, Any] = dispatch.facts_of(name)
    if "kind" in facts:
        return _contents(facts)
    if "mark" in facts:
        return _kit(facts)
    return _lane(facts) if "region" in facts else name


def _contents(facts: Mapping[str, Any]) -> Text:
    kind = term(CartonKind(facts["kind"]))
    lines = joined(*(_line(*line) for line in facts["lines"]), separator="; ")
    return message("{kind}: {lines}", kind=kind, lines=lines) if facts["lines"] else kind


def _line(item: str, qty: int, section: str, column: int, row: int) -> Message:
    place: Text = section or message("any place")
    if column:
        place = address_words(Address(section, column, row))
    return message("{qty} × {item} for {place}", qty=qty, item=item, place=place)


def _kit(facts: Mapping[str, Any]) -> Message:
    return plural(
        facts["cartons"],
        "{sections}, {number} carton ({mark})",
        "{sections}, {number} cartons ({mark})",
        sections=joined(*facts["sections"], separator=", ") if facts["sections"] else message("no section"),
        mark=facts["mark"],
    )


def _lane(facts: Mapping[str, Any]) -> Message:
    shipper: Text = facts["shipper"] or message("shipper not named")
    region: Text = facts["region"] or message("region not known")
    if facts["carrier"]:
        return message("{shipper} to {region} by {carrier}", shipper=shipper, region=region, carrier=facts["carrier"])
    return message("{shipper} to {region}", shipper=shipper, region=region)
