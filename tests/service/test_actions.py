"""An action sent again, because its answer was lost on the way, is answered again and not done again."""

import sqlite3
import threading

import pytest

from receiving import service
from receiving.errors import BadRequest, Conflict
from receiving.model import Receipt

ACTION = "6f1c2d2e-1111-4000-8000-000000000001"
SAID = {"shipment": "S-1", "kind": "carton_seen", "carton": "02"}


def see(desk: service.Desk, carton: str = "02") -> dict[str, str]:
    note = service.add_note(desk, "S-1", "carton_seen", by="Ada", carton=carton)
    return {"note": note.note_id}


def test_the_same_action_again_gives_the_recorded_answer_and_runs_nothing(desk: service.Desk) -> None:
    first = service.run_once(desk, ACTION, SAID, lambda: see(desk), dict[str, str])
    again = service.run_once(desk, ACTION, dict(reversed(SAID.items())), lambda: see(desk), dict[str, str])
    assert first == again
    assert [note.note_id for note in service.shipment(desk, "S-1").notes] == [first["note"]]


def test_the_same_action_with_other_content_is_refused_by_name(desk: service.Desk) -> None:
    service.run_once(desk, ACTION, SAID, lambda: see(desk), dict[str, str])
    with pytest.raises(Conflict, match=rf"The action {ACTION} was sent before with other content"):
        service.run_once(desk, ACTION, {**SAID, "carton": "03"}, lambda: see(desk, "03"), dict[str, str])
    assert len(service.shipment(desk, "S-1").notes) == 1


def test_an_action_that_failed_may_be_sent_again(desk: service.Desk) -> None:
    with pytest.raises(BadRequest, match="Carton '77'"):
        service.run_once(desk, ACTION, SAID, lambda: see(desk, "77"), dict[str, str])
    service.run_once(desk, ACTION, SAID, lambda: see(desk), dict[str, str])
    assert len(service.shipment(desk, "S-1").notes) == 1


def test_an_answer_may_be_any_value_of_the_model(desk: service.Desk) -> None:
    digest = service.show_receipt(desk, "S-1").digest

    def confirm() -> Receipt:
        return service.confirm(
            desk,
            "S-1",
            digest,
            name="Grace",
            role="Manager",
            with_exceptions=True,
            missing=service.MissingAnswer(searched=True),
        )

    given = [service.run_once(desk, ACTION, {"digest": digest}, confirm, Receipt) for _ in range(2)]
    assert given[0] == given[1]
    assert len(service.shipment(desk, "S-1").receipts) == 1


def test_an_id_that_is_not_a_uuid_is_refused(desk: service.Desk) -> None:
    with pytest.raises(BadRequest, match="'tap-1' is not a UUID"):
        service.run_once(desk, "tap-1", SAID, lambda: see(desk), dict[str, str])


def test_an_id_in_capitals_is_the_same_id(desk: service.Desk) -> None:
    for action_id in (ACTION, ACTION.upper()):
        service.run_once(desk, action_id, SAID, lambda: see(desk), dict[str, str])
    assert len(service.shipment(desk, "S-1").notes) == 1


def test_without_an_id_the_work_runs_each_time(desk: service.Desk) -> None:
    for _ in range(2):
        service.run_once(desk, "", SAID, lambda: see(desk), dict[str, str])
    assert len(service.shipment(desk, "S-1").notes) == 2


def test_eight_at_once_run_once(desk: service.Desk) -> None:
    given: list[object] = []
    start = threading.Barrier(8)

    def send() -> None:
        start.wait()
        given.append(service.run_once(desk, ACTION, SAID, lambda: see(desk), dict[str, str]))

    threads = [threading.Thread(target=send) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert given == [given[0]] * 8
    assert len(service.shipment(desk, "S-1").notes) == 1


def test_the_ledger_cannot_be_altered(desk: service.Desk) -> None:
    service.run_once(desk, ACTION, SAID, lambda: see(desk), dict[str, str])
    with desk.store() as store:
        other = sqlite3.connect(store.path)
    with pytest.raises(sqlite3.IntegrityError, match="append-only"):
        other.execute("UPDATE actions SET answer = '{}'")
    other.close()
