"""Plans made when somebody looks: never on the way of a scan, one at a time of a shipment, kept by their inputs.

The kit's new places go into manifests that were imported before: seen first, all or none, and undone by revision.

What was worked out is kept while it is true, and no more of it than was said.
"""

import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from receiving import service
from receiving.errors import BadRequest, Conflict, WorkStopped
from receiving.model import Address, Place, Source
from receiving.service import planning
from receiving.service.context import Context
from receiving.service.planning import Cache, PlannerAway, PlannerHere, Progress
from receiving.service.snapshot import snapshot
from receiving.workers import Limits
from tests.planned_reader import PlannedReader
from tests.web.scenario import SHIPMENT, open_context


class NoPlanner(PlannerHere):
    """A planner that nobody may ask."""

    def wait(self, inputs: planning.PlanInputs) -> object:
        raise AssertionError("a plan was made")


@pytest.fixture
def away(tmp_path: Path) -> Iterator[service.Context]:
    with open_context(tmp_path, PlannedReader()) as ctx:
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
    with open_context(tmp_path, PlannedReader()) as ctx:
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
    with open_context(tmp_path, PlannedReader()) as ctx:
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


KIT = "item,section,column,row\nT-1,Harbor,5,1\nT-2,Harbor,2,1\n"


def with_kit(ctx: service.Context, text: str = KIT) -> service.KitMoves:
    service.save_text(ctx, service.KIT, "kit", text, follows=len(service.list_text_versions(ctx, service.KIT)))
    return service.preview_kit_moves(ctx)


def test_without_a_kit_nothing_moves(ctx: service.Context) -> None:
    assert service.preview_kit_moves(ctx).moves == ()


def test_an_item_with_one_place_goes_there_in_every_shipment(ctx: service.Context) -> None:
    found = with_kit(ctx)
    assert [(move.shipment, move.store, move.follows) for move in found.moves] == [
        ("S-1", "0417", 1),
        ("S-2", "0422", 1),
    ]
    assert tuple(map(str, found.moves[0].changes)) == (
        "Carton 02 changed: no longer holds 1 of T-1 for Harbor, column 1, row 1; "
        "now holds 1 of T-1 for Harbor, column 5, row 1.",
    )
    assert service.apply_kit_moves(ctx, ["S-1", "S-2"], seen=found.seen) == 2
    for shipment, carton in (("S-1", "02"), ("S-2", "09")):
        manifest, revision = service.get_manifest(ctx, shipment)
        assert (revision, manifest.find(carton).addresses) == (2, (Address("Harbor", 5, 1),))
    assert service.preview_kit_moves(ctx).moves == ()
    service.restore_revision(ctx, "S-1", 1)
    assert service.get_manifest(ctx, "S-1")[0].find("02").addresses == (Address("Harbor", 1, 1),)


def test_shipments_that_were_not_chosen_stay(ctx: service.Context) -> None:
    found = with_kit(ctx)
    assert service.apply_kit_moves(ctx, ["S-2"], seen=found.seen) == 1
    assert service.get_manifest(ctx, "S-1")[1] == 1


def test_an_item_with_several_places_is_left_to_a_person(ctx: service.Context) -> None:
    found = with_kit(ctx, KIT + "T-1,Harbor,6,1\n")
    assert found.moves[0].changes == ()
    (unclear,) = map(str, found.moves[0].unclear)
    assert unclear == "Carton 02: T-1 hangs in 2 places of the kit, not at Harbor, column 1, row 1."
    with pytest.raises(BadRequest, match="moves nothing in shipment 'S-1'"):
        service.apply_kit_moves(ctx, ["S-1"], seen=found.seen)
    assert with_kit(ctx, KIT + "T-1,Harbor,1,1\n").moves == ()


def test_what_was_not_seen_is_not_stored(ctx: service.Context) -> None:
    found = with_kit(ctx)
    with_kit(ctx, KIT.replace("5,1", "4,1"))
    with pytest.raises(Conflict, match="changed since you looked"):
        service.apply_kit_moves(ctx, ["S-1"], seen=found.seen)
    assert service.get_manifest(ctx, "S-1")[1] == 1


@pytest.mark.parametrize(("chosen", "words"), [([], "No shipment was chosen"), (["S-9"], "nothing in shipment 'S-9'")])
def test_a_choice_that_moves_nothing_is_named(ctx: service.Context, chosen: list[str], words: str) -> None:
    found = with_kit(ctx)
    with pytest.raises(BadRequest, match=words):
        service.apply_kit_moves(ctx, chosen, seen=found.seen)


def test_a_value_is_kept_for_its_version_alone() -> None:
    kept: Cache[str] = Cache(2)
    kept.put("S-1", "1", "one")
    assert kept.get("S-1", "1") == "one"
    assert kept.get("S-1", "2") is None
    assert kept.get("S-2", "1") is None


def test_what_was_not_asked_for_longest_goes_first() -> None:
    kept: Cache[str] = Cache(2)
    for name in ("S-1", "S-2"):
        kept.put(name, "1", name)
    assert kept.get("S-1", "1") == "S-1"
    kept.put("S-3", "1", "S-3")
    assert [kept.get(name, "1") for name in ("S-1", "S-2", "S-3")] == ["S-1", None, "S-3"]
    assert len(kept) == 2


def test_one_more_read_leaves_every_other_shipment_as_it_was_worked_out(ctx: Context) -> None:
    def worked_out() -> dict[str, object]:
        with ctx.store() as store:
            return {record.shipment: snapshot(ctx, store, record) for record in store.shipments()}

    before = worked_out()
    service.add_scan(ctx, "S-1", "00395200000000000012", place=Place.DOCK, by="Ana", source=Source.SCANNER)
    after = worked_out()
    assert after["S-1"] is not before["S-1"]
    assert after["S-2"] is before["S-2"]


def test_the_list_follows_what_is_stored(ctx: Context) -> None:
    assert [row.here for row in service.list_shipments(ctx)] == [0, 0]
    service.add_scan(ctx, "S-1", "00395200000000000012", place=Place.DOCK, by="Ana", source=Source.SCANNER)
    assert {row.shipment: row.here for row in service.list_shipments(ctx)} == {"S-1": 1, "S-2": 0}
    service.add_note(ctx, "S-2", "carton_seen", by="Ana", carton="09")
    assert {row.shipment: row.here for row in service.list_shipments(ctx)} == {"S-1": 1, "S-2": 1}
