"""What dispatch decides, in words: the one place for the page, the command and the CSV."""

from collections.abc import Iterable
from datetime import date

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
from receiving.model import FollowUp, ShortageFollowed, VisitDecided

MOST_NAMED = 3

URGENCY_WORDS = {
    Urgency.OVERDUE: "Overdue",
    Urgency.SHORT: "Short",
    Urgency.HOLD_ENDED: "Hold has ended",
    Urgency.UNSEEN: "Not seen yet",
    Urgency.FOLLOWED: "Followed up",
    Urgency.TO_DECIDE: "To decide",
    Urgency.AWAITED: "On its way",
    Urgency.COMPLETE: "Complete",
    Urgency.CLOSED: "Closed",
}


def advice_words(decided: DispatchRow) -> str:
    """What to do about a shipment, in sentences."""
    row = decided.row
    if decided.urgency is Urgency.CLOSED:
        return _after_the_visit(row, decided.days_to_visit)
    parts = (_held(decided), _confirmed(row), _what_to_do(decided), _when(decided))
    return " ".join(part for part in parts if part)


def day_words(day: date | None) -> str:
    """A day as a person reads it.

    >>> day_words(date(2026, 12, 1))
    'Tue 1 Dec'
    """
    return f"{day:%a} {day.day} {day:%b}" if day else ""


def step_words(followed: ShortageFollowed) -> str:
    """What is done about a missing carton, and by when it is due."""
    due = f", due {day_words(followed.due)}" if followed.due else ""
    return f"{followed.step.words}{due}"


def held_words(visit: VisitDecided) -> str:
    """That a visit is held, and until when."""
    until = f" until {day_words(visit.until)}" if visit.until else ""
    return f"The visit is held{until}"


def missing_words(missing: MissingCarton) -> str:
    """What is done about a missing carton, empty where nothing is."""
    if missing.replaced:
        return f"its replacement is here, {missing.request}"
    if missing.followed is None:
        return f"asked for on {missing.request}" if missing.request else ""
    remark = f" ({missing.followed.remark})" if missing.followed.remark else ""
    return f"{step_words(missing.followed)}{remark}"


def outlook_words(outlook: CartonOutlook) -> str:
    """What is done about a missing carton, and whether that helps the visit."""
    comes = {
        CartonStatus.OVERDUE: "overdue",
        CartonStatus.COMING_LATE: "not before the visit",
        CartonStatus.COMING_UNDATED: "no day known",
    }
    covered = "the rep goes without it" if outlook.covered else ""
    return ", ".join(part for part in (missing_words(outlook.missing), comes.get(outlook.status, ""), covered) if part)


def weight_words(missing: MissingCarton, positions: int) -> str:
    """What waits for a missing carton; ``positions`` are all of the planogram."""
    match missing.weight:
        case Weight.SECTION:
            return "a whole section cannot be set without it"
        case Weight.POSITIONS:
            return f"{missing.positions} of {positions} positions cannot be set without it"
        case _:
            return "no position needs it"


def _after_the_visit(row: ShipmentRow, days: int | None) -> str:
    if row.confirmed:
        return "The store has confirmed." if not row.short else f"The store has confirmed, {_gap(row)}."
    if row.short:
        return f"The visit date has passed without a confirmation, {_gap(row)}."
    return "The visit date has passed; ask the store to confirm."


def _held(decided: DispatchRow) -> str:
    visit = decided.row.visit
    if visit is None or visit.go:
        return ""
    if decided.urgency is Urgency.HOLD_ENDED:
        until = f" on {day_words(decided.row.visit_date)}" if decided.row.visit_date else ""
        return f"The hold of the visit ended{until}{_because(visit)}."
    return f"{held_words(visit)}{_because(visit)}."


def _confirmed(row: ShipmentRow) -> str:
    return "The store has confirmed what came." if row.confirmed and row.short else ""


def _what_to_do(decided: DispatchRow) -> str:
    row = decided.row
    match decided.urgency:
        case Urgency.OVERDUE | Urgency.SHORT:
            return _shortage(decided)
        case Urgency.HOLD_ENDED:
            gap = f"{_gap(row).capitalize()}" if row.short else "All here"
            return f"{gap}: send the rep, or hold the visit until another day."
        case Urgency.UNSEEN:
            came = f"Delivered on {day_words(row.delivered)} and not counted" if row.delivered else "Nobody has looked"
            return f"{came} yet; ask the store to scan the cartons."
        case Urgency.FOLLOWED:
            return _followed(decided)
        case Urgency.TO_DECIDE if decided.next_step is NextStep.END_THE_HOLD:
            return "All here: the visit need not be held."
        case Urgency.TO_DECIDE:
            return f"All expected cartons are here; look at {_oddities(row)}."
        case Urgency.AWAITED:
            return f"A replacement that was asked for{_by_day(row.due)}; nothing to scan before it comes."
        case _:
            return "All here."


def _shortage(decided: DispatchRow) -> str:
    row = decided.row
    if row.replaces and not row.looked_at:
        return f"A replacement that was due {day_words(row.due)} and is not here: find out where it is."
    overdue = [each for each in decided.outlooks if each.status is CartonStatus.OVERDUE and not each.settled]
    alarm = f"{_overdue(overdue)} " if overdue else ""
    gap = f"{_gap(row).capitalize()}{_waiting(decided)}{_taken_care_of(decided)}"
    return f"{alarm}{gap}: {_step(decided)}."


def _overdue(outlooks: list[CartonOutlook]) -> str:
    days = {each.missing.followed.due for each in outlooks if each.missing.followed}
    due = f" {day_words(next(iter(days)))}" if len(days) == 1 else ""
    were = "was" if len(outlooks) == 1 else "were"
    return f"Overdue: {_cartons(each.missing for each in outlooks)} {were} due{due} and {_be(outlooks)} not here."


def _be(outlooks: list[CartonOutlook]) -> str:
    return "is" if len(outlooks) == 1 else "are"


def _followed(decided: DispatchRow) -> str:
    row = decided.row
    if not row.looked_at:
        return f"Nobody has looked yet; the rep goes all the same{_because(row.visit)}."
    gap = f"{_gap(row).capitalize()}{_taken_care_of(decided)}"
    if any(each.covered for each in decided.outlooks) or (row.inside and row.inside_covered):
        return f"{gap}; the rep goes all the same{_because(row.visit)}."
    return f"{gap}: nothing that must hold the visit."


def _waiting(decided: DispatchRow) -> str:
    """What waits for what may hold the visit: the whole section, some positions, or nothing."""
    unsettled = decided.unsettled
    blocking = [each for each in unsettled if each.weight is Weight.SECTION]
    if blocking:
        return f", and a whole section waits for {_cartons(blocking)}"
    row = decided.row
    waiting = row.positions - row.settable
    if any(each.positions for each in unsettled) and waiting:
        return f", and {waiting} of {row.positions} positions cannot be set"
    return f", and nothing waits for {'it' if row.missing == 1 else 'them'}" if _can_follow(decided) else ""


def _can_follow(decided: DispatchRow) -> bool:
    unsettled = decided.unsettled
    return bool(unsettled) and not decided.row.inside and all(each.weight is Weight.NOTHING for each in unsettled)


def _step(decided: DispatchRow) -> str:
    without = _can_follow(decided)
    match decided.next_step:
        case NextStep.CHASE:
            return "trace or order again" + ("; the rep can go without" if without else " before sending the rep")
        case NextStep.ORDER | NextStep.ORDER_THE_REST:
            rest = " the rest" if decided.next_step is NextStep.ORDER_THE_REST else ""
            return f"order or trace{rest}" + ("; the rep can go without" if without else " before sending the rep")
        case NextStep.HOLD_OR_DO_WITHOUT:
            return "not sure to be there before the visit; hold it, or do without"
        case _:
            return "ask the store to open the outer box"


def _taken_care_of(decided: DispatchRow) -> str:
    """How much of what is missing is taken care of, in brackets: ``" (1 due by Tue 1 Dec, 1 done without)"``."""
    coming = (CartonStatus.COMING_IN_TIME, CartonStatus.COMING_LATE)
    dues = [
        each.missing.followed.due
        for each in decided.outlooks
        if each.status in coming and each.missing.followed and each.missing.followed.due
    ]
    counted = {status: sum(each.status is status for each in decided.outlooks) for status in CartonStatus}
    parts = (
        f"{len(dues)} due by {day_words(max(dues))}" if dues else "",
        _some(counted[CartonStatus.COMING_UNDATED], "on the way without a day"),
        _some(counted[CartonStatus.REPLACED], "replaced"),
        _some(counted[CartonStatus.DONE_WITHOUT], "done without"),
        _some(counted[CartonStatus.ASKED_FOR], "asked for"),
    )
    named = ", ".join(part for part in parts if part)
    return f" ({named})" if named else ""


def _some(number: int, words: str) -> str:
    return f"{number} {words}" if number else ""


def _cartons(missing: Iterable[MissingCarton]) -> str:
    found = list(missing)
    named = [f"{each.carton} ({each.kind.words})" for each in found[:MOST_NAMED]]
    more = f" and {len(found) - MOST_NAMED} more" if len(found) > MOST_NAMED else ""
    return f"carton{'' if len(found) == 1 else 's'} {', '.join(named)}{more}"


def _gap(row: ShipmentRow) -> str:
    parts = [f"{row.missing} missing"] if row.missing else []
    parts += [f"{row.inside} inside an unopened outer box"] if row.inside else []
    return " and ".join(parts) or "nothing missing"


def _oddities(row: ShipmentRow) -> str:
    others = max(0, row.to_check - row.questions - row.damaged)
    named = ((row.extra, "extra"), (row.questions, "undecided"), (row.damaged, "damaged"), (others, "to check"))
    return ", ".join(f"{count} {word}" for count, word in named if count)


def _because(visit: VisitDecided | None) -> str:
    return f" ({visit.remark.rstrip('.')})" if visit and visit.remark else ""


def _by_day(day: date | None) -> str:
    return f", due by {day_words(day)}" if day else ""


def _when(decided: DispatchRow) -> str:
    days = decided.days_to_visit
    if decided.urgency is Urgency.HOLD_ENDED:
        return ""
    if days is None:
        return "No visit is planned."
    return {0: "The visit is today.", 1: "The visit is tomorrow."}.get(days, f"The visit is in {days} days.")


def follow_up_words(step: FollowUp) -> str:
    """A step as a choice on the page."""
    return {
        FollowUp.ON_ITS_WAY: "Found, on its way",
        FollowUp.SENT_AGAIN: "Sent again",
        FollowUp.NOT_COMING: "Will not come",
        FollowUp.DONE_WITHOUT: "Do without",
    }[step]
