from dataclasses import replace
from datetime import UTC, date, datetime

import pytest

from receiving.dispatch import ShipmentRow, Urgency, for_today

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
            Urgency.SHORT,
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
