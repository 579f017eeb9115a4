"""Who is let in before there are accounts, by which name, and whom a proxy in front may name: at a served instance."""

import http.client

import pytest

from receiving import service
from receiving.errors import BadRequest
from receiving.model import Role
from tests.web.page_text import read
from tests.web.test_access import ADDRESS, WORDS
from tests.web.test_serve import running
from web.serve import make_server

NAMED = "X-Signed-On"


def asked(port: int, path: str, *headers: tuple[str, str], host: str = "localhost") -> tuple[int, str, str]:
    """The status, where it leads, and the words."""
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
    connection.putrequest("GET", path, skip_host=True)
    for name, value in (("Host", host), *headers):
        connection.putheader(name, value)
    connection.endheaders()
    answer = connection.getresponse()
    found = answer.status, answer.headers.get("Location", ""), read(answer.read().decode("utf-8", "replace")).text
    connection.close()
    return found


@pytest.mark.parametrize(
    "host",
    ["0.0.0.0", "::", "", "::ffff:0.0.0.0", "192.0.2.1", "2001:db8::1", "receiving.example", "localhost.example"],
)
def test_without_an_account_nothing_but_this_machine_is_listened_to(ctx: service.Context, host: str) -> None:
    with pytest.raises(BadRequest, match=r"no account yet, and .* from other machines") as refused:
        make_server(ctx, host=host, port=0)
    assert "receiving user add NAME --role coordinator" in str(refused.value.next_step)


@pytest.mark.parametrize("host", ["127.0.0.1", "localhost", "127.0.0.2"])
def test_without_an_account_this_machine_is_running(ctx: service.Context, host: str) -> None:
    make_server(ctx, host=host, port=0).close()


@pytest.mark.parametrize(
    "host",
    ["evil.example", "evil.example:8000", "localhost.evil.example", "127.0.0.1.evil.example", "localhost@evil.example"],
)
def test_a_foreign_name_that_leads_to_this_machine_reads_and_writes_nothing(ctx: service.Context, host: str) -> None:
    """DNS rebinding: a page of that name would be let in as the one user of this machine."""
    with running(ctx) as port:
        for path in ("/", ADDRESS, "/overview.csv", "/api/v1/openapi.json", "/signal"):
            status, _, words = asked(port, path, host=host)
            assert status in (400, 421), path
            assert "S-2041" not in words
        for right in ("localhost", f"localhost:{port}", "127.0.0.1", "[::1]"):
            assert asked(port, "/", host=right)[0] == 200, right


@pytest.fixture
def people(ctx: service.Context) -> dict[str, str]:
    made = [service.add_person(ctx, "Ada Lund", Role.COORDINATOR, WORDS)]
    made += [service.add_person(ctx, name, Role.REP, WORDS) for name in ("Bo Reyes", "Eva Lind")]
    return {each.name: each.person_id for each in made}


def test_whom_a_proxy_names_is_let_in_and_nobody_else(ctx: service.Context, people: dict[str, str]) -> None:
    with running(ctx, proxy="127.0.0.1", proxy_user_header=NAMED) as port:
        status, _, words = asked(port, ADDRESS, (NAMED, "Bo Reyes"))
        assert status == 200 and "Bo Reyes" in words
        service.close_account(ctx, people["Eva Lind"])
        for name in ("", "Nobody Known", "Eva Lind", "Bo Reyes, Ada Lund", "Bo Reyes;Ada Lund", "Bo\tReyes"):
            status, leads, words = asked(port, ADDRESS, (NAMED, name))
            assert (status, leads.startswith("/sign-in")) == (302, True), name
        status, leads, _ = asked(port, ADDRESS, (NAMED, "Ada Lund"), (NAMED, "Bo Reyes"))
        assert (status, leads.startswith("/sign-in")) == (302, True), "a browser may have sent one of the two"
        status, leads, _ = asked(port, ADDRESS, (NAMED.replace("-", "_"), "Ada Lund"))
        assert (status, leads.startswith("/sign-in")) == (302, True), "written otherwise it is not a header of a proxy"
    refused = [line for line in service.list_audit(ctx) if line.action == "sign_in_refused"]
    assert refused and {line.detail for line in refused} == {"proxy"}
    assert not any("Nobody" in str(line) for line in refused)


def test_a_header_from_another_address_than_the_proxys_names_nobody(
    ctx: service.Context, people: dict[str, str]
) -> None:
    with running(ctx, proxy="192.0.2.7", proxy_user_header=NAMED) as port:
        for more in ((), (("X-Forwarded-For", "192.0.2.7"),), (("Forwarded", "for=192.0.2.7"),)):
            status, leads, _ = asked(port, ADDRESS, (NAMED, "Bo Reyes"), *more)
            assert (status, leads.startswith("/sign-in")) == (302, True)
    with running(ctx) as port:
        assert asked(port, ADDRESS, (NAMED, "Bo Reyes"))[0] == 302


def test_actions_of_a_phone_are_of_whom_the_proxy_names(ctx: service.Context, people: dict[str, str]) -> None:
    with running(ctx, proxy="127.0.0.1", proxy_user_header=NAMED) as port:
        connection = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
        connection.request("GET", "/signal", headers={"Host": "localhost", NAMED: "Bo Reyes"})
        answer = connection.getresponse()
        token = answer.read().decode().split('"token":"')[1].split('"')[0]
        cookie = answer.headers["Set-Cookie"].partition(";")[0]
        action = (
            '{"actions":[{"id":"11111111-1111-4111-8111-111111111111","url":"/s/S-2041~2FA/notes","made_at":"",'
            '"made_by":"Bo%20Reyes","fields":[["kind","carton_seen"],["carton","05"]]}]}'
        )
        headers = {"Host": "localhost", NAMED: "Bo Reyes", "Cookie": cookie, "X-Token": token}
        connection.request("POST", "/actions", action, {**headers, "Content-Type": "application/json"})
        assert '"state":"done"' in connection.getresponse().read().decode()
        connection.close()
    assert service.get_shipment(ctx, "S-2041/A").notes[-1].by == "Bo Reyes"
