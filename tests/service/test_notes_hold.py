"""No note that can be sent takes a shipment or a list with it, and an undo holds whatever the clock does."""

from datetime import UTC, datetime, timedelta

import pytest

from receiving import service
from receiving.errors import BadRequest
from receiving.model import PhotoReading, Place
from tests.planned_reader import PlannedReader
from tests.service.conftest import picture


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("noted_at", "2026-03-02T09:00:00"),
        ("noted_at", "0001-01-01T00:00:00+14:00"),
        ("noted_at", "9999-12-31T23:59:59-12:00"),
        ("note_id", "1"),
        ("action_id", "1"),
        ("seq", "1"),
        ("along", "03"),
        ("ctx", "x"),
        ("found", "x"),
        ("fields", "x"),
        ("qty", "2"),
    ],
)
def test_a_note_takes_only_what_a_person_may_say(ctx: service.Context, field: str, value: str) -> None:
    with pytest.raises(BadRequest, match=f"A carton_seen note has no field '{field}'"):
        service.add_notes(ctx, "S-1", "carton_seen", [{"carton": "02", field: value}], by="Ada")
    assert service.get_shipment(ctx, "S-1").notes == ()
    assert len(service.get_overview(ctx)) == 2


@pytest.mark.parametrize(
    ("kind", "fields", "message"),
    [
        ("damage_noted", {"reason": "arrived_damaged", "usable": "false", "qty": "0"}, "quantity 0 is not from 1 to"),
        ("damage_noted", {"reason": "arrived_damaged", "usable": "false", "qty": "1" * 30}, "quantity 1"),
        (
            "damage_noted",
            {"reason": "arrived_damaged", "usable": "false", "column": "0", "row": "1"},
            "column 0 is not",
        ),
        ("content_counted", {"qty": "-1"}, "quantity -1 is not from 0 to"),
        ("content_counted", {"qty": "1e400"}, "This note cannot be kept"),
        ("carton_moved", {"bay": "B1", "trip": "0"}, "trip 0 is not from 1 to"),
        ("staging_changed", {"trip": "-4"}, "trip -4 is not from 1 to"),
        ("shortage_followed", {"step": "on_its_way", "due": "9999-12-31"}, "day 9999-12-31 is not from 2000 to 2199"),
        ("damage_noted", {"reason": "arrived_damaged", "usable": "false", "photo": "../../etc"}, "photo '../../etc'"),
        (
            "damage_noted",
            {"reason": "arrived_damaged", "usable": "false", "photo": "ab" * 32},
            "no photo 'abababababab",
        ),
    ],
)
def test_a_quantity_a_place_a_day_and_a_photo_are_checked(
    ctx: service.Context, kind: str, fields: dict[str, str], message: str
) -> None:
    with pytest.raises(BadRequest) as fault:
        service.add_note(ctx, "S-1", kind, by="Ada", carton="02", **fields)
    assert message in str(fault.value)
    assert service.get_shipment(ctx, "S-1").notes == ()


def test_a_photo_of_the_shipment_may_show_damage(ctx: service.Context, reader: PlannedReader) -> None:
    reader.readings["a.png"] = PhotoReading(40, 30, ())
    row = service.add_photo(ctx, "S-1", "a.png", picture(), place=Place.DOCK, by="Ada")
    service.finish_photos(ctx)
    said = {"carton": "02", "reason": "arrived_damaged", "usable": "false", "photo": row.photo}
    service.add_note(ctx, "S-1", "damage_noted", by="Ada", **said)
    assert len(service.get_shipment(ctx, "S-1").notes) == 1


def clock_back(ctx: service.Context) -> None:
    """The machine's clock is set five hours back, and goes on from there."""
    later = ctx.now
    ctx.now = lambda: later() - timedelta(hours=5)


def test_an_undo_holds_after_the_clock_was_set_back(ctx: service.Context) -> None:
    said = service.add_note(ctx, "S-1", "carton_seen", by="Ada", carton="02")
    clock_back(ctx)
    service.add_note(ctx, "S-1", "note_withdrawn", by="Ada", withdrawn=said.note_id)
    assert service.get_shipment(ctx, "S-1").row.here == 0


def test_what_was_undone_and_then_brought_back_counts_after_the_clock_was_set_back(ctx: service.Context) -> None:
    said = service.add_note(ctx, "S-1", "carton_seen", by="Ada", carton="02")
    undo = service.add_note(ctx, "S-1", "note_withdrawn", by="Ada", withdrawn=said.note_id)
    clock_back(ctx)
    service.add_note(ctx, "S-1", "note_withdrawn", by="Ada", withdrawn=undo.note_id)
    assert service.get_shipment(ctx, "S-1").row.here == 1


def test_a_visit_that_is_sent_is_no_longer_held_after_the_clock_was_set_back(ctx: service.Context) -> None:
    service.add_note(ctx, "S-1", "visit_decided", by="Ada", go="false")
    assert service.get_shipment(ctx, "S-1").row.held
    clock_back(ctx)
    service.add_note(ctx, "S-1", "visit_decided", by="Ada", go="true")
    assert not service.get_shipment(ctx, "S-1").row.held


def test_the_last_place_said_holds_after_the_clock_was_set_back(ctx: service.Context) -> None:
    service.add_note(ctx, "S-1", "carton_seen", by="Ada", carton="02")
    service.add_note(ctx, "S-1", "carton_place", by="Ada", carton="02", place="overhead")
    clock_back(ctx)
    service.add_note(ctx, "S-1", "carton_place", by="Ada", carton="02", place="back_room")
    (here,) = service.get_shipment(ctx, "S-1").reconciliation.received
    assert here.place is Place.BACK_ROOM


def test_the_last_move_holds_in_the_plan_after_the_clock_was_set_back(ctx: service.Context) -> None:
    service.add_note(ctx, "S-1", "carton_seen", by="Ada", carton="02")
    service.add_note(ctx, "S-1", "carton_moved", by="Ada", carton="02", bay="B1")
    assert [bay.moved for bay in service.get_shipment(ctx, "S-1").plan.bays] == [("02",)]
    clock_back(ctx)
    service.add_note(ctx, "S-1", "carton_moved", by="Ada", carton="02")
    assert [bay.moved for bay in service.get_shipment(ctx, "S-1").plan.bays] == [()]


def test_a_clock_that_is_years_off_is_refused_before_anything_is_stored(ctx: service.Context) -> None:
    ctx.now = lambda: datetime(1970, 1, 1, tzinfo=UTC)
    with pytest.raises(BadRequest, match=r"time 1970-01-01T00:00:00\+00:00 is not from 2000 to 2199"):
        service.add_note(ctx, "S-1", "carton_seen", by="Ada", carton="02")
