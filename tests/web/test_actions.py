"""The actions of a phone's outbox, over HTTP: each is answered by JSON that names its id, whatever becomes of it."""

import uuid
from datetime import UTC, datetime, timedelta
from io import BytesIO

import pytest
from flask import Flask
from werkzeug.test import TestResponse

from receiving import service
from receiving.errors import StoreError
from receiving.model import Place, Source
from tests.web.conftest import Browser
from tests.web.scenario import NOW, SHIPMENT, picture, sscc

ADDRESS = "/s/S-2041~2FA"
ACTION = "8f14e45f-ceea-467f-a34f-9a2b1c3d4e5f"
OTHER = "0b1ec9f0-33a0-4d7c-9d53-1f8b5f3c2a17"


def act(browser: Browser, path: str, fields: dict[str, object], *, action: str = ACTION, made_at: str = "", **more):
    headers = {"X-Action": action, **({"X-Made-At": made_at} if made_at else {}), **more.pop("headers", {})}
    return browser.post(f"{ADDRESS}{path}", fields, headers=headers, **more)


def test_a_scan_is_acknowledged_by_its_id_with_its_answer(browser: Browser, ctx: service.Context) -> None:
    answer = act(browser, "/scans", {"text": f"]C100{sscc(1)}"}).json
    assert (answer["service"], answer["action"], answer["state"]) == ("receiving", ACTION, "done")
    assert answer["answer"]["carton"] == "01"
    assert answer["answer"]["sound"] == "first"
    assert "Open this one first" in answer["html"]
    assert [read.read_id for read in service.get_shipment(ctx, SHIPMENT).reads] == [ACTION]


def test_the_same_action_again_stores_nothing_and_answers_the_same(browser: Browser, ctx: service.Context) -> None:
    for path, fields in (
        ("/scans", {"text": f"]C100{sscc(3)}"}),
        ("/notes", {"kind": "carton_place", "carton": "03", "place": "overhead"}),
        ("/notes", {"kind": "carton_moved", "carton": ["03", "04", "05"], "bay": "B1"}),
    ):
        action = str(uuid.uuid5(uuid.UUID(ACTION), repr(fields)))
        first, again = (act(browser, path, fields, action=action).json for _ in range(2))
        assert first == again
    view = service.get_shipment(ctx, SHIPMENT)
    assert (len(view.reads), len(view.notes)) == (1, 4)


def test_an_action_keeps_the_time_at_which_it_was_made(browser: Browser, ctx: service.Context) -> None:
    made = NOW - timedelta(hours=3)
    act(browser, "/scans", {"text": f"]C100{sscc(3)}"}, made_at=made.isoformat())
    act(
        browser,
        "/notes",
        {"kind": "carton_place", "carton": "03", "place": "dock"},
        action=OTHER,
        made_at="2026-03-05T06:31:00Z",
    )
    view = service.get_shipment(ctx, SHIPMENT)
    assert [read.raw.read_at for read in view.reads] == [made]
    assert [note.noted_at for note in view.notes] == [datetime(2026, 3, 5, 6, 31, tzinfo=UTC)]


def test_a_phone_whose_clock_runs_ahead_makes_nothing_in_the_future(browser: Browser, ctx: service.Context) -> None:
    act(browser, "/scans", {"text": f"]C100{sscc(3)}"}, made_at=(NOW + timedelta(days=2)).isoformat())
    assert service.get_shipment(ctx, SHIPMENT).reads[0].raw.read_at == NOW


def test_what_can_never_be_taken_is_refused_by_its_id_with_the_next_step(browser: Browser) -> None:
    for path, fields, status in (
        ("/scans", {"text": "  "}, 400),
        ("/notes", {"kind": "carton_eaten"}, 400),
        ("/questions/none", {"carton": "03"}, 409),
    ):
        answer = act(browser, path, fields)
        assert answer.status_code == status
        assert (answer.json["action"], answer.json["state"]) == (ACTION, "refused")
        assert answer.json["problem"]["next_step"]


def test_a_missing_token_and_trouble_of_the_store_leave_the_action_with_the_phone(
    browser: Browser, monkeypatch: pytest.MonkeyPatch
) -> None:
    answer = act(browser, "/scans", {"text": sscc(3), "token": "old"})
    assert (answer.status_code, answer.json["state"], answer.json["why"]) == (403, "kept", "token")

    def broken(*_: object, **__: object) -> None:
        raise StoreError("The data folder is full.", next_step="Free some space.")

    monkeypatch.setattr(service, "add_scan", broken)
    answer = act(browser, "/scans", {"text": sscc(3)})
    assert (answer.status_code, answer.json["state"], answer.json["why"]) == (503, "kept", "trouble")


def test_a_fault_of_ours_is_told_apart_from_no_signal(app: Flask, monkeypatch: pytest.MonkeyPatch) -> None:
    browser = Browser(app.test_client())

    def broken(*_: object, **__: object) -> None:
        raise RuntimeError

    monkeypatch.setattr(service, "add_notes", broken)
    answer = act(browser, "/notes", {"kind": "carton_place", "carton": "03", "place": "dock"})
    assert (answer.status_code, answer.json["state"], answer.json["why"]) == (500, "kept", "failed")


@pytest.mark.parametrize("action", ["", "7", "not-a-uuid"])
def test_an_id_that_is_not_a_uuid_is_refused(browser: Browser, action: str) -> None:
    assert act(browser, "/scans", {"text": sscc(3)}, action=action).status_code == 400


def test_a_time_that_is_not_a_time_is_refused(browser: Browser, ctx: service.Context) -> None:
    answer = act(browser, "/scans", {"text": sscc(3)}, made_at="yesterday")
    assert answer.json["state"] == "refused"
    assert service.get_shipment(ctx, SHIPMENT).reads == ()


def test_a_photo_and_a_damage_with_its_photo_are_acknowledged(browser: Browser, ctx: service.Context) -> None:
    photo = {"photos": (BytesIO(picture()), "pile.jpg")}
    assert act(browser, "/photos", photo, content_type="multipart/form-data").json["state"] == "done"
    damage = {"kind": "damage_noted", "carton": "03", "reason": "arrived_damaged", "usable": "false", "qty": "1"}
    damage["photo_file"] = (BytesIO(picture("#333")), "corner.jpg")
    answer = act(browser, "/notes", damage, action=OTHER, content_type="multipart/form-data")
    assert answer.json["state"] == "done"
    service.finish_photos(ctx)
    view = service.get_shipment(ctx, SHIPMENT)
    assert len(view.photos) == 2
    assert view.notes[0].photo in {row.photo for row in view.photos}


def test_a_repeated_scan_says_who_saw_the_carton_before(browser: Browser, ctx: service.Context) -> None:
    service.add_scan(ctx, SHIPMENT, f"]C100{sscc(3)}", place=Place.DOCK, by="Bo", source=Source.SCANNER)
    answer = act(browser, "/scans", {"text": f"]C100{sscc(3)}"}).json
    assert answer["answer"]["already"].startswith("Already seen by Bo, dock, ")
    assert answer["answer"]["sound"] == "already"
    assert "Already seen by Bo" in answer["html"]


def test_the_answer_to_a_stored_scan_is_given_again(browser: Browser) -> None:
    act(browser, "/scans", {"text": f"]C100{sscc(1)}"})
    answer = browser.get(f"{ADDRESS}/answers/{ACTION}").json
    assert (answer["answer"]["carton"], answer["answer"]["read_id"]) == ("01", ACTION)
    assert browser.get(f"{ADDRESS}/answers/{OTHER}").status_code == 404


def test_the_signal_gives_the_token_of_this_browser_and_the_time(browser: Browser) -> None:
    response = browser.get("/signal")
    now_ms = round(NOW.timestamp() * 1000)
    assert response.json == {"service": "receiving", "token": browser.token, "now_ms": now_ms, "signed_in": True}
    assert response.headers["Cache-Control"] == "no-store"


def test_an_id_sent_with_other_content_is_refused_by_name(browser: Browser, ctx: service.Context) -> None:
    place = {"kind": "carton_place", "carton": "03", "place": "dock"}
    assert act(browser, "/notes", place).json["state"] == "done"
    answer = act(browser, "/notes", {**place, "carton": "04"})
    assert (answer.status_code, answer.json["state"]) == (409, "refused")
    assert ACTION in answer.json["problem"]["message"]
    assert len(service.get_shipment(ctx, SHIPMENT).notes) == 1


def test_a_confirmation_sent_twice_gives_one_receipt_and_one_out_of_date_none(
    browser: Browser, ctx: service.Context
) -> None:
    shown = service.show_receipt(ctx, SHIPMENT)
    fields = {"digest": shown.digest, "name": "Kim", "role": "Store manager", "how": "exceptions", "short": "searched"}
    answers = [act(browser, "/receipt", fields).json for _ in range(2)]
    assert answers[0] == answers[1]
    assert answers[0]["location"].endswith("/receipts/1")
    act(browser, "/scans", {"text": f"]C100{sscc(3)}"}, action="11111111-1111-4111-8111-111111111111")
    late = act(browser, "/receipt", fields, action=OTHER)
    assert (late.status_code, late.json["state"]) == (409, "refused")
    assert len(service.get_shipment(ctx, SHIPMENT).receipts) == 1


def together(browser: Browser, *actions: dict[str, object]) -> TestResponse:
    token = browser.client.get("/signal").json["token"]
    return browser.client.post("/actions", json={"actions": list(actions)}, headers={"X-Token": token})


def one(number: int, path: str, **fields: str) -> dict[str, object]:
    made_at = (NOW - timedelta(minutes=90 - number)).isoformat()
    action = str(uuid.uuid5(uuid.UUID(ACTION), str(number)))
    return {
        "id": action,
        "url": f"{ADDRESS}{path}",
        "made_at": made_at,
        "fields": [list(each) for each in fields.items()],
    }


def test_several_actions_in_one_request_are_done_in_order_each_as_if_it_came_alone(
    browser: Browser, ctx: service.Context
) -> None:
    sent = (
        one(1, "/scans", text=f"]C100{sscc(3)}", place="overhead", by="Ada Lövén"),
        one(2, "/notes", kind="carton_place", carton="03", place="dock", by="Ada"),
        one(3, "/scans", text="]C1"),
        one(4, "/notes", kind="read_rejected", read_id=str(uuid.uuid5(uuid.UUID(ACTION), "1")), reason="mistake"),
    )
    for _ in range(2):
        answers = together(browser, *sent).json["answers"]
        assert [answer["action"] for answer in answers] == [each["id"] for each in sent]
        assert [answer["state"] for answer in answers] == ["done", "done", "refused", "done"]
    view = service.get_shipment(ctx, SHIPMENT)
    assert [(read.raw.by, read.raw.place, read.raw.read_at) for read in view.reads] == [
        ("Ada Lövén", Place.OVERHEAD, NOW - timedelta(minutes=89))
    ]
    assert [type(note).__name__ for note in view.notes] == ["CartonPlace", "ReadRejected"]


def test_what_follows_an_action_that_cannot_be_taken_now_is_not_done(
    browser: Browser, ctx: service.Context, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object, **__: object) -> None:
        raise StoreError("The disk is full.", next_step="Free some space.")

    monkeypatch.setattr(service, "add_note", full)
    monkeypatch.setattr(service, "add_notes", full)
    answers = together(
        browser,
        one(1, "/scans", text=f"]C100{sscc(3)}"),
        one(2, "/notes", kind="carton_place", carton="03", place="dock"),
        one(3, "/scans", text=f"]C100{sscc(4)}"),
    ).json["answers"]
    assert [answer["state"] for answer in answers] == ["done", "kept"]
    assert len(service.get_shipment(ctx, SHIPMENT).reads) == 1


@pytest.mark.parametrize(
    "actions",
    [
        [],
        "none",
        [{"id": ACTION}],
        [{**one(1, "/scans"), "url": "/people"}],
        [{**one(1, "/scans"), "fields": [["text"]]}],
        [one(n, "/scans", text="x") for n in range(51)],
    ],
)
def test_what_is_not_a_list_of_actions_is_refused_and_nothing_is_done(
    browser: Browser, ctx: service.Context, actions: object
) -> None:
    token = browser.client.get("/signal").json["token"]
    answer = browser.client.post("/actions", json={"actions": actions}, headers={"X-Token": token})
    assert answer.status_code == 400
    assert service.get_shipment(ctx, SHIPMENT).reads == ()


def test_several_actions_need_the_form_token_as_one_does(browser: Browser, ctx: service.Context) -> None:
    answer = browser.client.post("/actions", json={"actions": [one(1, "/scans", text=f"]C100{sscc(3)}")]})
    assert answer.status_code == 403
    assert service.get_shipment(ctx, SHIPMENT).reads == ()
