"""In whose name a record stands: of who is signed in, by whatever way it comes, on a phone that several hold too."""

from datetime import timedelta
from io import BytesIO
from uuid import uuid4

import pytest
from flask import Flask

from receiving import service
from receiving.model import Role
from tests.web.page_text import read
from tests.web.scenario import NOW, SHIPMENT, picture, sscc
from tests.web.test_access import ADDRESS, WORDS, Person
from web import create_app


@pytest.fixture
def people(ctx: service.Context) -> None:
    service.add_person(ctx, "Ada Lund", Role.COORDINATOR, WORDS)
    service.add_person(ctx, "Bo Reyes", Role.REP, WORDS)
    for name in ("Cem Ortiz", "Dia Novak"):
        service.add_person(ctx, name, Role.STORE_MANAGER, WORDS, stores=["0417"])


@pytest.fixture
def app(ctx: service.Context, people: None) -> Flask:
    return create_app(ctx)


def who(app: Flask, name: str) -> Person:
    person = Person(app)
    assert person.sign_in(name).status_code == 303
    return person


def token_of(ctx: service.Context) -> dict[str, str]:
    _, secret = service.make_api_token(ctx, "till", ["read", "scan", "notice"], by="Ada Lund")
    return {"Authorization": f"Bearer {secret}"}


def test_a_list_of_scans_stands_under_who_brought_it_whatever_it_says(app: Flask, ctx: service.Context) -> None:
    rows = f"scan_id,scanned_at,raw,place,by\n{uuid4()},2026-03-05T08:00:00Z,00{sscc(5)},dock,Somebody Else\n"
    bo = who(app, "Bo Reyes")
    sent = bo.send("POST", f"{ADDRESS}/scan-list", list=(BytesIO(rows.encode()), "scans.csv"))
    assert sent.status_code == 303
    (found,) = service.get_shipment(ctx, SHIPMENT).reads
    assert found.raw.by == "Bo Reyes"


def test_without_accounts_a_list_of_scans_says_who_scanned(ctx: service.Context) -> None:
    rows = f"scan_id,scanned_at,raw,place,by\n{uuid4()},2026-03-05T08:00:00Z,00{sscc(5)},dock,Eva\n"
    alone = Person(create_app(ctx))
    alone.client.get("/")
    assert alone.send("POST", f"{ADDRESS}/scan-list", list=(BytesIO(rows.encode()), "s.csv")).status_code == 303
    assert [each.raw.by for each in service.get_shipment(ctx, SHIPMENT).reads] == ["Eva"]


@pytest.mark.parametrize(("given", "stands"), [("Bo Reyes", "Bo Reyes (token till)"), ("", "token till")])
def test_what_a_program_sends_names_its_token_beside_the_name_that_it_gives(
    app: Flask, ctx: service.Context, given: str, stands: str
) -> None:
    client, headers = app.test_client(), token_of(ctx)
    scan = {"raw": f"00{sscc(5)}", "scan_id": str(uuid4()), "place": "dock", "by": given}
    path = "/api/v1/shipments/S-2041~2FA"
    key = {"Idempotency-Key": str(uuid4())}
    assert client.post(f"{path}/scans", json=scan, headers=headers | key).status_code == 200
    key = {"Idempotency-Key": str(uuid4())}
    photo = client.post(f"{path}/photos?name=a.jpg&by={given}", data=picture(), headers=headers | key)
    assert photo.status_code == 200
    ctx.wait()
    found = service.get_shipment(ctx, SHIPMENT)
    assert {each.raw.by for each in found.reads} == {stands}
    assert [each.by for each in found.photos] == [stands]


def test_a_link_is_not_named_like_an_account_nor_an_account_like_an_open_link(app: Flask, ctx: service.Context) -> None:
    ada = who(app, "Ada Lund")
    refused = ada.send("POST", f"{ADDRESS}/links", label="bo  reyes", days="3")
    assert refused.status_code == 400
    assert "Bo Reyes has an account" in read(refused.text).text
    assert ada.send("POST", f"{ADDRESS}/links", label="Dock team", days="3").status_code == 200
    refused = ada.send("POST", "/people", name="Dock Team", role="rep")
    assert refused.status_code == 400
    assert "Store staff come as Dock team" in read(refused.text).text


def confirmation(person: Person) -> dict[str, str]:
    page = read(person.client.get(f"{ADDRESS}/receipt").text)
    fields = {e.attributes["name"]: e.attributes["value"] for e in page.all("input", type="hidden")}
    return {**fields, "how": "exceptions", "short": "searched"}


def receipts(ctx: service.Context) -> list[tuple[str, str]]:
    return [(each.name, each.taken_by) for each in service.get_shipment(ctx, SHIPMENT).receipts]


def test_what_one_manager_confirmed_signs_nothing_when_somebody_else_sends_it_again(
    app: Flask, ctx: service.Context
) -> None:
    cem, dia, bo = (who(app, name) for name in ("Cem Ortiz", "Dia Novak", "Bo Reyes"))
    fields = confirmation(cem)
    given = cem.client.post(f"{ADDRESS}/receipt", data=fields)
    assert given.status_code == 303
    once = receipts(ctx)
    assert [name for name, _ in once] == ["Cem Ortiz"]
    again = cem.client.post(f"{ADDRESS}/receipt", data=fields)
    assert (again.status_code, again.headers["Location"]) == (303, given.headers["Location"])
    for fresh in ({}, {"action_id": str(uuid4())}):
        answer = dia.client.post(f"{ADDRESS}/receipt", data={**fields, **fresh, "token": dia.token()})
        assert answer.status_code == 409
        assert "This was shown to Cem Ortiz, and Dia Novak is signed in now." in read(answer.text).text
        stolen = bo.client.post(f"{ADDRESS}/receipt", data={**fields, **fresh})
        assert stolen.status_code == 403, "the form's token is of the manager's session"
    for headers in (token_of(ctx), {}):
        stranger = Person(app)
        sent = {**fields, "action_id": str(uuid4()), "token": stranger.token()}
        assert stranger.client.post(f"{ADDRESS}/receipt", data=sent, headers=headers).status_code == 401
    assert receipts(ctx) == once
    assert cem.send("POST", "/sign-out").status_code == 303
    late = cem.client.post(f"{ADDRESS}/receipt", data={**fields, "action_id": str(uuid4()), "token": cem.token()})
    assert late.status_code == 401
    assert receipts(ctx) == once


def test_a_confirmation_that_waited_on_a_phone_is_not_given_by_who_signed_in_there_since(
    app: Flask, ctx: service.Context
) -> None:
    cem = who(app, "Cem Ortiz")
    fields = [[name, value] for name, value in confirmation(cem).items() if name != "token"]
    action = {"id": str(uuid4()), "url": f"{ADDRESS}/receipt", "made_at": "", "fields": fields}
    dia, bo = who(app, "Dia Novak"), who(app, "Bo Reyes")
    for person in (dia, bo):
        sent = {"actions": [{**action, "made_by": "Cem%20Ortiz"}]}
        (answer,) = person.client.post("/actions", json=sent, headers={"X-Token": person.token()}).json["answers"]
        assert (answer["state"], answer["why"]) == ("kept", "person")
    (answer,) = dia.client.post("/actions", json={"actions": [action]}, headers={"X-Token": dia.token()}).json[
        "answers"
    ]
    assert answer["problem"]["status"] == 409, "without the name of its maker the page still says to whom it was shown"
    assert receipts(ctx) == []
    sent = {"actions": [{**action, "made_by": "Cem%20Ortiz"}]}
    (answer,) = cem.client.post("/actions", json=sent, headers={"X-Token": cem.token()}).json["answers"]
    assert answer["state"] == "done"
    assert [name for name, _ in receipts(ctx)] == ["Cem Ortiz"]


def test_a_link_that_is_opened_where_a_person_is_signed_in_asks_first_and_then_acts_in_its_own_name(
    app: Flask, ctx: service.Context
) -> None:
    _, secret = service.make_link(ctx, SHIPMENT, "Dock team", days=3, by="Ada Lund")
    bo = who(app, "Bo Reyes")
    held = bo.client.get_cookie("session")
    page = read(bo.client.get("/come").text)
    assert "Bo Reyes is signed in here" in page.text
    assert page.all("form", **{"data-come": "asks"})
    assert bo.send("POST", "/come", secret=secret).status_code == 303
    assert bo.send("POST", f"{ADDRESS}/notes", kind="carton_seen", carton="05").status_code == 303
    assert service.get_shipment(ctx, SHIPMENT).notes[-1].by == "Dock team"
    assert bo.client.get("/", follow_redirects=False).headers["Location"].endswith(ADDRESS)
    old = Person(app)
    old.client.set_cookie("session", held.value)
    assert "/sign-in" in old.client.get("/").headers["Location"], "his own session is over"
    assert "signed in here" not in read(bo.client.get("/come").text).text, "a link in place of a link asks nothing"
    assert read(Person(app).client.get("/come").text).all("form", **{"data-come": "sends"})
    done = [(line.name, line.action) for line in service.list_audit(ctx) if line.action in ("signed_in", "signed_out")]
    assert done[:2] == [("Dock team", "signed_in"), ("Bo Reyes", "signed_out")]


@pytest.mark.parametrize("ended", ["revoked", "expired", "signed out"])
def test_a_link_that_is_over_opens_and_stores_nothing(
    app: Flask, ctx: service.Context, monkeypatch: pytest.MonkeyPatch, ended: str
) -> None:
    link, secret = service.make_link(ctx, SHIPMENT, "Dock team", days=3, by="Ada Lund")
    staff = Person(app)
    assert staff.send("POST", "/come", secret=secret).status_code == 303
    held = staff.client.get_cookie("session")
    if ended == "revoked":
        service.revoke_link(ctx, SHIPMENT, link.link_id)
    elif ended == "expired":
        monkeypatch.setattr(ctx, "now", lambda: NOW + timedelta(days=3))
    else:
        assert staff.send("POST", "/sign-out").status_code == 303
        staff.client.set_cookie("session", held.value)
    assert "/sign-in" in staff.client.get(ADDRESS).headers["Location"]
    assert staff.send("POST", f"{ADDRESS}/notes", kind="carton_seen", carton="05").status_code == 401
    assert not service.get_shipment(ctx, SHIPMENT).notes
    again = staff.send("POST", "/come", secret=secret)
    assert again.status_code == (303 if ended == "signed out" else 403)
    if ended != "signed out":
        assert "Ask whoever sent it for a new one" in read(again.text).text
