"""Every method of HTTP at every route: by role and token as the table of rights says, and 405 for the rest."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import timedelta

import pytest
from flask import Flask
from flask.testing import FlaskClient
from werkzeug.routing import Rule
from werkzeug.test import TestResponse

from receiving import service
from receiving.model import RIGHTS, Right, Role
from tests.planned_reader import PlannedReader
from tests.web.scenario import NOW, open_context
from tests.web.test_access import NAMES, OWN, WORDS, Person, path_of
from web import create_app
from web.access import FOR_NOBODY, PUBLIC, has_own_tokens, needed_right
from web.api_description import OPERATIONS

METHODS = ("GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS")
SHIPMENT = "S-2041/A"
SENT_OFF = {"people.sign_out", "account.again", "people.begin", "people.enter", "signing_on.by_passkey"}
"""What ends the session that everything else is asked with."""


@dataclass(frozen=True)
class Sender:
    """Somebody, what he may, and what his requests carry beside cookies."""

    rights: frozenset[Right]
    client: FlaskClient
    token: str
    headers: dict[str, str] = field(default_factory=dict)

    def send(self, method: str, path: str) -> TestResponse:
        body = {} if method in ("GET", "HEAD", "OPTIONS") else {"data": {"token": self.token}}
        answer = self.client.open(path, method=method, headers=self.headers, **body)  # type: ignore[arg-type]
        answer.close()
        return answer


LIMITED = {Role.REP, Role.STORE_MANAGER}
SENDERS = (
    *("stranger", "coordinator", "rep", "store_manager", "store_staff"),
    *("link ended", "link over", "account closed", "session ended", "session over"),
)
CALLERS = ("no token", "token ended", "read", "scan", "notice", "read scan notice")


@pytest.fixture(scope="module")
def ctx(tmp_path_factory: pytest.TempPathFactory) -> Iterator[service.Context]:
    with open_context(tmp_path_factory.mktemp("methods"), PlannedReader()) as ctx:
        for role, name in NAMES.items():
            service.add_person(ctx, name, role, WORDS, stores=[OWN] if role in LIMITED else None)
        service.add_person(ctx, "Eva Lind", Role.COORDINATOR, WORDS)
        yield ctx


@pytest.fixture(scope="module")
def app(ctx: service.Context) -> Flask:
    return create_app(ctx)


@pytest.fixture
def sender(app: Flask, ctx: service.Context, request: pytest.FixtureRequest) -> Iterator[Sender]:
    named = str(request.param)
    person, rights, clock = Person(app), frozenset[Right](), ctx.now
    if named in {role.value for role in NAMES}:
        role = Role(named)
        assert person.sign_in(NAMES[role]).status_code == 303
        rights = RIGHTS[role] - ({Right.ADMINISTER, Right.PREPARE} if role in LIMITED else set())
    elif named in ("store_staff", "link ended", "link over"):
        link, secret = service.make_link(ctx, SHIPMENT, "Dock team", days=3, by="Ada Lund")
        assert person.send("POST", "/come", secret=secret).status_code == 303
        if named == "store_staff":
            rights = RIGHTS[Role.STORE_STAFF]
        elif named == "link ended":
            service.revoke_link(ctx, SHIPMENT, link.link_id)
        else:
            ctx.now = lambda: NOW + timedelta(days=4)
    elif named != "stranger":
        assert person.sign_in("Eva Lind").status_code == 303
        eva = next(each for each in service.list_people(ctx) if each.name == "Eva Lind")
        if named == "account closed":
            service.close_account(ctx, eva.person_id)
            service.open_account(ctx, eva.person_id)
        elif named == "session ended":
            service.set_password(ctx, eva.person_id, WORDS)
        else:
            ctx.now = lambda: NOW + timedelta(days=31)
    yield Sender(rights, person.client, person.token())
    ctx.now = clock


def pages(app: Flask) -> Iterator[tuple[Rule, str]]:
    for rule in app.url_map.iter_rules():
        if not has_own_tokens(rule.endpoint) and rule.endpoint not in SENT_OFF:
            yield rule, path_of(app, rule)


def at_path(app: Flask, path: str) -> dict[str, str]:
    """The endpoint of each method that some route declares at this address."""
    found: dict[str, str] = {}
    routes = app.url_map.bind("localhost")
    for method in METHODS:
        if routes.test(path, method=method):
            found[method] = routes.match(path, method=method)[0]
    return found


def is_let_in(response: TestResponse) -> bool:
    return response.status_code not in (401, 403) and "/sign-in" not in response.headers.get("Location", "")


@pytest.mark.parametrize("sender", SENDERS, indirect=True)
def test_each_method_of_each_page_is_answered_as_the_table_of_rights_says(app: Flask, sender: Sender) -> None:
    wrong, seen = [], 0
    for _, path in pages(app):
        declared = at_path(app, path)
        for method in METHODS:
            answer = sender.send(method, path)
            seen += 1
            at = f"{method} {path}: {answer.status_code}"
            if method not in declared:
                if answer.status_code != 405 or method in answer.headers["Allow"].split(", "):
                    wrong.append(f"{at}, not declared")
                continue
            endpoint = declared[method]
            may = endpoint in PUBLIC | FOR_NOBODY or needed_right(endpoint) in sender.rights
            if is_let_in(answer) != may and endpoint not in PUBLIC:
                wrong.append(f"{at}, {'let in' if may else 'refused'} expected")
            if answer.status_code >= 500 and endpoint != "signing_on.leave":
                wrong.append(at)
    assert not wrong, "\n".join(wrong)
    assert seen > 900


@pytest.mark.parametrize("caller", CALLERS)
def test_each_method_of_each_call_is_answered_as_its_scope_says(app: Flask, ctx: service.Context, caller: str) -> None:
    scopes = caller.split() if caller in CALLERS[2:] else ["read", "scan", "notice"]
    token, secret = service.make_api_token(ctx, caller, scopes, by="Ada Lund")
    if caller == "token ended":
        service.revoke_api_token(ctx, token.token_id)
    headers = {} if caller == "no token" else {"Authorization": f"Bearer {secret}"}
    client, wrong = app.test_client(), []
    for call in OPERATIONS:
        path = "/api/v1" + call.path.format(shipment="S-2041~2FA", photo="0" * 64, number=1, kind="x12")
        for method in METHODS:
            answer = client.open(path, method=method, headers=headers)
            status = answer.status_code
            if method != call.method and (method, call.method) != ("HEAD", "GET"):
                right = status == 405
            elif caller in CALLERS[:2]:
                right = status == 401
            elif call.scope.value not in scopes:
                right = status == 403
            else:
                right = status not in (401, 403, 405) and status < 500
            if not right:
                wrong.append(f"{method} {path}: {status}")
    assert not wrong, "\n".join(wrong)
