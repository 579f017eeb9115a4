from datetime import UTC, datetime, timedelta
from pathlib import Path

from receiving import service
from receiving.commands.demo import DAYS_TO_VISIT, load_scenario
from tests.planned_reader import PlannedReader


def test_the_demo_keeps_its_visits_ahead_of_today_and_apart(tmp_path: Path) -> None:
    today = datetime(2031, 5, 6, 8, 0, tzinfo=UTC)
    with service.Desk(tmp_path, PlannedReader(), now=lambda: today) as desk:
        shipment = load_scenario(desk)
        visits = {row.shipment: row.planned_visit for row in service.shipments(desk)}
    assert visits.pop(shipment) == today.date() + timedelta(days=DAYS_TO_VISIT)
    assert set(visits.values()) == {today.date() + timedelta(days=DAYS_TO_VISIT + 5)}
