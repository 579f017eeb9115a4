from dataclasses import replace
from datetime import UTC, date, datetime

import pytest

from receiving.dispatch import ShipmentRow, Urgency, for_today, missing_cartons
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

TODAY = date(2026, 3, 2)
ROW = ShipmentRow(
    shipment="S-1",
    store="0417",
    dispatch_date=date(2026, 3, 9),
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


def order(*rows: ShipmentRow) -> list[str]:
    return [decided.row.shipment for decided in for_today(rows, TODAY)]


def test_the_short_shipment_with_the_nearest_visit_stands_first() -> None:
    rows = (
        replace(ROW, shipment="whole tomorrow", dispatch_date=date(2026, 3, 3)),
        replace(SHORT, shipment="short in a month", dispatch_date=date(2026, 4, 2)),
        replace(SHORT, shipment="short without a date", dispatch_date=None),
        replace(SHORT, shipment="short in two days", dispatch_date=date(2026, 3, 4)),
        replace(SHORT, shipment="visited last week", dispatch_date=date(2026, 2, 23)),
        replace(ROW, shipment="extra today", extra=1, dispatch_date=TODAY),
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
            replace(ROW, damaged=1, questions=2, dispatch_date=date(2026, 3, 3)),
            Urgency.TO_DECIDE,
            "All expected cartons are here; look at 2 undecided, 1 damaged. The visit is tomorrow.",
        ),
        (replace(ROW, confirmed=True), Urgency.VISITED, "The store has confirmed."),
        (
            replace(SHORT, dispatch_date=date(2026, 3, 1)),
            Urgency.VISITED,
            "The visit date has passed without a confirmation, 2 missing.",
        ),
        (replace(ROW, dispatch_date=None), Urgency.COMPLETE, "All here. No visit is planned."),
    ],
)
def test_the_advice_says_what_to_do(row: ShipmentRow, urgency: Urgency, advice: str) -> None:
    (decided,) = for_today([row], TODAY)
    assert (decided.urgency, decided.advice) == (urgency, advice)


VISIT = date(2026, 3, 9)
NOW = datetime(2026, 3, 2, 9, tzinfo=UTC)


def followed(carton: str, step: FollowUp, due: date | None = None) -> ShortageFollowed:
    return ShortageFollowed(f"n-{carton}-{step}", NOW, "Ada", carton, step, due)


def short_of(*notes: ShortageFollowed, requested: dict[str, str] | None = None) -> ShipmentRow:
    found = tuple(CartonFinding(Carton(c, CartonKind.TRAY), CartonState.SHORT, "") for c in ("01", "02"))
    missing = missing_cartons(Reconciliation("S-1", "0417", found), notes, visit_date=VISIT, requested=requested or {})
    return replace(SHORT, followed=missing)


@pytest.mark.parametrize(
    ("row", "urgency", "advice"),
    [
        (
            short_of(followed("01", FollowUp.SENT_AGAIN, VISIT)),
            Urgency.SHORT,
            "2 missing (1 due by Mon 9 Mar): order or trace the rest before sending the rep. The visit is in 7 days.",
        ),
        (
            short_of(followed("01", FollowUp.SENT_AGAIN, VISIT), followed("02", FollowUp.DONE_WITHOUT)),
            Urgency.FOLLOWED,
            "2 missing (1 due by Mon 9 Mar, 1 done without): nothing that must hold the visit. The visit is in 7 days.",
        ),
        (
            short_of(followed("01", FollowUp.SENT_AGAIN, date(2026, 3, 10)), followed("02", FollowUp.ON_ITS_WAY)),
            Urgency.SHORT,
            "2 missing (1 due by Tue 10 Mar, 1 on the way without a day): not sure to be there by the visit; "
            "hold it, or do without. The visit is in 7 days.",
        ),
        (
            short_of(followed("01", FollowUp.ON_ITS_WAY, VISIT), followed("01", FollowUp.NOT_COMING)),
            Urgency.SHORT,
            "2 missing: order or trace before sending the rep. The visit is in 7 days.",
        ),
        (
            short_of(requested={"02": "R-0417-001"}),
            Urgency.SHORT,
            "2 missing (1 asked for): order or trace before sending the rep. The visit is in 7 days.",
        ),
        (
            replace(short_of(), visit=VisitDecided("v", NOW, "Ada", go=True, remark="trays first")),
            Urgency.FOLLOWED,
            "2 missing; the rep goes all the same (trays first). The visit is in 7 days.",
        ),
        (
            replace(short_of(), visit=VisitDecided("v", NOW, "Ada", go=False, until=date(2026, 3, 16))),
            Urgency.SHORT,
            "The visit is held until Mon 16 Mar. 2 missing: order or trace before sending the rep. "
            "The visit is in 14 days.",
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
    (decided,) = for_today([row], TODAY)
    assert (decided.advice, decided.urgency) == (advice, urgency)


def test_a_shipment_that_nobody_saw_presses_as_one_that_is_short() -> None:
    unseen = replace(ROW, shipment="unseen", here=0, missing=10, last_read_at=None, dispatch_date=date(2026, 3, 4))
    done = replace(short_of(followed("01", FollowUp.DONE_WITHOUT), followed("02", FollowUp.DONE_WITHOUT)), shipment="f")
    assert order(replace(SHORT, shipment="short"), done, unseen) == ["unseen", "short", "f"]


def test_a_missing_carton_says_the_last_that_was_done_about_it() -> None:
    notes = followed("01", FollowUp.ON_ITS_WAY), followed("01", FollowUp.SENT_AGAIN, VISIT)
    row = short_of(*notes, requested={"01": "R-1", "02": "R-1"})
    assert [each.words for each in row.followed] == ["sent again, due Mon 9 Mar", "asked for on R-1"]
