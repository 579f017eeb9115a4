"""What the company's sign-on is refused for: each in words with what to do next, in the audit log, no session."""

from collections.abc import Callable
from datetime import timedelta
from typing import Any
from urllib.parse import parse_qs, urlencode, urlsplit

import pytest

from receiving import service
from receiving.service import CompanySignOn
from tests.web.page_text import read
from tests.web.provider import CLIENT, SECRET, Provider
from tests.web.scenario import NOW
from tests.web.test_access import ADDRESS, Person
from tests.web.test_signing_on import app_with, people, provider, signed_on_at
from web import create_app

__all__ = ["people", "provider"]


@pytest.fixture
def bo(ctx: service.Context, people: dict[str, str], provider: Provider) -> Person:
    """A browser at a service whose company names Bo Reyes."""
    service.set_subject(ctx, people["Bo Reyes"], provider.person)
    return Person(app_with(ctx, provider))


def is_refused(ctx: service.Context, person: Person, answer: Any, status: int, words: str) -> None:
    assert answer.status_code == status
    page = read(answer.text).text
    assert words in page
    assert any(step in page for step in ("Begin again", "Ask ", "Try again in a minute, or sign in")), page
    assert "session" not in "".join(answer.headers.getlist("Set-Cookie")).replace("sign_on", "")
    assert "/sign-in" in person.client.get("/").headers["Location"]
    assert [line.detail for line in service.list_audit(ctx) if line.action == "sign_in_refused"] == ["company sign-on"]


def left(person: Person) -> str:
    return str(person.client.get(f"/sign-in/company?back={ADDRESS}").headers["Location"])


def changed(path: str, **values: str | None) -> str:
    parts = urlsplit(path)
    query = {name: each[0] for name, each in parse_qs(parts.query).items()} | values
    return f"{parts.path}?{urlencode({name: value for name, value in query.items() if value is not None})}"


def test_a_code_that_was_used_before_opens_nothing(ctx: service.Context, bo: Person) -> None:
    first = signed_on_at(left(bo))
    assert bo.client.get(first).status_code == 303
    code = parse_qs(urlsplit(first).query)["code"][0]
    thief = Person(bo.client.application)
    answer = thief.client.get(changed(signed_on_at(left(thief)), code=code))
    is_refused(ctx, thief, answer, 403, "The company's sign-on did not accept the answer")


@pytest.mark.parametrize("error", ["access_denied", "login_required", "<script>"])
def test_who_is_turned_away_at_the_company_is_told_so(ctx: service.Context, bo: Person, error: str) -> None:
    back = changed(signed_on_at(left(bo)), code=None, error=error)
    answer = bo.client.get(back)
    is_refused(ctx, bo, answer, 403, "The company's sign-on did not let you in")
    assert "<script>" not in answer.text
    assert bo.client.get(back).status_code == 403, "the state is over too"


@pytest.mark.parametrize(
    "values",
    [
        {"iss": "https://another.example"},
        {"state": "x" * 43},
        {"state": ""},
        {"state": None, "code": None},
    ],
)
def test_an_answer_that_is_not_to_this_sign_in_opens_nothing(
    ctx: service.Context, bo: Person, values: dict[str, str | None]
) -> None:
    answer = bo.client.get(changed(signed_on_at(left(bo)), **values))
    is_refused(ctx, bo, answer, 403, "does not belong to a sign-in of this browser")


def test_an_answer_after_ten_minutes_opens_nothing(
    ctx: service.Context, bo: Person, monkeypatch: pytest.MonkeyPatch
) -> None:
    back = signed_on_at(left(bo))
    monkeypatch.setattr(ctx, "now", lambda: NOW + timedelta(minutes=11))
    is_refused(ctx, bo, bo.client.get(back), 403, "does not belong to a sign-in of this browser")


@pytest.mark.parametrize(
    "claims",
    [
        {"email": "another@lumovane.example", "email_verified": True},
        {"email_verified": True},
        {"email": "", "email_verified": True},
        {"email": "bo@lumovane.example"},
        {"email": "bo@lumovane.example", "email_verified": False},
        {"email": "bo@lumovane.example", "email_verified": "true"},
        {"email": ["bo@lumovane.example"], "email_verified": True},
    ],
)
def test_an_address_that_is_another_missing_or_unverified_opens_nothing(
    ctx: service.Context, people: dict[str, str], provider: Provider, claims: dict[str, object]
) -> None:
    service.set_subject(ctx, people["Bo Reyes"], "bo@lumovane.example")
    provider.claims, person = claims, Person(app_with(ctx, provider, "email"))
    answer = person.client.get(signed_on_at(left(person)))
    verified = claims.get("email_verified") is True
    words = "names nobody who has an account here" if verified else "has not verified your e-mail address"
    is_refused(ctx, person, answer, 403, words)


def test_who_is_switched_off_is_not_let_in_and_not_kept_in(
    ctx: service.Context, people: dict[str, str], bo: Person
) -> None:
    assert bo.client.get(signed_on_at(left(bo))).status_code == 303
    assert bo.client.get(ADDRESS).status_code == 200
    service.close_account(ctx, people["Bo Reyes"])
    assert "/sign-in" in bo.client.get(ADDRESS).headers["Location"]
    is_refused(ctx, bo, bo.client.get(signed_on_at(left(bo))), 403, "names nobody who has an account here")


@pytest.mark.parametrize(
    ("spoil", "words"),
    [
        (lambda it: {**it, "issuer": "https://another.example"}, "does not describe itself as the issuer"),
        (lambda it: {name: it[name] for name in ("issuer", "jwks_uri")}, "its description lacks one of"),
        (lambda it: [it], "does not describe itself as the issuer"),
        (lambda it: {**it, "token_endpoint": 5}, "its description lacks one of"),
    ],
)
def test_a_provider_that_describes_itself_wrongly_lets_nobody_leave_or_come(
    ctx: service.Context,
    bo: Person,
    provider: Provider,
    monkeypatch: pytest.MonkeyPatch,
    spoil: Callable[[dict[str, Any]], object],
    words: str,
) -> None:
    right, back = provider.describe(), signed_on_at(left(bo))
    monkeypatch.setattr(provider, "describe", lambda: spoil(right))
    leaving = bo.client.get("/sign-in/company")
    assert leaving.status_code == 502
    assert words in read(leaving.text).text
    is_refused(ctx, bo, bo.client.get(back), 502, words)


def test_a_provider_that_is_down_when_somebody_comes_back_opens_nothing(
    ctx: service.Context, bo: Person, provider: Provider, monkeypatch: pytest.MonkeyPatch
) -> None:
    back, company = signed_on_at(left(bo)), bo.client.application.config
    down = CompanySignOn("http://127.0.0.1:9", CLIENT, SECRET)
    monkeypatch.setitem(company, "COMPANY", down)
    is_refused(ctx, bo, bo.client.get(back), 502, "The company's sign-on could not be used")


@pytest.mark.parametrize("keys", [[], {}, {"keys": []}, {"keys": [{"kty": "oct", "k": "A" * 43}]}, "x"])
def test_keys_that_are_none_let_nobody_in(
    ctx: service.Context, bo: Person, provider: Provider, monkeypatch: pytest.MonkeyPatch, keys: object
) -> None:
    from receiving.service import company_sign_on

    right = company_sign_on._fetch
    monkeypatch.setattr(company_sign_on, "_fetch", lambda at, *more: keys if at.endswith("/keys") else right(at, *more))
    is_refused(ctx, bo, bo.client.get(signed_on_at(left(bo))), 403, "gave a token that is not valid")


@pytest.mark.parametrize("elsewhere", ["https://evil.example/", "//evil.example", "/\\evil.example", "/%0d%0aX:1", "x"])
def test_signing_on_leads_to_no_other_site(ctx: service.Context, bo: Person, elsewhere: str) -> None:
    leaving = bo.client.get("/sign-in/company", query_string={"back": elsewhere})
    done = bo.client.get(signed_on_at(leaving.headers["Location"]))
    assert done.status_code == 303
    assert urlsplit(done.headers["Location"]).netloc == ""
    assert done.headers["Location"] in ("/", "/%0d%0aX:1")


def test_a_service_without_a_company_says_so(ctx: service.Context, people: dict[str, str]) -> None:
    person = Person(create_app(ctx))
    for path in ("/sign-in/company", "/sign-in/company/back?state=x&code=x"):
        answer = person.client.get(path)
        assert answer.status_code == 404
        assert "Sign in with name and password" in read(answer.text).text
