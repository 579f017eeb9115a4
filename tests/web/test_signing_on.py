"""The company's sign-on, PINs, the own account and programmes: who comes in by what, and who does not."""

import base64
import hmac
import json
import urllib.request
from collections.abc import Callable, Iterator
from datetime import timedelta
from urllib.parse import parse_qs, urlsplit
from uuid import uuid4

import pytest
from flask import Flask
from joserfc.jwk import OctKey, RSAKey

from receiving import service
from receiving.errors import BadRequest
from receiving.model import Role
from receiving.service import CompanySignOn
from tests.web.page_text import read
from tests.web.provider import CLIENT, SECRET, Provider, provider_here
from tests.web.scenario import NOW, sscc
from tests.web.test_access import ADDRESS, WORDS, Person
from web import create_app

OTHER = "five other words, all plain"


@pytest.fixture
def people(ctx: service.Context) -> dict[str, str]:
    """A coordinator of all, a rep and a store manager of one store; by name, their ids."""
    made = [service.add_person(ctx, "Ada Lund", Role.COORDINATOR, WORDS)]
    made += [
        service.add_person(ctx, name, role, WORDS, stores=["0417"])
        for name, role in (("Bo Reyes", Role.REP), ("Cem Ortiz", Role.STORE_MANAGER))
    ]
    return {each.name: each.person_id for each in made}


@pytest.fixture
def provider() -> Iterator[Provider]:
    with provider_here() as found:
        found.now_s = int(NOW.timestamp())
        yield found


def app_with(ctx: service.Context, provider: Provider, claim: str = "sub") -> Flask:
    return create_app(ctx, company=CompanySignOn(provider.issuer, CLIENT, SECRET, claim, "Sign in with Lumovane"))


class NoRedirect(urllib.request.HTTPRedirectHandler):
    def redirect_request(self, *args: object) -> None:
        return None


def signed_on_at(address: str) -> str:
    """Where the provider sends the browser back to: path and query."""
    with pytest.raises(urllib.request.HTTPError) as answer:  # type: ignore[attr-defined]
        urllib.request.build_opener(NoRedirect).open(address)
    with answer.value as given:
        back = urlsplit(given.headers["Location"])
    return f"{back.path}?{back.query}"


def sign_on(person: Person, back: str = "/") -> object:
    leaving = person.client.get(f"/sign-in/company?back={back}")
    assert leaving.status_code == 303
    return person.client.get(signed_on_at(leaving.headers["Location"]))


def test_who_signs_on_at_the_company_comes_in_as_the_account_that_it_names(
    ctx: service.Context, people: dict[str, str], provider: Provider
) -> None:
    service.set_subject(ctx, people["Bo Reyes"], provider.person)
    app = app_with(ctx, provider)
    person = Person(app)
    assert "Sign in with Lumovane" in read(person.client.get("/sign-in").text).text
    done = sign_on(person, ADDRESS)
    assert (done.status_code, done.headers["Location"]) == (303, ADDRESS)
    assert "Bo Reyes" in read(person.client.get(ADDRESS).text).text
    assert not provider.refused


def test_what_is_asked_of_the_company_proves_itself_by_state_nonce_and_a_challenge(
    ctx: service.Context, people: dict[str, str], provider: Provider
) -> None:
    first, second = (
        parse_qs(urlsplit(Person(app_with(ctx, provider)).client.get("/sign-in/company").headers["Location"]).query)
        for _ in range(2)
    )
    assert first["scope"] == ["openid"] and first["code_challenge_method"] == ["S256"]
    for name in ("state", "nonce", "code_challenge"):
        assert len(first[name][0]) >= 43 and first[name] != second[name], name


def test_an_answer_that_another_browser_began_or_that_comes_twice_opens_nothing(
    ctx: service.Context, people: dict[str, str], provider: Provider
) -> None:
    service.set_subject(ctx, people["Bo Reyes"], provider.person)
    app = app_with(ctx, provider)
    attacker, victim = Person(app), Person(app)
    path = signed_on_at(attacker.client.get("/sign-in/company").headers["Location"])
    assert victim.client.get(path).status_code == 403, "the state is the attacker's"
    own = signed_on_at(victim.client.get("/sign-in/company").headers["Location"])
    assert victim.client.get(own).status_code == 303
    assert victim.client.get(own).status_code == 403, "a state is used once"
    assert victim.client.get("/sign-in/company/back").status_code == 403


@pytest.mark.parametrize(
    "claims",
    [
        {"nonce": "another"},
        {"aud": "another client"},
        {"iss": "https://another.example"},
        {"exp": 1_600_000_000},
        {"iat": 4_000_000_000},
        {"sub": ""},
        {"azp": "another client"},
        {"nbf": 4_000_000_000},
        {"aud": [CLIENT, "another client"]},
        {"sub": ["u-417"]},
        {"exp": None},
        {"nonce": None},
    ],
)
def test_a_token_that_was_made_for_something_else_opens_nothing(
    ctx: service.Context, people: dict[str, str], provider: Provider, claims: dict[str, object]
) -> None:
    service.set_subject(ctx, people["Bo Reyes"], provider.person)
    provider.claims = claims
    person = Person(app_with(ctx, provider))
    assert sign_on(person).status_code == 403
    assert "/sign-in" in person.client.get("/").headers["Location"]


def test_a_token_of_another_key_or_of_a_shared_secret_opens_nothing(
    ctx: service.Context, people: dict[str, str], provider: Provider
) -> None:
    service.set_subject(ctx, people["Bo Reyes"], provider.person)
    app = app_with(ctx, provider)
    provider.signing_key = RSAKey.generate_key(2048)
    assert sign_on(Person(app)).status_code == 403
    provider.signing_key, provider.algorithm = OctKey.import_key(SECRET * 3), "HS256"  # type: ignore[assignment]
    assert sign_on(Person(app)).status_code == 403


def signed_by_nobody(token: str, provider: Provider) -> str:
    return f"{base64_of({'alg': 'none'})}.{token.split('.')[1]}."


def signed_by_what_all_know(token: str, provider: Provider) -> str:
    """A secret-key signature whose secret is the provider's public key (RFC 8725, 2.1)."""
    begun = f"{base64_of({'alg': 'HS256', 'kid': provider.key.kid})}.{token.split('.')[1]}"
    seal = hmac.digest(provider.key.as_pem(private=False), begun.encode(), "sha256")
    return f"{begun}.{base64.urlsafe_b64encode(seal).rstrip(b'=').decode()}"


def base64_of(header: dict[str, object]) -> str:
    return base64.urlsafe_b64encode(json.dumps(header).encode()).rstrip(b"=").decode()


@pytest.mark.parametrize("forge", [signed_by_nobody, signed_by_what_all_know, lambda token, _: "a.b", lambda *_: 5])
def test_a_token_that_anybody_could_have_made_opens_nothing(
    ctx: service.Context,
    people: dict[str, str],
    provider: Provider,
    monkeypatch: pytest.MonkeyPatch,
    forge: Callable[[str, Provider], object],
) -> None:
    service.set_subject(ctx, people["Bo Reyes"], provider.person)
    right = provider.token
    monkeypatch.setattr(provider, "token", lambda fields: {"id_token": forge(right(fields)["id_token"], provider)})
    person = Person(app_with(ctx, provider))
    assert sign_on(person).status_code == 403
    assert "/sign-in" in person.client.get("/").headers["Location"]


def test_a_claim_without_a_value_names_nobody_even_where_an_account_is_called_so(
    ctx: service.Context, people: dict[str, str], provider: Provider
) -> None:
    service.set_subject(ctx, people["Bo Reyes"], "None")
    provider.claims = {"email": None, "email_verified": True}
    assert sign_on(Person(app_with(ctx, provider, "email"))).status_code == 403


@pytest.mark.parametrize("changed", [{"token_endpoint": "file:///etc/passwd"}, {"jwks_uri": "http://keys.example/"}])
def test_a_provider_that_leads_to_an_unproven_address_is_not_followed(
    ctx: service.Context,
    people: dict[str, str],
    provider: Provider,
    monkeypatch: pytest.MonkeyPatch,
    changed: dict[str, str],
) -> None:
    right = provider.describe()
    monkeypatch.setattr(provider, "describe", lambda: {**right, **changed})
    answer = Person(app_with(ctx, provider)).client.get("/sign-in/company")
    assert answer.status_code == 400
    assert "is not an https address" in read(answer.text).text


def test_whom_the_company_names_needs_an_account_that_is_open(
    ctx: service.Context, people: dict[str, str], provider: Provider
) -> None:
    app = app_with(ctx, provider)
    stranger = sign_on(Person(app))
    assert stranger.status_code == 403
    assert "names nobody who has an account here" in read(stranger.text).text
    service.set_subject(ctx, people["Bo Reyes"], provider.person)
    service.close_account(ctx, people["Bo Reyes"])
    assert sign_on(Person(app)).status_code == 403


def test_an_address_that_the_company_did_not_verify_names_nobody(
    ctx: service.Context, people: dict[str, str], provider: Provider
) -> None:
    service.set_subject(ctx, people["Bo Reyes"], "bo@lumovane.example")
    app = app_with(ctx, provider, "email")
    provider.claims = {"email": "bo@lumovane.example"}
    assert sign_on(Person(app)).status_code == 403
    provider.claims["email_verified"] = True
    assert sign_on(Person(app)).status_code == 303


def test_a_provider_that_does_not_answer_is_said_and_the_password_stays(
    ctx: service.Context, people: dict[str, str]
) -> None:
    app = create_app(ctx, company=CompanySignOn("http://127.0.0.1:9", CLIENT, SECRET))
    answer = Person(app).client.get("/sign-in/company")
    assert answer.status_code == 502
    shown = read(answer.text).text
    assert "could not be used: nothing listens at its address and port. Try again in a minute" in shown
    assert "sign in with name and password" in shown


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        ('issuer = "http://sign-on.example"\nclient_id = "a"\nclient_secret = "b"', "not an https address"),
        ('issuer = "https://sign-on.example"', "cannot be used"),
        ("issuer", "cannot be used"),
        ('issuer = "https://a.example"\nclient_id = "a"\nclient_secret = "b"\nclaim = "name"', "names nobody"),
    ],
)
def test_a_file_of_a_character_on_that_cannot_be_used_says_why(text: str, fault: str) -> None:
    with pytest.raises(BadRequest, match=fault):
        service.read_company_sign_on("sign-on.toml", text.encode())


def page_fields(person: Person) -> dict[str, str]:
    page = read(person.client.get(f"{ADDRESS}/receipt").text)
    return {e.attributes["name"]: e.attributes["value"] for e in page.all("input", type="hidden")}


def test_a_pin_confirms_on_somebody_elses_phone_by_the_name_of_the_account(
    app: Flask, ctx: service.Context, people: dict[str, str]
) -> None:
    manager, rep = Person(app), Person(app)
    manager.sign_in("Cem Ortiz")
    rep.sign_in("Bo Reyes")
    for weak in ("12345", "123456", "777777", "12a456", "1234567890123"):
        assert manager.send("POST", "/account/pin", pin=weak).status_code == 400, weak
    assert manager.send("POST", "/account/pin", pin="408213").status_code == 303
    fields = {**page_fields(rep), "how": "exceptions", "short": "searched", "role": "King"}
    wrong = rep.client.post(f"{ADDRESS}/receipt", data={**fields, "name": "Cem Ortiz", "pin": "408214"})
    assert wrong.status_code == 403
    assert "The name and the PIN do not match" in read(wrong.text).text
    given = rep.client.post(f"{ADDRESS}/receipt", data={**fields, "name": " cem  ortiz", "pin": "408213"})
    text = read(rep.client.get(given.headers["Location"]).text).text
    assert "Confirmed by Cem Ortiz" in text and "Store manager" in text and "King" not in text
    assert "Confirmed by the PIN of Cem Ortiz" in text and "Signed on the phone of Bo Reyes" in text
    stored = b"".join(path.read_bytes() for path in ctx.data.rglob("*") if path.is_file())
    assert b"408213" not in stored


def test_guessing_a_pin_is_slowed_down_and_another_stores_manager_has_none_here(
    app: Flask, ctx: service.Context, people: dict[str, str]
) -> None:
    far = service.add_person(ctx, "Dia Novak", Role.STORE_MANAGER, WORDS, stores=["0422"])
    rep, dia = Person(app), Person(app)
    rep.sign_in("Bo Reyes")
    dia.sign_in("Dia Novak")
    assert dia.send("POST", "/account/pin", pin="408213").status_code == 303
    assert service.list_people(ctx)[-1].person_id == far.person_id and service.list_people(ctx)[-1].has_pin
    fields = {**page_fields(rep), "how": "exceptions", "short": "searched", "name": "Dia Novak", "pin": "408213"}
    answers = [rep.client.post(f"{ADDRESS}/receipt", data=fields).status_code for _ in range(3)]
    actions = [{"X-Action": str(uuid4())} for _ in range(3)]
    answers += [rep.client.post(f"{ADDRESS}/receipt", data=fields, headers=each).status_code for each in actions]
    assert answers == [403] * 5 + [429], "also where a phone's outbox sends it"
    assert service.get_shipment(ctx, "S-2041/A").receipts == ()
    assert rep.sign_in("Bo Reyes").status_code == 303, "passwords are counted apart"


def test_a_person_changes_his_own_password_knowing_the_old_one_and_is_signed_out_elsewhere(
    app: Flask, people: dict[str, str]
) -> None:
    here, elsewhere = Person(app), Person(app)
    here.sign_in("Bo Reyes")
    elsewhere.sign_in("Bo Reyes")
    wrong = here.send("POST", "/account/password", old="not this one!", new=OTHER)
    assert wrong.status_code == 400
    assert here.send("POST", "/account/password", old=WORDS, new="short").status_code == 400
    assert here.send("POST", "/account/password", old=WORDS, new=OTHER).status_code == 303
    assert here.client.get("/account").status_code == 200
    assert "/sign-in" in elsewhere.client.get("/account").headers["Location"]
    assert Person(app).sign_in("Bo Reyes").status_code == 403
    assert Person(app).sign_in("Bo Reyes", OTHER).status_code == 303


def test_a_person_sees_where_he_is_signed_in_and_ends_it_elsewhere(app: Flask, people: dict[str, str]) -> None:
    here, elsewhere = Person(app), Person(app)
    here.sign_in("Bo Reyes")
    elsewhere.sign_in("Bo Reyes")
    text = read(here.client.get("/account").text).text
    assert text.count("used last") == 2 and text.count("this browser") == 1
    assert here.send("POST", "/account/sessions").status_code == 303
    assert "/sign-in" in elsewhere.client.get("/account").headers["Location"]
    assert here.client.get("/account").status_code == 200


def test_signing_in_again_ends_the_session_before(app: Flask, ctx: service.Context, people: dict[str, str]) -> None:
    person = Person(app)
    person.sign_in("Bo Reyes")
    old = person.client.get_cookie("session")
    assert old is not None and person.sign_in("Cem Ortiz").status_code == 303
    assert service.find_access(ctx, old.value) is None


def test_a_passkey_that_nobody_here_made_opens_nothing(app: Flask, people: dict[str, str]) -> None:
    person = Person(app)
    options = person.send("POST", "/sign-in/passkey/options")
    assert options.json["userVerification"] == "required" and options.json["rpId"] == "localhost"
    for credential in ("", "{}", "[]", '{"id": "x", "response": {"clientDataJSON": "e30"}}', "\x00"):
        answer = person.send("POST", "/sign-in/passkey", credential=credential)
        assert answer.status_code in (400, 403), credential


SPRING = "S-3001"


@pytest.fixture
def programmes(ctx: service.Context, people: dict[str, str]) -> Person:
    """A rep of one programme alone; a shipment of it, to a store that has another shipment of none."""
    header = "shipment,store,carton,kind,sscc,references,visit_date\n"
    rows = f"{SPRING},0417,01,tray,395200000000009008,programme=Spring reset,2026-03-06\n"
    service.import_manifest(ctx, "spring.csv", (header + rows).encode())
    service.add_person(ctx, "Eva Lind", Role.REP, WORDS, programmes=["Spring reset"])
    service.add_person(ctx, "Fin Moss", Role.COORDINATOR, WORDS, programmes=["Spring reset"])
    app = create_app(ctx)
    person = Person(app)
    assert person.sign_in("Eva Lind").status_code == 303
    return person


def test_who_sees_one_programme_sees_no_shipment_of_another(programmes: Person) -> None:
    assert programmes.client.get(f"/s/{SPRING}").status_code == 200
    for path in (ADDRESS, f"{ADDRESS}/receipt", f"{ADDRESS}/manifest", "/stores/0417/request"):
        assert programmes.client.get(path).status_code == 404, path
    text = read(programmes.client.get("/").text).text
    assert SPRING in text and "S-2041/A" not in text
    assert programmes.client.get(f"/00/{sscc(3)}").status_code == 404
    coordinator = Person(programmes.client.application)
    coordinator.sign_in("Fin Moss")
    for path in ("/overview", "/overview.csv", "/call-list.csv", "/programme"):
        found = coordinator.client.get(path)
        assert found.status_code == 200 and "S-2041/A" not in found.text, path
    refused = coordinator.send("POST", "/overview/decide", shipment="S-2041/A", go="true")
    assert refused.status_code == 404


def test_a_coordinator_changes_a_role_and_what_somebody_sees_at_once(
    app: Flask, ctx: service.Context, people: dict[str, str]
) -> None:
    ada, bo = Person(app), Person(app)
    ada.sign_in("Ada Lund")
    bo.sign_in("Bo Reyes")
    assert bo.client.get(ADDRESS).status_code == 200
    changed = ada.send("POST", f"/people/{people['Bo Reyes']}", what="scope", role="rep", stores="0422")
    assert changed.status_code == 303
    assert bo.client.get(ADDRESS).status_code == 404
    assert bo.client.get("/s/S-2055").status_code == 200
    own = ada.send("POST", f"/people/{people['Ada Lund']}", what="scope", role="rep", stores="")
    assert own.status_code == 409, "nobody could add people any more"


def signed_on(ctx: service.Context, people: dict[str, str], provider: Provider, **claims: object) -> Person:
    """Somebody whom the company's sign-on names with these claims too."""
    service.set_subject(ctx, people["Bo Reyes"], provider.person)
    provider.claims = claims
    person = Person(app_with(ctx, provider))
    sign_on(person)
    return person


def is_in(person: Person) -> bool:
    return person.client.get(ADDRESS).status_code == 200


def test_a_session_lasts_from_when_the_company_asked_and_not_longer(
    ctx: service.Context, people: dict[str, str], provider: Provider
) -> None:
    asked_at = NOW - timedelta(days=26)
    person = signed_on(ctx, people, provider, auth_time=int(asked_at.timestamp()))
    assert is_in(person)
    ctx.now = lambda: asked_at + timedelta(days=30, seconds=-1)  # type: ignore[method-assign]
    assert is_in(person)
    ctx.now = lambda: asked_at + timedelta(days=30)  # type: ignore[method-assign]
    assert not is_in(person)
    provider.now_s = int(ctx.now().timestamp())
    assert sign_on(person).status_code == 403, "it asked too long ago"
    provider.claims = {"auth_time": provider.now_s}
    assert sign_on(person).status_code == 303 and is_in(person)


def test_a_session_of_the_company_ends_unused_after_a_week_and_not_with_the_providers_own(
    ctx: service.Context, people: dict[str, str], provider: Provider
) -> None:
    person = signed_on(ctx, people, provider, auth_time=int(NOW.timestamp()))
    provider.person = "gone"  # what the provider says later is not asked for
    ctx.now = lambda: NOW + timedelta(days=6)  # type: ignore[method-assign]
    assert is_in(person)
    ctx.now = lambda: NOW + timedelta(days=14)  # type: ignore[method-assign]
    assert not is_in(person)
    assert sign_on(person).status_code == 403


@pytest.mark.parametrize("auth_time", [None, "yesterday", True, -1e30, int((NOW - timedelta(days=1)).timestamp())])
def test_who_was_asked_long_ago_or_nobody_knows_when_changes_nothing_of_how_he_signs_in(
    ctx: service.Context, people: dict[str, str], provider: Provider, auth_time: object
) -> None:
    person = signed_on(ctx, people, provider, **({} if auth_time is None else {"auth_time": auth_time}))
    assert is_in(person) is (auth_time not in ("yesterday", -1e30))
    if is_in(person):
        assert person.send("POST", "/account/pin", pin="417417").status_code == 403
        again = read(person.client.get("/account").text).all("a")
        (way,) = [each.attributes["href"] for each in again if "/sign-in/company" in str(each.attributes.get("href"))]
        asked = parse_qs(urlsplit(person.client.get(str(way)).headers["Location"]).query)
        assert (asked["max_age"], asked["prompt"]) == (["0"], ["login"])


def test_who_was_asked_just_now_may_change_how_he_signs_in(
    ctx: service.Context, people: dict[str, str], provider: Provider
) -> None:
    person = signed_on(ctx, people, provider, auth_time=int(NOW.timestamp()) - 60)
    assert 'name="again"' not in person.client.get("/account").text
    asked = parse_qs(urlsplit(person.client.get("/sign-in/company").headers["Location"]).query)
    assert asked["max_age"] == [str(30 * 24 * 3600)] and "prompt" not in asked
