"""Every page and form by every role: who may, who may not, and what a stranger sees."""

from collections.abc import Iterator
from urllib.parse import urlsplit
from uuid import uuid4

import pytest
from flask import Flask
from flask.testing import FlaskClient
from werkzeug.routing import AnyConverter, BaseConverter, IntegerConverter, Rule
from werkzeug.test import TestResponse

from receiving import service
from receiving.model import RIGHTS, Right, Role
from receiving.service import accounts
from tests.web.page_text import read
from tests.web.test_rep import ADDRESS
from web import create_app
from web.access import NEEDED, PUBLIC, has_own_tokens, needed_right

WORDS = "four plain words here"
NAMES = {Role.COORDINATOR: "Ada Lund", Role.REP: "Bo Reyes", Role.STORE_MANAGER: "Cem Ortiz"}
OWN, OTHERS = "0417", "0422"
THEIRS = "S-2055"
VALUES = {"shipment": "S-2041/A", "store": OWN, "carton": "03", "photo": "0" * 64, "filename": "style.css"}


class Person:
    """A browser of somebody who signed in, or who came by a link."""

    def __init__(self, app: Flask) -> None:
        self.client: FlaskClient = app.test_client()

    def token(self) -> str:
        self.client.get("/sign-in")
        cookie = self.client.get_cookie("token")
        assert cookie is not None
        return cookie.value

    def sign_in(self, name: str, password: str = WORDS) -> TestResponse:
        return self.client.post("/sign-in", data={"token": self.token(), "name": name, "password": password})

    def send(self, method: str, path: str, **fields: object) -> TestResponse:
        if method == "GET":
            return self.client.get(path)
        return self.client.post(path, data={"token": self.token(), **fields})


@pytest.fixture(scope="module")
def signed_in(tmp_path_factory: pytest.TempPathFactory) -> Iterator[dict[Role | None, Person]]:
    """A browser for each role, and one (None) of a stranger; the rep and the manager see one store alone."""
    from tests.planned_reader import PlannedReader
    from tests.web.scenario import open_context

    with open_context(tmp_path_factory.mktemp("access"), PlannedReader()) as ctx:
        for role, name in NAMES.items():
            service.add_person(ctx, name, role, WORDS, stores=None if role is Role.COORDINATOR else [OWN])
        app = create_app(ctx)
        found: dict[Role | None, Person] = {None: Person(app)}
        for role, name in NAMES.items():
            found[role] = Person(app)
            assert found[role].sign_in(name).status_code == 303
        found[Role.STORE_STAFF] = Person(app)
        _, token = service.make_link(ctx, "S-2041/A", "Dock team", days=3, by="Ada Lund")
        assert found[Role.STORE_STAFF].send("POST", "/come", secret=token).status_code == 303
        yield found


def rules(app: Flask) -> list[tuple[Rule, str]]:
    return [(r, m) for r in app.url_map.iter_rules() for m in sorted((r.methods or set()) & {"GET", "POST"})]


def path_of(app: Flask, rule: Rule) -> str:
    values = {name: value_for(name, converter) for name, converter in rule._converters.items()}
    return urlsplit(app.url_map.bind("localhost").build(rule.endpoint, values)).path


def value_for(name: str, converter: BaseConverter) -> object:
    if isinstance(converter, IntegerConverter):
        return 1
    if isinstance(converter, AnyConverter):
        return sorted(converter.items)[0]
    return VALUES.get(name, "x")


def refused(response: TestResponse) -> bool:
    return response.status_code in (401, 403) or "/sign-in" in response.headers.get("Location", "")


@pytest.mark.parametrize("role", [None, *Role])
def test_every_route_lets_in_whom_it_should_and_nobody_else(
    signed_in: dict[Role | None, Person], role: Role | None
) -> None:
    person = signed_in[role]
    app = person.client.application
    wrong = []
    for rule, method in rules(app):
        if rule.endpoint in PUBLIC or rule.endpoint == "people.sign_out" or has_own_tokens(rule.endpoint):
            continue
        right = needed_right(rule.endpoint)
        assert right is not None
        rights = RIGHTS[role] if role else frozenset()
        if role in (Role.REP, Role.STORE_MANAGER):
            rights = rights - {Right.ADMINISTER, Right.PREPARE}
        response = person.send(method, path_of(app, rule))
        if refused(response) != (right not in rights):
            wrong.append(f"{role} {method} {rule.rule}: {response.status_code}, needs {right}")
        assert response.status_code < 500, f"{method} {rule.rule}"
    assert not wrong, "\n".join(wrong)


@pytest.mark.parametrize("role", [Role.REP, Role.STORE_MANAGER, Role.STORE_STAFF])
def test_shipments_and_stores_of_others_are_not_there(signed_in: dict[Role | None, Person], role: Role) -> None:
    person = signed_in[role]
    app = person.client.application
    for rule, method in rules(app):
        right = needed_right(rule.endpoint)
        if rule.endpoint in PUBLIC or right not in RIGHTS[role] or not rule.arguments & {"shipment", "store"}:
            continue
        path = path_of(app, rule).replace("S-2041~2FA", THEIRS).replace("S-2041%2FA", THEIRS)
        path = path.replace(f"/stores/{OWN}", f"/stores/{OTHERS}")
        assert THEIRS in path or OTHERS in path, path
        response = person.send(method, path)
        assert response.status_code == 404, f"{method} {path}"
        assert OTHERS not in read(response.text).text.replace(path, "") or "store" in rule.arguments


def test_a_list_shows_only_the_stores_that_a_person_sees(signed_in: dict[Role | None, Person]) -> None:
    rep, coordinator = (read(signed_in[r].client.get("/").text).text for r in (Role.REP, Role.COORDINATOR))
    assert "S-2041/A" in rep and THEIRS not in rep
    assert "S-2041/A" in coordinator and THEIRS in coordinator


def test_the_secret_of_a_link_is_in_no_address_that_a_browser_sends(signed_in: dict[Role | None, Person]) -> None:
    page = read(signed_in[Role.COORDINATOR].send("POST", f"{ADDRESS}/links", label="Night crew", days="3").text)
    (address,) = (each for each in page.text.split() if "/come" in each)
    sent, _, secret = address.partition("#")
    assert urlsplit(sent).path == "/come" and len(secret) == 43
    staff = Person(signed_in[None].client.application)
    asked = staff.client.get(sent)
    assert asked.status_code == 200 and not staff.client.get_cookie("session"), "a preview of the link begins nothing"
    assert staff.send("POST", "/come", secret="x" * 43).status_code == 403
    assert staff.send("POST", "/come", secret=secret).status_code == 303
    assert staff.client.get(ADDRESS).status_code == 200


def test_store_staff_go_to_their_shipment_and_decide_nothing(signed_in: dict[Role | None, Person]) -> None:
    staff = signed_in[Role.STORE_STAFF]
    assert urlsplit(staff.client.get("/").headers["Location"]).path == ADDRESS
    response = staff.send("POST", f"{ADDRESS}/notes", kind="visit_decided", go="yes")
    assert response.status_code == 403


def test_what_a_coordinator_decided_is_withdrawn_by_nobody_else(signed_in: dict[Role | None, Person]) -> None:
    coordinator, rep = signed_in[Role.COORDINATOR], signed_in[Role.REP]
    app = coordinator.client.application
    ctx = app.extensions["receiving"].ctx
    assert coordinator.send("POST", f"{ADDRESS}/notes", kind="visit_decided", go="false").status_code == 303
    held = service.get_shipment(ctx, "S-2041/A").notes[-1].note_id
    for kind, fields in (
        ("note_withdrawn", {"withdrawn": held}),
        ("shipment_voided", {"voided": "true"}),
        ("shipment_delivered", {"on": "2026-03-04"}),
    ):
        assert rep.send("POST", f"{ADDRESS}/notes", kind=kind, **fields).status_code == 403, kind
    assert service.get_shipment(ctx, "S-2041/A").notes[-1].note_id == held
    assert coordinator.send("POST", f"{ADDRESS}/notes", kind="note_withdrawn", withdrawn=held).status_code == 303


def test_who_signed_in_stands_in_the_record_whatever_a_form_says(signed_in: dict[Role | None, Person]) -> None:
    rep = signed_in[Role.REP]
    sent = rep.send("POST", f"{ADDRESS}/notes", kind="carton_seen", carton="05", by="Somebody Else")
    assert sent.status_code == 303
    page = read(rep.client.get(f"{ADDRESS}/cartons/05").text).text
    assert "Bo Reyes" in page and "Somebody Else" not in page


def test_a_stranger_is_asked_to_sign_in_and_comes_back_where_he_was(signed_in: dict[Role | None, Person]) -> None:
    person = Person(signed_in[None].client.application)
    asked = person.client.get(f"{ADDRESS}?answer=x")
    assert asked.status_code == 302
    page = person.client.get(asked.headers["Location"])
    assert f'name="back" value="{ADDRESS}?answer=x"' in page.text
    done = person.client.post(
        "/sign-in", data={"token": person.token(), "name": "Bo Reyes", "password": WORDS, "back": f"{ADDRESS}?answer=x"}
    )
    assert done.headers["Location"].endswith(f"{ADDRESS}?answer=x")


@pytest.mark.parametrize("elsewhere", ["https://evil.example/", "//evil.example/", "/\\evil.example", "javascript:1"])
def test_signing_in_leads_to_no_other_site(signed_in: dict[Role | None, Person], elsewhere: str) -> None:
    person = Person(signed_in[None].client.application)
    done = person.client.post(
        "/sign-in", data={"token": person.token(), "name": "Bo Reyes", "password": WORDS, "back": elsewhere}
    )
    assert done.headers["Location"] == "/"


def test_a_part_or_a_post_without_a_session_is_answered_with_what_to_do(signed_in: dict[Role | None, Person]) -> None:
    person = Person(signed_in[None].client.application)
    for response in (
        person.client.get(f"{ADDRESS}/live", headers={"X-Part": "live"}),
        person.client.post(f"{ADDRESS}/scans", data={"token": person.token(), "text": "x"}),
    ):
        assert response.status_code == 401
        assert "Sign in again; what you entered is kept" in read(response.text).text


def test_the_session_cookie_is_hidden_from_scripts_and_other_sites(signed_in: dict[Role | None, Person]) -> None:
    person = Person(signed_in[None].client.application)
    cookies = " ".join(person.sign_in("Bo Reyes").headers.getlist("Set-Cookie"))
    session = next(part for part in cookies.split("session=") if "Max-Age" in part)
    assert "HttpOnly" in session and "SameSite=Lax" in session


def test_a_form_token_of_another_session_is_refused(signed_in: dict[Role | None, Person]) -> None:
    app = signed_in[None].client.application
    first, second = Person(app), Person(app)
    stolen = first.token()
    assert second.sign_in("Bo Reyes").status_code == 303
    second.client.set_cookie("token", stolen)
    response = second.client.post(f"{ADDRESS}/scans", data={"token": stolen, "text": "x"})
    assert response.status_code == 403
    second.client.set_cookie("token", "chosen")
    assert second.client.post(f"{ADDRESS}/scans", data={"token": "chosen", "text": "x"}).status_code == 403


def test_a_form_on_another_site_is_refused_even_with_our_token(signed_in: dict[Role | None, Person]) -> None:
    rep = signed_in[Role.REP]
    for origin, status in (("http://evil.example", 403), ("null", 403), ("http://localhost", 303)):
        response = rep.client.post(
            f"{ADDRESS}/notes",
            data={"token": rep.token(), "kind": "carton_seen", "carton": "06"},
            headers={"Origin": origin},
        )
        assert response.status_code == status, origin


@pytest.mark.parametrize(("origin", "status"), [("http://localhost", 403), ("https://localhost", 303)])
def test_over_https_a_form_of_a_page_that_came_over_http_is_refused(
    signed_in: dict[Role | None, Person], origin: str, status: int
) -> None:
    browser = Person(signed_in[None].client.application)
    over = {"base_url": "https://localhost"}
    browser.client.get("/sign-in", **over)  # type: ignore[arg-type]
    token = browser.client.get_cookie("__Host-token")
    assert token is not None
    given = browser.client.post(
        "/sign-in",
        data={"token": token.value, "name": "Bo Reyes", "password": WORDS},
        headers={"Origin": origin},
        **over,  # type: ignore[arg-type]
    )
    assert given.status_code == status


def test_signing_out_ends_the_session_and_what_the_browser_kept(signed_in: dict[Role | None, Person]) -> None:
    person = Person(signed_in[None].client.application)
    person.sign_in("Bo Reyes")
    response = person.send("POST", "/sign-out")
    assert response.headers["Clear-Site-Data"] == '"cache"'
    assert "/sign-in" in person.client.get("/").headers["Location"]


def test_too_many_wrong_passwords_are_answered_with_how_long_to_wait(signed_in: dict[Role | None, Person]) -> None:
    person = Person(signed_in[None].client.application)
    for _ in range(5):
        assert person.sign_in("Nobody Known", "guess").status_code == 403
    slow = person.sign_in("Nobody Known", "guess")
    assert slow.status_code == 429
    assert slow.headers["Retry-After"] == "2"


def test_without_an_account_the_one_user_of_this_machine_does_all_and_is_told(app: Flask) -> None:
    page = app.test_client().get("/people")
    assert page.status_code == 200
    assert "whoever reaches this page can read and write" in read(page.text).text


def test_who_comes_second_to_the_first_account_gets_in_nowhere_and_is_told_no_name(
    app: Flask, ctx: service.Context, monkeypatch: pytest.MonkeyPatch
) -> None:
    hashed = accounts.hash_secret

    def slow(password: str) -> str:
        monkeypatch.setattr(accounts, "hash_secret", hashed)
        service.add_account(ctx, "Ada Lund", Role.COORDINATOR, own_password=WORDS)
        return hashed(password)

    monkeypatch.setattr(accounts, "hash_secret", slow)
    person = Person(app)
    answer = person.send("POST", "/people", name="Bo Reyes", role="coordinator", password="another set of words")
    assert answer.status_code == 409
    assert "Ada Lund" not in answer.text and "yours was not added" in answer.text
    assert "/sign-in" in person.client.get("/people").headers["Location"]
    assert [each.name for each in service.list_people(ctx)] == ["Ada Lund"]


def test_the_first_account_signs_in_who_made_it(app: Flask) -> None:
    person = Person(app)
    made = person.send("POST", "/people", name="Ada Lund", role="coordinator", password=WORDS)
    assert made.status_code == 303
    assert person.client.get("/people").status_code == 200
    assert "/sign-in" in app.test_client().get("/people").headers["Location"]


def test_who_did_what_is_written_down_without_passwords(app: Flask, ctx: service.Context) -> None:
    person = Person(app)
    person.send("POST", "/people", name="Ada Lund", role="coordinator", password=WORDS)
    person.client.get(ADDRESS)
    person.send("POST", f"{ADDRESS}/notes", kind="carton_seen", carton="05")
    ctx.close()
    lines = [(line.name, line.action, line.shipment, line.status) for line in service.list_audit(ctx)]
    assert ("Ada Lund", "GET rep.shipment", "S-2041/A", 200) in lines
    assert ("Ada Lund", "POST rep.add_note", "S-2041/A", 303) in lines
    assert not any(WORDS in str(line) for line in lines)


def test_a_route_of_which_nobody_said_who_may_is_found_at_the_start(
    ctx: service.Context, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("web.access.NEEDED", {k: v for k, v in NEEDED.items() if k != "rep.carton"})
    with pytest.raises(KeyError, match=r"NEEDED says nothing of rep\.carton"):
        create_app(ctx)


@pytest.mark.parametrize("path", ["/sign-in", "/outbox", "/nowhere", "/s/../nowhere", "/come"])
def test_a_stranger_is_shown_no_way_into_the_office(signed_in: dict[Role | None, Person], path: str) -> None:
    page = read(Person(signed_in[None].client.application).client.get(path).text)
    ways = {e.attributes.get("href") for e in page.all("a")} - {"#main", "/sign-in", "/outbox"}
    assert not ways, ways


@pytest.mark.parametrize("path", ["/outbox", "/nowhere"])
def test_who_is_signed_in_keeps_his_ways_where_a_page_is_missing(
    signed_in: dict[Role | None, Person], path: str
) -> None:
    ways = {
        role: {e.attributes.get("href") for e in read(signed_in[role].client.get(path).text).all("a")}
        for role in (Role.COORDINATOR, Role.REP)
    }
    assert {"/", "/overview", "/import", "/office"} <= ways[Role.COORDINATOR]
    assert "/" in ways[Role.REP] and "/import" not in ways[Role.REP]


def test_the_one_user_of_this_machine_keeps_all_ways(app: Flask) -> None:
    ways = {e.attributes.get("href") for e in read(app.test_client().get("/nowhere").text).all("a")}
    assert {"/", "/overview", "/import", "/office"} <= ways


def confirmed_by(person: Person, **sent: str) -> str:
    """The page of the receipt that this person gave, sending these fields beside what the page has."""
    page = read(person.client.get(f"{ADDRESS}/receipt").text)
    fields = {e.attributes["name"]: e.attributes["value"] for e in page.all("input", type="hidden")}
    given = person.client.post(f"{ADDRESS}/receipt", data={**fields, "how": "exceptions", "short": "searched", **sent})
    assert given.status_code == 303, read(given.text).text
    return read(person.client.get(given.headers["Location"]).text).text


def test_a_store_manager_confirms_by_the_name_of_his_account_and_types_none(
    signed_in: dict[Role | None, Person],
) -> None:
    manager = signed_in[Role.STORE_MANAGER]
    page = read(manager.client.get(f"{ADDRESS}/receipt").text)
    assert not page.all("input", id="name") and not page.all("input", id="role")
    assert "You confirm as Cem Ortiz , Store manager." in page.text
    receipt = confirmed_by(manager, name="Somebody Else", role="King", remarks="By account.")
    assert "Cem Ortiz" in receipt and "Store manager" in receipt
    assert "Somebody Else" not in receipt and "King" not in receipt


def test_on_a_reps_phone_the_store_manager_types_his_name(signed_in: dict[Role | None, Person]) -> None:
    drawn = '{"height": 300, "strokes": [[[10, 20], [400, 250]]]}'
    receipt = confirmed_by(signed_in[Role.REP], name="Dia Novak", role="Night manager", signature=drawn)
    assert "Dia Novak" in receipt and "Signed on the phone of Bo Reyes" in receipt


def test_what_was_shown_to_one_manager_is_not_confirmed_by_another(signed_in: dict[Role | None, Person]) -> None:
    manager = signed_in[Role.STORE_MANAGER]
    page = read(manager.client.get(f"{ADDRESS}/receipt").text)
    fields = {e.attributes["name"]: e.attributes["value"] for e in page.all("input", type="hidden")}
    answer = manager.client.post(
        f"{ADDRESS}/receipt",
        data={**fields, "how": "exceptions", "short": "searched", "shown_to": "Eva Lind", "remarks": "Another one."},
    )
    assert answer.status_code == 409
    assert "This was shown to Eva Lind, and Cem Ortiz is signed in now." in read(answer.text).text


def test_a_file_that_is_not_there_any_more_leaves_the_forms_of_an_open_page_good(
    signed_in: dict[Role | None, Person],
) -> None:
    rep = signed_in[Role.REP]
    token = rep.token()
    assert rep.client.get("/static/of-an-older-version.css").status_code == 404
    answer = rep.client.post(f"{ADDRESS}/notes", data={"token": token, "kind": "carton_seen", "carton": "07"})
    assert answer.status_code == 303


def test_what_waited_on_a_phone_is_not_taken_in_the_name_of_who_signed_in_there_since(
    signed_in: dict[Role | None, Person],
) -> None:
    manager = signed_in[Role.STORE_MANAGER]
    ctx = manager.client.application.extensions["receiving"].ctx
    before = service.get_shipment(ctx, "S-2041/A").notes
    fields = {"token": manager.token(), "kind": "carton_seen", "carton": "09"}
    headers = {"X-Action": str(uuid4()), "X-Made-By": "Bo%20Reyes"}
    kept = manager.client.post(f"{ADDRESS}/notes", data=fields, headers=headers)
    assert (kept.status_code, kept.json["state"], kept.json["why"]) == (412, "kept", "person")
    assert kept.json["problem"]["message"] == "This was made by Bo Reyes, and Cem Ortiz is signed in now."
    listed = {"id": headers["X-Action"], "url": f"{ADDRESS}/notes", "made_at": "", "made_by": "Bo%20Reyes"}
    listed["fields"] = [["kind", "carton_seen"], ["carton", "09"]]
    sent = manager.client.post("/actions", json={"actions": [listed]}, headers={"X-Token": manager.token()})
    assert [each["why"] for each in sent.json["answers"]] == ["person"]
    assert service.get_shipment(ctx, "S-2041/A").notes == before
    rep = signed_in[Role.REP]
    done = rep.client.post(f"{ADDRESS}/notes", data={**fields, "token": rep.token()}, headers=headers)
    assert done.json["state"] == "done"
    assert service.get_shipment(ctx, "S-2041/A").notes[-1].by == "Bo Reyes"
