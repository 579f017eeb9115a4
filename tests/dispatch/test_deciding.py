from dataclasses import replace
from datetime import UTC, date, datetime

import pytest

from receiving.dispatch import (
    CartonStatus,
    DispatchRow,
    NextStep,
    ShipmentRow,
    StoreDay,
    Urgency,
    WorkingCalendar,
    decide,
    for_today,
    missing_cartons,
)
from receiving.model import (
    Carton,
    CartonFinding,
    CartonKind,
    CartonState,
    FollowUp,
    Reconciliation,
    ShortageFollowed,
    VisitDecided,
)
from receiving.service import advice_words, missing_words
from tests.spoken import verbatim

TODAY = date(2026, 3, 2)
ROW = ShipmentRow(
    shipment="S-1",
    store="0417",
    planned_visit=date(2026, 3, 9),
    expected=10,
    here=10,
    inside=0,
    missing=0,
    extra=0,
    questions=0,
    damaged=0,
    revision=1,
    last_read_at=datetime(2026, 3, 1, tzinfo=UTC),
    confirmed=False,
)
SHORT = replace(ROW, here=8, missing=2)


def on(row: ShipmentRow, today: date = TODAY, holidays: frozenset[date] = frozenset()) -> DispatchRow:
    return decide(row, StoreDay(today, calendar=WorkingCalendar(holidays)))


def order(*rows: ShipmentRow) -> list[str]:
    return [decided.row.shipment for decided in for_today(rows, lambda terms: StoreDay(TODAY))]


def test_the_short_shipment_with_the_nearest_visit_stands_first() -> None:
    rows = (
        replace(ROW, shipment="whole tomorrow", planned_visit=date(2026, 3, 3)),
        replace(SHORT, shipment="short in a month", planned_visit=date(2026, 4, 2)),
        replace(SHORT, shipment="short without a date", planned_visit=None),
        replace(SHORT, shipment="short in two days", planned_visit=date(2026, 3, 4)),
        replace(SHORT, shipment="visited last week", planned_visit=date(2026, 2, 23)),
        replace(ROW, shipment="extra today", extra=1, planned_visit=TODAY),
    )
    assert order(*rows) == [
        "short in two days",
        "short in a month",
        "short without a date",
        "extra today",
        "whole tomorrow",
        "visited last week",
    ]


@pytest.mark.parametrize(
    ("row", "urgency", "advice"),
    [
        (SHORT, Urgency.SHORT, "2 missing: order or trace before sending the rep. The visit is in 7 days."),
        (
            replace(ROW, here=0, missing=10, last_read_at=None),
            Urgency.UNSEEN,
            "Nobody has looked yet; ask the store to scan the cartons. The visit is in 7 days.",
        ),
        (ROW, Urgency.COMPLETE, "All here. The visit is in 7 days."),
        (
            replace(ROW, damaged=1, questions=2, planned_visit=date(2026, 3, 3)),
            Urgency.TO_DECIDE,
            "All expected cartons are here; look at 2 undecided, 1 damaged. The visit is tomorrow.",
        ),
        (replace(ROW, confirmed=True), Urgency.CLOSED, "The store has confirmed."),
        (
            replace(SHORT, planned_visit=date(2026, 3, 1)),
            Urgency.CLOSED,
            "The visit date has passed without a confirmation, 2 missing.",
        ),
        (replace(ROW, planned_visit=None), Urgency.COMPLETE, "All here. No visit is planned."),
    ],
)
def test_the_advice_says_what_to_do(row: ShipmentRow, urgency: Urgency, advice: str) -> None:
    decided = on(row)
    assert (decided.urgency, str(advice_words(decided))) == (urgency, advice)


VISIT = date(2026, 3, 9)
"""A Monday: what comes on the Friday before is in time."""
FRIDAY = date(2026, 3, 6)
NOW = datetime(2026, 3, 2, 9, tzinfo=UTC)
GO = VisitDecided("v", NOW, "Ada", go=True, remark="trays first", cartons=("01", "02"))


def followed(carton: str, step: FollowUp, due: date | None = None) -> ShortageFollowed:
    return ShortageFollowed(f"n-{carton}-{step}", NOW, "Ada", carton, step, due)


def short_of(
    *notes: ShortageFollowed,
    requested: dict[str, str] | None = None,
    replaced: tuple[str, ...] = (),
    kind: CartonKind = CartonKind.TAGS,
    blocked: dict[str, int] | None = None,
) -> ShipmentRow:
    found = tuple(CartonFinding(Carton(c, kind), CartonState.SHORT, verbatim("")) for c in ("01", "02"))
    missing = missing_cartons(
        Reconciliation("S-1", "0417", found),
        notes,
        requested=requested or {},
        replaced=replaced,
        blocked=blocked if blocked is not None else {"01": 3, "02": 1},
    )
    return replace(SHORT, followed=missing, positions=24, settable=20)


@pytest.mark.parametrize(
    ("row", "urgency", "advice"),
    [
        (
            short_of(followed("01", FollowUp.SENT_AGAIN, FRIDAY)),
            Urgency.SHORT,
            "2 missing, and 4 of 24 positions cannot be set (1 due by Fri 6 Mar): order or trace the rest before "
            "sending the rep. The visit is in 7 days.",
        ),
        (
            short_of(followed("01", FollowUp.SENT_AGAIN, FRIDAY), followed("02", FollowUp.DONE_WITHOUT)),
            Urgency.FOLLOWED,
            "2 missing (1 due by Fri 6 Mar, 1 done without): nothing that must hold the visit. The visit is in 7 days.",
        ),
        (
            short_of(followed("01", FollowUp.SENT_AGAIN, date(2026, 3, 10)), followed("02", FollowUp.ON_ITS_WAY)),
            Urgency.SHORT,
            "2 missing, and 4 of 24 positions cannot be set (1 due by Tue 10 Mar, 1 on the way without a day): not "
            "sure to be there before the visit; hold it, or do without. The visit is in 7 days.",
        ),
        (
            short_of(followed("01", FollowUp.ON_ITS_WAY, FRIDAY), followed("01", FollowUp.NOT_COMING)),
            Urgency.SHORT,
            "2 missing, and 4 of 24 positions cannot be set: order or trace before sending the rep. "
            "The visit is in 7 days.",
        ),
        (
            short_of(requested={"02": "R-0417-001"}),
            Urgency.SHORT,
            "2 missing, and 4 of 24 positions cannot be set (1 asked for): order or trace before sending the rep. "
            "The visit is in 7 days.",
        ),
        (
            replace(short_of(), visit=GO),
            Urgency.FOLLOWED,
            "2 missing; the rep goes all the same (trays first). The visit is in 7 days.",
        ),
        (
            replace(short_of(), visit=VisitDecided("v", NOW, "Ada", go=False, until=date(2026, 3, 16))),
            Urgency.SHORT,
            "The visit is held until Mon 16 Mar. 2 missing, and 4 of 24 positions cannot be set: order or trace before "
            "sending the rep. The visit is in 14 days.",
        ),
        (
            replace(ROW, visit=VisitDecided("v", NOW, "Ada", go=False)),
            Urgency.TO_DECIDE,
            "The visit is held. All here: the visit need not be held. The visit is in 7 days.",
        ),
        (
            replace(ROW, here=4, inside=6),
            Urgency.SHORT,
            "6 inside an unopened outer box: ask the store to open the outer box. The visit is in 7 days.",
        ),
    ],
)
def test_what_was_done_about_missing_cartons_changes_what_is_left_to_do(
    row: ShipmentRow, urgency: Urgency, advice: str
) -> None:
    decided = on(row)
    assert (str(advice_words(decided)), decided.urgency) == (advice, urgency)


def test_a_visit_that_is_short_stands_above_all_that_nobody_has_looked_at() -> None:
    unseen = [
        replace(ROW, shipment=f"unseen {n}", here=0, missing=10, last_read_at=None, planned_visit=date(2026, 3, 3))
        for n in range(47)
    ]
    done = replace(short_of(followed("01", FollowUp.DONE_WITHOUT), followed("02", FollowUp.DONE_WITHOUT)), shipment="f")
    assert order(*unseen, replace(SHORT, shipment="short", planned_visit=date(2026, 4, 1)), done)[0] == "short"


def test_a_missing_carton_says_the_last_that_was_done_about_it() -> None:
    notes = followed("01", FollowUp.ON_ITS_WAY), followed("01", FollowUp.SENT_AGAIN, VISIT)
    row = short_of(*notes, requested={"01": "R-1", "02": "R-1"})
    assert [str(missing_words(each)) for each in row.followed] == ["sent again, due Mon 9 Mar", "asked for on R-1"]


def test_a_store_that_confirms_with_a_shortage_before_the_visit_has_not_settled_it() -> None:
    decided = on(replace(short_of(), confirmed=True))
    assert decided.urgency is Urgency.SHORT
    assert str(advice_words(decided)).startswith(
        "The store has confirmed what came. 2 missing, and 4 of 24 positions cannot be set:"
    )
    resolved = replace(short_of(followed("01", FollowUp.DONE_WITHOUT), followed("02", FollowUp.DONE_WITHOUT)))
    assert on(replace(resolved, confirmed=True)).urgency is Urgency.FOLLOWED
    assert on(replace(ROW, confirmed=True)).urgency is Urgency.CLOSED


def test_what_was_due_and_is_not_here_is_an_alarm() -> None:
    row = replace(
        short_of(followed("01", FollowUp.SENT_AGAIN, date(2026, 2, 20)), followed("02", FollowUp.DONE_WITHOUT))
    )
    decided = on(row)
    assert (decided.urgency, decided.next_step) == (Urgency.OVERDUE, NextStep.CHASE)
    assert not decided.resolved
    assert str(advice_words(decided)).startswith(
        "Overdue: carton 01 (tags) was due Fri 20 Feb and is not here. 2 missing"
    )
    assert on(row, date(2026, 2, 20)).urgency is Urgency.FOLLOWED  # the day on which it is due is not over


@pytest.mark.parametrize(
    ("due", "status"),
    [
        (date(2026, 3, 6), CartonStatus.COMING_IN_TIME),
        (date(2026, 3, 7), CartonStatus.COMING_LATE),  # a Saturday: nothing is delivered before Monday
        (date(2026, 3, 8), CartonStatus.COMING_LATE),  # a Sunday
        (date(2026, 3, 9), CartonStatus.COMING_LATE),  # the day of the visit
    ],
)
def test_in_time_is_a_working_day_before_the_visit(due: date, status: CartonStatus) -> None:
    row = short_of(followed("01", FollowUp.SENT_AGAIN, due), followed("02", FollowUp.DONE_WITHOUT))
    decided = on(row)
    assert decided.outlooks[0].status is status
    assert decided.resolved is (status is CartonStatus.COMING_IN_TIME)
    assert decided.in_time_until == FRIDAY


def test_a_public_holiday_is_not_a_day_of_delivery() -> None:
    row = short_of(followed("01", FollowUp.SENT_AGAIN, FRIDAY), followed("02", FollowUp.DONE_WITHOUT))
    decided = on(row, holidays=frozenset({FRIDAY}))
    assert (decided.outlooks[0].status, decided.in_time_until) == (CartonStatus.COMING_LATE, date(2026, 3, 5))


def test_a_hold_that_has_run_out_is_to_decide() -> None:
    held = VisitDecided("v", NOW, "Ada", go=False, until=date(2026, 2, 27), remark="header is late")
    decided = on(replace(short_of(), visit=held))
    assert (decided.urgency, decided.next_step) == (Urgency.HOLD_ENDED, NextStep.DECIDE_AGAIN)
    assert str(advice_words(decided)) == (
        "The hold of the visit ended on Fri 27 Feb (header is late). "
        "2 missing: send the rep, or hold the visit until another day."
    )
    assert on(replace(ROW, planned_visit=date(2026, 2, 27), visit=VisitDecided("v", NOW, "A", go=False))).urgency is (
        Urgency.HOLD_ENDED
    )


def test_going_all_the_same_does_not_cover_a_carton_found_missing_later() -> None:
    go = VisitDecided("v", NOW, "Ada", go=True, cartons=("01",))
    decided = on(replace(short_of(), visit=go))
    assert [(each.covered, each.resolved) for each in decided.outlooks] == [(True, True), (False, False)]
    assert decided.urgency is Urgency.SHORT
    assert on(replace(short_of(), visit=replace(go, cartons=("01", "02")))).urgency is Urgency.FOLLOWED


def test_a_go_before_anybody_looked_holds_only_until_somebody_does() -> None:
    go = VisitDecided("v", NOW, "Ada", go=True)
    unseen = replace(ROW, here=0, missing=10, last_read_at=None, visit=go)
    assert on(unseen).urgency is Urgency.FOLLOWED
    assert str(advice_words(on(unseen))).startswith("Nobody has looked yet; the rep goes all the same.")
    assert on(replace(short_of(), visit=go)).urgency is Urgency.SHORT


def test_what_blocks_the_section_does_not_get_the_same_sentence_as_what_blocks_nothing() -> None:
    tags = str(advice_words(on(short_of(blocked={}))))
    parts = str(advice_words(on(short_of(kind=CartonKind.PARTS, blocked={}))))
    assert "2 missing, and nothing waits for them: order or trace; the rep can go without." in tags
    assert "2 missing, and a whole section waits for cartons 01 (parts), 02 (parts): order or trace before" in parts
    rows = [replace(short_of(blocked={}), shipment="tags"), replace(short_of(kind=CartonKind.PARTS), shipment="parts")]
    assert order(*rows) == ["parts", "tags"]


def test_a_carton_whose_replacement_is_here_is_settled() -> None:
    row = short_of(followed("02", FollowUp.DONE_WITHOUT), requested={"01": "R-0417-001"}, replaced=("01",))
    assert on(row).urgency is Urgency.FOLLOWED
    assert str(missing_words(row.followed[0])) == "its replacement is here, R-0417-001"


def test_a_replacement_is_not_asked_to_be_scanned_before_it_can_be_there() -> None:
    new = replace(ROW, here=0, missing=3, last_read_at=None, replaces=("S-1",), due=FRIDAY)
    assert (on(new).urgency, on(new).next_step) == (Urgency.AWAITED, NextStep.AWAIT)
    assert str(advice_words(on(new))) == (
        "A replacement that was asked for, due by Fri 6 Mar; nothing to scan before it comes. The visit is in 7 days."
    )
    late = on(replace(new, due=date(2026, 2, 26)))
    assert late.urgency is Urgency.OVERDUE
    assert "A replacement that was due Thu 26 Feb and is not here: find out where it is." in str(advice_words(late))
