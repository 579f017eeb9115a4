"""What is not for somebody is answered as what does not exist, also where a part of it is named by its own id."""

import re
from dataclasses import dataclass, field

import pytest
from flask import Flask
from werkzeug.test import TestResponse

from receiving import service
from receiving.model import Place
from tests.receipts import confirm_with_shorts
from tests.web.scenario import picture
from tests.web.test_scopes import (
    LIMITED,
    LOADED,
    PEOPLE,
    SHIPMENTS,
    app,
    asked,
    ctx,
    name,
    path_to,
    signed_in,
    state_of,
)

__all__ = ["app", "ctx", "name"]

ABSENT, NO_STORE, NO_CODE = "S-9999", "0499", "395200000000099993"


@dataclass(frozen=True)
class Parts:
    """The ids of what belongs to each shipment and store, by the names that they have in addresses."""

    of: dict[str, dict[str, str]] = field(default_factory=dict)


@pytest.fixture(scope="module")
def parts(ctx: service.Context) -> Parts:
    """A photo, a note, a receipt, a link and a request of each shipment and its store."""
    found = Parts()
    for number, shipment in enumerate(SHIPMENTS):
        photo = service.add_photo(
            ctx, shipment, "pile.jpg", picture(f"#b5{number}a5a"), place=Place.DOCK, by="coordinator"
        )
        ctx.wait()
        (note,) = service.add_notes(ctx, shipment, "carton_seen", [{"carton": "01"}], by="coordinator")
        given = confirmed(ctx, shipment)
        link, _ = service.make_link(ctx, shipment, f"Dock of {number}", days=3, by="coordinator")
        found.of[shipment] = {
            "photo": photo.photo,
            "number": str(given),
            "note": note.note_id,
            "link": link.link_id,
        }
    return found


def confirmed(ctx: service.Context, shipment: str) -> int:
    shown = service.get_receipt_to_confirm(ctx, shipment).shown
    return confirm_with_shorts(ctx, shipment, digest=shown.digest, name="Dia Novak", taken_by="coordinator").number


def without_ids(answer: TestResponse, *ids: str) -> tuple[object, ...]:
    """An answer without what differs from one to the next: the ids that were asked for, tokens and the request's id."""
    text = answer.get_data(as_text=True)
    for each in ids:
        text = text.replace(each, "ID").replace(each.replace("/", "~2F"), "ID")
    text = re.sub(r'value="[\w.-]{30,}"|[0-9a-f]{8}-[0-9a-f-]{27}', "TOKEN", text)
    headers = {k: v for k, v in answer.headers if k not in ("X-Request-Id", "Set-Cookie", "Content-Length", "Date")}
    return answer.status_code, headers, text


@pytest.mark.parametrize("name", LIMITED, indirect=True)
def test_what_is_hidden_and_what_does_not_exist_are_answered_alike(
    app: Flask, ctx: service.Context, parts: Parts, name: str
) -> None:
    who, person, tried = PEOPLE[name], signed_in(app, ctx, name), 0
    hidden = next(each for each in SHIPMENTS if not who.sees(each))
    for rule, method, right in asked(app):
        if not who.may(right) or "shipment" not in rule.arguments:
            continue
        own = parts.of[hidden]
        there = person.send(method, path_to(app, rule, shipment=hidden, **own))
        absent = person.send(method, path_to(app, rule, shipment=ABSENT, **own))
        assert without_ids(there, hidden) == without_ids(absent, ABSENT), f"{method} {rule.rule}"
        assert there.status_code == 404
        tried += 1
    assert tried > 30
    for way, there, absent in (("/00/", LOADED[hidden], NO_CODE), ("/?q=", hidden, ABSENT)):
        answers = [person.client.get(way + each) for each in (there, absent)]
        assert without_ids(answers[0], there) == without_ids(answers[1], absent), way
    stores = [store for store, _ in SHIPMENTS.values() if not who.sees_store(store)]
    for rule, method, right in asked(app):
        if who.may(right) and "store" in rule.arguments and stores:
            answers = [person.send(method, path_to(app, rule, store=each)) for each in (stores[0], NO_STORE)]
            assert without_ids(answers[0], stores[0]) == without_ids(answers[1], NO_STORE), f"{method} {rule.rule}"


@pytest.mark.parametrize("name", LIMITED, indirect=True)
def test_a_part_of_a_hidden_shipment_is_not_reached_through_an_own_one(
    app: Flask, ctx: service.Context, parts: Parts, name: str
) -> None:
    """The photo, note, link of another scope's shipment, named at the address of an own one."""
    who, person = PEOPLE[name], signed_in(app, ctx, name)
    mine = next(each for each in SHIPMENTS if who.sees(each))
    hidden = [each for each in SHIPMENTS if not who.sees(each)]
    before = {each: (state_of(ctx, each), service.list_links(ctx, each)) for each in hidden}
    for other in hidden:
        ids = parts.of[other]
        for rule, method, right in asked(app):
            if not who.may(right) or not rule.arguments & {"photo", "note", "link", "question"}:
                continue
            path = path_to(app, rule, shipment=mine, photo=ids["photo"], link=ids["link"], question=ids["note"])
            answer = person.send(method, path, carton="01")
            gone = answer.status_code in (400, 404, 409) or (method == "POST" and answer.status_code == 303)
            assert gone, f"{method} {rule.rule}: {answer.status_code}"
            assert ids["photo"] not in answer.text.replace(path, "")
        for kind, fields in (
            ("note_withdrawn", {"withdrawn": ids["note"]}),
            ("damage_noted", {"carton": "01", "what": "crushed", "photo": ids["photo"]}),
        ):
            person.send("POST", path_of_notes(mine), kind=kind, **fields)
    assert {each: (state_of(ctx, each), service.list_links(ctx, each)) for each in hidden} == before


def path_of_notes(shipment: str) -> str:
    return f"/s/{shipment.replace('/', '~2F')}/notes"


@pytest.mark.parametrize("name", LIMITED, indirect=True)
def test_a_hidden_shipment_has_no_mark_that_a_conditional_request_could_tell(
    app: Flask, ctx: service.Context, parts: Parts, name: str
) -> None:
    who, person, everybody = PEOPLE[name], signed_in(app, ctx, name), signed_in(app, ctx, "coordinator")
    hidden = next(each for each in SHIPMENTS if not who.sees(each))
    for rule, method, right in asked(app):
        if method != "GET" or "shipment" not in rule.arguments or not who.may(right):
            continue
        path = path_to(app, rule, shipment=hidden, **parts.of[hidden])
        mark = everybody.client.get(path).headers.get("ETag", '"x"')
        for ask in (person.client.get, person.client.head):
            answer = ask(path, headers={"If-None-Match": mark, "Range": "bytes=0-9"})
            assert answer.status_code == 404, f"{rule.rule}"
            assert "ETag" not in answer.headers


@pytest.mark.parametrize("name", LIMITED, indirect=True)
def test_a_phones_list_of_actions_reaches_no_hidden_shipment(
    app: Flask, ctx: service.Context, parts: Parts, name: str
) -> None:
    who, person = PEOPLE[name], signed_in(app, ctx, name)
    hidden = [each for each in SHIPMENTS if not who.sees(each)]
    before = {each: state_of(ctx, each) for each in hidden}
    for number, shipment in enumerate((*hidden, ABSENT)):
        action = {
            "id": f"11111111-1111-4111-8111-{number:012d}",
            "url": path_of_notes(shipment),
            "made_at": "",
            "fields": [["kind", "carton_seen"], ["carton", "01"]],
        }
        sent = person.client.post("/actions", json={"actions": [action]}, headers={"X-Token": person.token()})
        (answer,) = sent.json["answers"]
        assert (answer["state"], answer["problem"]["status"]) == ("refused", 404), shipment
    assert {each: state_of(ctx, each) for each in hidden} == before
