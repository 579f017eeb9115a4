"""How much each may ask for in a minute: enough for people and phones, not for a script that takes everything."""

import json

import pytest

from receiving import service
from receiving.model import Role
from tests.web.scenario import sscc
from tests.web.test_access import WORDS, Person
from web import create_app
from web.quota import A_MINUTE, COSTLY, COSTLY_ENDPOINTS, MOST_KNOWN, Quota, TooManyCalls
from web.serve import make_server


class Clock:
    now = 100.0

    def __call__(self) -> float:
        return self.now


def test_whoever_asks_for_more_than_a_minutes_worth_waits_and_nobody_else() -> None:
    clock = Clock()
    quota = Quota(60, clock)
    for _ in range(60):
        quota.take("one", "rep.shipment")
    with pytest.raises(TooManyCalls) as refused:
        quota.take("one", "rep.shipment")
    assert refused.value.wait_s == 1
    quota.take("other", "rep.shipment")
    clock.now += 1
    quota.take("one", "rep.shipment")
    with pytest.raises(TooManyCalls):
        quota.take("one", "rep.shipment")
    clock.now += 3600
    for _ in range(60):  # what is not asked for is not saved up
        quota.take("one", "rep.shipment")
    with pytest.raises(TooManyCalls):
        quota.take("one", "rep.shipment")


def test_a_paper_costs_more_than_a_page() -> None:
    quota = Quota(60, Clock())
    for _ in range(60 // COSTLY):
        quota.take("one", "manager.receipt_file")
    with pytest.raises(TooManyCalls) as refused:
        quota.take("one", "manager.receipt_file")
    assert refused.value.wait_s == COSTLY


def test_of_very_many_addresses_the_latest_are_known() -> None:
    quota = Quota(1, Clock())
    for n in range(MOST_KNOWN + 1):
        quota.take(str(n), "")
    quota.take("0", "")
    with pytest.raises(TooManyCalls):
        quota.take(str(MOST_KNOWN), "")


def test_each_costly_endpoint_exists(ctx: service.Context) -> None:
    assert set(create_app(ctx).view_functions) >= COSTLY_ENDPOINTS


def test_a_phone_that_follows_and_scans_never_meets_the_limit() -> None:
    clock = Clock()
    quota = Quota(clock=clock)
    for _ in range(600):  # ten minutes of three open pages, a scan a second, and a photo with its pictures
        for endpoint in ("rep.state", "rep.state", "rep.live", "rep.add_scan", "rep.add_photos", "rep.photo_image"):
            quota.take("phone", endpoint)
        clock.now += 1


def test_a_session_that_takes_everything_is_told_to_come_again(ctx: service.Context) -> None:
    service.add_person(ctx, "Ada Lund", Role.COORDINATOR, WORDS)
    service.add_person(ctx, "Rui Paz", Role.REP, WORDS)
    app = create_app(ctx, quota=Quota(30, Clock()))
    rui, other = Person(app), Person(app)
    assert rui.sign_in("Rui Paz").status_code == 303
    answers = [rui.client.get("/s/S-2041~2FA") for _ in range(40)]
    last = answers[-1]
    assert {each.status_code for each in answers} == {200, 429} and last.status_code == 429
    assert (
        last.headers["Retry-After"] == "2" and "Too much was asked for" in last.text and "Wait 2 seconds" in last.text
    )
    kept = rui.client.post(
        "/s/S-2041~2FA/scans",
        data={"text": sscc(3), "token": rui.client.get_cookie("token").value},
        headers={"X-Action": "7f0e8c3e-13a7-4d0a-9c7c-2d1f4d1f0a11"},
    )
    assert kept.status_code == 429 and kept.json["state"] == "kept"  # a phone sends it again
    assert rui.client.get("/healthz").status_code == 200
    assert other.client.get("/sign-in").status_code == 200


def test_a_program_and_a_stranger_are_told_too(ctx: service.Context) -> None:
    service.add_person(ctx, "Ada Lund", Role.COORDINATOR, WORDS)
    _, secret = service.make_api_token(ctx, "till", ["read"], by="Ada")
    client = create_app(ctx, quota=Quota(10, Clock())).test_client()
    for headers in ({"Authorization": f"Bearer {secret}"}, {}):
        answers = [client.get("/api/v1/shipments", headers=headers) for _ in range(11)]
        assert answers[-1].status_code == 429 and answers[-1].headers["Retry-After"] == "6"
        assert json.loads(answers[-1].data)["status"] == 429
    assert client.get("/sign-in").status_code == 429  # of the same address


def test_without_accounts_the_one_user_of_this_machine_has_no_limit(ctx: service.Context) -> None:
    client = create_app(ctx, quota=Quota(2, Clock())).test_client()
    assert {client.get("/").status_code for _ in range(5)} == {200}


def test_what_is_served_has_the_limit(ctx: service.Context) -> None:
    server = make_server(ctx, host="127.0.0.1", port=0)
    try:
        assert server.app.config["QUOTA"]._most == A_MINUTE
    finally:
        server.close()
