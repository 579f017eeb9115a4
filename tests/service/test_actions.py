"""An action sent again, because its answer was lost on the way, is answered again and not done again."""

import sqlite3
import threading

import pytest

from receiving import service
from receiving.errors import BadRequest, Conflict
from receiving.model import Receipt
from tests.receipts import confirm_with_shorts

ACTION = "6f1c2d2e-1111-4000-8000-000000000001"
CONTENT = {"shipment": "S-1", "kind": "carton_seen", "carton": "02"}


def see(ctx: service.Context, carton: str = "02") -> dict[str, str]:
    note = service.add_note(ctx, "S-1", "carton_seen", by="Ada", carton=carton)
    return {"note": note.note_id}


def test_the_same_action_again_gives_the_recorded_answer_and_runs_nothing(ctx: service.Context) -> None:
    first = service.run_once(ctx, ACTION, CONTENT, lambda: see(ctx), dict[str, str])
    again = service.run_once(ctx, ACTION, dict(reversed(CONTENT.items())), lambda: see(ctx), dict[str, str])
    assert first == again
    assert [note.note_id for note in service.get_shipment(ctx, "S-1").notes] == [first["note"]]


def test_the_same_action_with_other_content_is_refused_by_name(ctx: service.Context) -> None:
    service.run_once(ctx, ACTION, CONTENT, lambda: see(ctx), dict[str, str])
    with pytest.raises(Conflict, match=rf"The action {ACTION} was sent before with other content"):
        service.run_once(ctx, ACTION, {**CONTENT, "carton": "03"}, lambda: see(ctx, "03"), dict[str, str])
    assert len(service.get_shipment(ctx, "S-1").notes) == 1


def test_an_action_that_failed_may_be_sent_again(ctx: service.Context) -> None:
    with pytest.raises(BadRequest, match="Carton '77'"):
        service.run_once(ctx, ACTION, CONTENT, lambda: see(ctx, "77"), dict[str, str])
    service.run_once(ctx, ACTION, CONTENT, lambda: see(ctx), dict[str, str])
    assert len(service.get_shipment(ctx, "S-1").notes) == 1


def test_an_answer_may_be_any_value_of_the_model(ctx: service.Context) -> None:
    digest = service.show_receipt(ctx, "S-1").digest

    def confirm() -> Receipt:
        return confirm_with_shorts(ctx, "S-1", digest=digest)

    given = [service.run_once(ctx, ACTION, {"digest": digest}, confirm, Receipt) for _ in range(2)]
    assert given[0] == given[1]
    assert len(service.get_shipment(ctx, "S-1").receipts) == 1


def test_an_id_that_is_not_a_uuid_is_refused(ctx: service.Context) -> None:
    with pytest.raises(BadRequest, match="'tap-1' is not a UUID"):
        service.run_once(ctx, "tap-1", CONTENT, lambda: see(ctx), dict[str, str])


def test_an_id_in_capitals_is_the_same_id(ctx: service.Context) -> None:
    for action_id in (ACTION, ACTION.upper()):
        service.run_once(ctx, action_id, CONTENT, lambda: see(ctx), dict[str, str])
    assert len(service.get_shipment(ctx, "S-1").notes) == 1


def test_without_an_id_the_work_runs_each_time(ctx: service.Context) -> None:
    for _ in range(2):
        service.run_once(ctx, "", CONTENT, lambda: see(ctx), dict[str, str])
    assert len(service.get_shipment(ctx, "S-1").notes) == 2


def test_eight_at_once_run_once(ctx: service.Context) -> None:
    given: list[object] = []
    start = threading.Barrier(8)

    def send() -> None:
        start.wait()
        given.append(service.run_once(ctx, ACTION, CONTENT, lambda: see(ctx), dict[str, str]))

    threads = [threading.Thread(target=send) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert given == [given[0]] * 8
    assert len(service.get_shipment(ctx, "S-1").notes) == 1


def test_the_ledger_cannot_be_altered(ctx: service.Context) -> None:
    service.run_once(ctx, ACTION, CONTENT, lambda: see(ctx), dict[str, str])
    with ctx.store() as store:
        other = sqlite3.connect(store.path)
    with pytest.raises(sqlite3.IntegrityError, match="append-only"):
        other.execute("UPDATE actions SET answer = '{}'")
    other.close()
