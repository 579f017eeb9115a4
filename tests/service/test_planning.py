"""Plans made when somebody looks: never on the way of a scan, one at a time of a shipment, kept by their inputs."""

import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from receiving import service
from receiving.errors import WorkStopped
from receiving.model import Place, Source
from receiving.service import planning
from receiving.service.planning import PlannerAway, PlannerHere, Progress
from receiving.workers import Limits
from tests.planned_reader import PlannedReader
from tests.web.scenario import SHIPMENT, open_desk


class NoPlanner(PlannerHere):
    """A planner that nobody may ask."""

    def wait(self, inputs: planning.PlanInputs) -> object:
        raise AssertionError("a plan was made")


@pytest.fixture
def away(tmp_path: Path) -> Iterator[service.Context]:
    with open_desk(tmp_path, PlannedReader()) as ctx:
        ctx.planner = PlannerAway()
        yield ctx


def scan(ctx: service.Context, text: str) -> service.ScanAnswer:
    return service.add_scan(ctx, SHIPMENT, text, place=Place.DOCK, by="Ana", source=Source.SCANNER)


def code_of(ctx: service.Context, number: int) -> str:
    carton = service.get_shipment(ctx, SHIPMENT).manifest.cartons[number]
    return f"]C100{carton.sscc}" if carton.sscc else carton.barcode


def ready(ctx: service.Context) -> service.ShipmentView:
    end = time.monotonic() + 60
    while (view := service.get_shipment(ctx, SHIPMENT)).planned.progress is Progress.WORKING:
        assert time.monotonic() < end
        time.sleep(0.05)
    return view


def test_a_scan_is_answered_without_a_plan_and_names_the_bay_by_rule(tmp_path: Path) -> None:
    with open_desk(tmp_path, PlannedReader()) as ctx:
        code = code_of(ctx, 1)
        before = scan(ctx, code)
        planned = service.get_shipment(ctx, SHIPMENT).plan
        ctx.planner = NoPlanner()
        after = scan(ctx, code)
    assert before.carton and before.bay
    assert (after.carton, after.bay) == (before.carton, before.bay)
    assert planned.bays


def test_a_plan_is_begun_when_somebody_looks_and_the_version_follows_it(away: service.Context) -> None:
    scan(away, code_of(away, 1))
    first = service.get_shipment(away, SHIPMENT)
    assert first.planned.progress is Progress.WORKING
    assert first.plan.bays and not first.plan.trips
    view = ready(away)
    assert view.plan.trips
    assert first.version != service.get_version(away, SHIPMENT) == view.version
    assert view.plan == PlannerHere().wait(view.found.plan_inputs)


def test_nobody_looks_and_no_plan_is_made(away: service.Context) -> None:
    scan(away, code_of(away, 1))
    service.get_overview(away)
    assert service.get_version(away, SHIPMENT).endswith(".0")
    assert away.planner.last(SHIPMENT) is None


def test_another_read_of_a_carton_that_is_here_keeps_the_plan(away: service.Context) -> None:
    scan(away, code_of(away, 1))
    ready(away)
    scan(away, code_of(away, 1))
    assert service.get_shipment(away, SHIPMENT).planned.progress is Progress.READY
    scan(away, code_of(away, 2))
    assert service.get_shipment(away, SHIPMENT).planned.progress is Progress.WORKING


def test_newer_inputs_end_the_plan_in_work(away: service.Context, monkeypatch: pytest.MonkeyPatch) -> None:
    scan(away, code_of(away, 1))
    older = service.get_shipment(away, SHIPMENT)
    scan(away, code_of(away, 2))
    newer = service.get_shipment(away, SHIPMENT)
    assert older.planned.progress is newer.planned.progress is Progress.WORKING
    assert {c for trip in away.planner.wait(newer.found.plan_inputs).trips for c in trip.cartons}
    assert service.get_version(away, SHIPMENT).endswith(".1")


def test_a_plan_that_fails_says_so_and_the_rest_stays(tmp_path: Path) -> None:
    with open_desk(tmp_path, PlannedReader()) as ctx:
        ctx.planner = PlannerAway(limits=Limits(wall_s=0.001))
        scan(ctx, code_of(ctx, 1))
        view = ready(ctx)
        assert view.planned.progress is Progress.FAILED
        assert "could not be worked out" in str(view.planned.fault)
        assert view.plan.bays
        with pytest.raises(WorkStopped):
            service.make_plan_pdf(ctx, SHIPMENT)


def test_paper_and_costs_wait_for_the_plan(away: service.Context) -> None:
    answer = scan(away, code_of(away, 1))
    assert service.make_plan_pdf(away, SHIPMENT).startswith(b"%PDF")
    cost = service.work_out_change_cost(away, SHIPMENT, answer.carton, trip="2", by="Ana").cost
    assert cost.words


def test_what_rode_along_follows_from_the_plan_that_was_shown(away: service.Context) -> None:
    for number in (1, 2, 3):
        scan(away, code_of(away, number))
    trip = ready(away).plan.trips[0]
    carton = trip.cartons[0]
    note = service.add_note(away, SHIPMENT, "carton_moved", by="Ana", carton=carton, bay=trip.stops[0], trip=trip.trip)
    assert set(note.along) == set(trip.cartons) - {carton}
