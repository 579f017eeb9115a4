"""Every page and form, and every call of the API, under schemathesis as each role and each kind of token.

    pip install schemathesis
    nice python tests/bench/role_fuzz.py [--as rep stranger token:read …] [--examples 8] [--seconds 900]

The service runs in a process of its own with three shipments: one to the role's own store, one to another store, one
of another programme. What each role may ask for is described as OpenAPI from the routes and the table of rights: where
it may not, only a refusal is described, so an answer that lets it in fails as undocumented; so does a page of another
store, and any 500. The run ends with status 1 where a check fails or where it is not finished in time.
"""

import argparse
import http.client
import inspect
import json
import re
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any
from urllib.parse import quote, urlencode

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from flask import Flask  # noqa: E402
from werkzeug.routing import AnyConverter, IntegerConverter, Rule  # noqa: E402

from receiving import service  # noqa: E402
from receiving.model import Access, DataScope, Right, Role  # noqa: E402
from tests.bench.fuzz_requests import NAMES, RIGHT  # noqa: E402
from tests.bench.served import Served  # noqa: E402
from tests.planned_reader import PlannedReader  # noqa: E402
from tests.web.scenario import LAYOUT, MANIFEST, SHIPMENT  # noqa: E402
from web import create_app  # noqa: E402
from web.access import PUBLIC, has_own_tokens, needed_right  # noqa: E402
from web.api_description import description  # noqa: E402

OWN, OTHER, ELSEWHERE = SHIPMENT, "S-2055", "S-3001"
"""To store 0417; to store 0422; to store 0417 of a programme that the limited people do not see."""
SPRING = (
    "shipment,store,carton,kind,sscc,references,visit_date\n"
    f"{ELSEWHERE},0417,01,tray,395200000000009008,programme=Spring reset,2026-03-06\n"
)
WORDS = "four plain words here"
PEOPLE = {"coordinator": Role.COORDINATOR, "rep": Role.REP, "manager": Role.STORE_MANAGER}
ROLES = ("coordinator", "rep", "manager", "staff", "stranger")
TOKENS = ("token:read", "token:scan", "token:notice", "token:read,scan,notice", "token:other", "token:none")
ENDS_SESSION = {"people.sign_out", "account.again", "people.begin", "people.enter", "signing_on.by_passkey"}
"""Not sent: the session that everything else is asked with would be over."""
BY_ITSELF = {"static", "phone.asset", "manners.metrics"}
REFUSED = ("400", "403", "404", "405", "413", "414", "415", "429", "431", "503")
"""What may be answered to a request that is refused, or that no route takes."""
LET_IN = (*REFUSED, "200", "202", "204", "206", "302", "303", "304", "406", "409", "410", "416", "422")


def fill(data: Path) -> dict[str, str]:
    """Shipments, people and tokens; gives what each is let in by: a password, a link's secret or a token's."""
    secrets = {}
    with service.Context(data, PlannedReader()) as ctx:
        service.import_manifest(ctx, "m.csv", MANIFEST.encode())
        service.import_manifest(ctx, "spring.csv", SPRING.encode())
        service.import_layout(ctx, "layout.toml", LAYOUT.encode())
        for name, role in PEOPLE.items():
            service.add_person(ctx, name, role, WORDS, stores=None if role is Role.COORDINATOR else ["0417"])
            secrets[name] = WORDS
        secrets["staff"] = service.make_link(ctx, OWN, "Dock team", days=30, by="coordinator")[1]
        for name in TOKENS[:4]:
            secrets[name] = service.make_api_token(ctx, name, name.partition(":")[2].split(","), by="coordinator")[1]
        other = service.make_api_token(ctx, "other", list(service.Scope), by="coordinator", stores=["0999"])[1]
        secrets |= {"token:other": other, "token:none": "rcv_nobody"}
    return secrets


def session_of(port: int, role: str, secret: str) -> list[str]:
    """The headers of a browser that this role signed in with."""
    cookies: dict[str, str] = {}

    def ask(method: str, path: str, body: str = "") -> int:
        line = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
        headers = {"Cookie": "; ".join(f"{k}={v}" for k, v in cookies.items())}
        if body:
            headers["Content-Type"] = "application/x-www-form-urlencoded"
        line.request(method, path, body or None, headers)
        answer = line.getresponse()
        for each in answer.msg.get_all("Set-Cookie") or []:
            name, _, value = each.partition(";")[0].partition("=")
            cookies[name] = value
        return answer.status

    ask("GET", "/sign-in")
    if role in PEOPLE:
        form = urlencode({"token": cookies["token"], "name": role, "password": secret})
        assert ask("POST", "/sign-in", form) == 303, role
    elif role == "staff":
        assert ask("POST", "/come", urlencode({"token": cookies["token"], "secret": secret})) == 303
    ask("GET", "/sign-in")  # the token of this session's forms
    return [f"Cookie: {'; '.join(f'{k}={v}' for k, v in cookies.items())}", f"X-Token: {cookies['token']}"]


def may(role: str, right: Right | None) -> bool:
    """This role, as it was made here, has this right."""
    if role == "stranger" or right is None:
        return False
    scope = DataScope() if role == "coordinator" else DataScope(frozenset({"0417"}))
    return Access("x", PEOPLE.get(role, Role.STORE_STAFF), scope=scope).may(right)


def parameter(name: str, rule: Rule) -> dict[str, Any]:
    converter = rule._converters[name]
    kind: dict[str, Any] = {"type": "string", "minLength": 1, "examples": ["05", "0417"]}
    if isinstance(converter, IntegerConverter):
        kind = {"type": "integer", "minimum": 0, "maximum": 999_999, "examples": [1]}
    elif isinstance(converter, AnyConverter):
        kind = {"enum": sorted(converter.items)}
    return {"name": name, "in": "path", "required": True, "schema": kind}


def body_of(app: Flask, rule: Rule) -> dict[str, Any]:
    """A form with the names that the view reads, or with any name where it reads them elsewhere."""
    source = inspect.getsource(inspect.unwrap(app.view_functions[rule.endpoint]))
    names = sorted(set(re.findall(r'form(?:\.get(?:list)?\(|\[)"(\w+)"', source))) or NAMES[:12]
    value = {"anyOf": [{"enum": list(RIGHT[:60])}, {"type": "string"}]}
    form = {"type": "object", "properties": dict.fromkeys(names, value), "additionalProperties": False}
    return {"content": {"application/x-www-form-urlencoded": {"schema": form}}}


def answers(role: str, rule: Rule, method: str, shipment: str) -> Sequence[str]:
    """The statuses that this role may be given."""
    if rule.endpoint in PUBLIC:
        return LET_IN if rule.endpoint != "signing_on.leave" else (*LET_IN, "502")
    if role == "stranger":
        return (*REFUSED, "401", "302") if method == "GET" else (*REFUSED, "401")
    if not may(role, needed_right(rule.endpoint)):
        return REFUSED
    unseen = {"staff": {OTHER, ELSEWHERE}, "rep": {OTHER}, "manager": {OTHER}}.get(role, set())
    return REFUSED if shipment in unseen else LET_IN


def operations(app: Flask, role: str) -> Iterator[tuple[str, str, dict[str, Any]]]:
    """Every route as this role, each shipment in an operation of its own."""
    for rule in app.url_map.iter_rules():
        if rule.endpoint in ENDS_SESSION | BY_ITSELF or has_own_tokens(rule.endpoint):
            continue
        for method in sorted((rule.methods or set()) & {"GET", "POST"}):
            for shipment in (OWN, OTHER, ELSEWHERE) if "shipment" in rule.arguments else ("",):
                path = re.sub(r"<(?:[^<>:]*:)?(\w+)>", r"{\1}", rule.rule)
                path = path.replace("{shipment}", quote(shipment.replace("/", "~2F"), safe="~"))
                found: dict[str, Any] = {
                    "operationId": f"{method} {rule.endpoint} {shipment}",
                    "parameters": [parameter(n, rule) for n in sorted(rule.arguments) if n != "shipment"],
                    "responses": {each: {"description": each} for each in answers(role, rule, method, shipment)},
                }
                if method == "POST":
                    found["requestBody"] = body_of(app, rule)
                yield path, method.lower(), found


def pages_as(app: Flask, role: str) -> dict[str, Any]:
    paths: dict[str, dict[str, Any]] = {}
    for path, method, found in operations(app, role):
        paths.setdefault(path, {})[method] = found
    return {"openapi": "3.1.0", "info": {"title": role, "version": "1"}, "paths": paths}


def api_as(scopes: set[str], *, allowed: bool) -> dict[str, Any]:
    """The service's own description, of the calls that these scopes open, or of those that they do not."""
    found = description()
    for path, methods in list(found["paths"].items()):
        for method, each in list(methods.items()):
            if (each["x-scope"] in scopes) != allowed:
                del methods[method]
            elif not allowed:
                kept = {"400", "401", "403", "405"} | ({"404"} if "{number}" in path else set())  # no route has it
                each["responses"] = {k: v for k, v in each["responses"].items() if k in kept}
        if not methods:
            del found["paths"][path]
    return found


class Run:
    """Runs of schemathesis against one server until a time."""

    def __init__(self, program: str, port: int, folder: Path, examples: int, seconds: int) -> None:
        self.program, self.port, self.folder, self.examples = program, port, folder, examples
        self.until = time.monotonic() + seconds

    def check(
        self,
        name: str,
        described: dict[str, Any],
        headers: list[str],
        checks: str,
        without: str = "",
        phases: str = "examples,fuzzing",
    ) -> bool:
        if not described["paths"]:
            return True
        file = self.folder / f"{re.sub(r'[^a-z]+', '-', name)}.json"
        file.write_text(json.dumps(described))
        command = [self.program, "run", str(file), "--url", f"http://127.0.0.1:{self.port}", "--checks", checks]
        command += [word for header in headers for word in ("--header", header)]
        command += ["--exclude-checks", without] if without else []
        command += ["--max-examples", str(self.examples), "--phases", phases, "--seed", "17"]
        command += ["--max-redirects", "0", "--request-timeout", "60", "--continue-on-failure"]
        began, left = time.monotonic(), self.until - time.monotonic()
        try:
            status = subprocess.run(command, cwd=self.folder, timeout=max(1, left), check=False).returncode
        except subprocess.TimeoutExpired:
            print(f"{name}: not finished")
            return False
        print(f"{name}: {'whole' if status == 0 else 'FAILED'} in {time.monotonic() - began:.0f} s", flush=True)
        return status == 0


BESIDE = str(Path(sys.executable).with_name("schemathesis"))


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--as", dest="roles", nargs="+", choices=(*ROLES, *TOKENS), default=[*ROLES, *TOKENS])
    parser.add_argument("--examples", type=int, default=8)
    parser.add_argument(
        "--phases", default="examples,fuzzing", help="of the calls that a token may make; or with coverage"
    )
    parser.add_argument("--seconds", type=int, default=3600)
    parser.add_argument("--schemathesis", default=BESIDE if Path(BESIDE).exists() else "schemathesis")
    given = parser.parse_args()
    whole = True
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        secrets = fill(folder / "data")
        with service.Context(folder / "elsewhere", PlannedReader()) as ctx:
            app = create_app(ctx)
        with Served.at(folder / "data") as served:
            run = Run(given.schemathesis, served.port, folder, given.examples, given.seconds)
            for role in given.roles:
                if not role.startswith("token:"):
                    headers = session_of(served.port, role, secrets.get(role, ""))
                    checks = "not_a_server_error,status_code_conformance"
                    whole &= run.check(role, pages_as(app, role), headers, checks)
                    continue
                names = role.partition(":")[2].split(",")
                scopes = {"read", "scan", "notice"} if names == ["other"] else set(names) - {"none"}
                headers = [f"Authorization: Bearer {secrets[role]}"]
                # No description can say which bytes are a photo or a notice, nor which shipment is another store's.
                without = "" if names == ["read"] else "positive_data_acceptance"
                opened = api_as(scopes, allowed=True)
                whole &= run.check(f"{role} may", opened, headers, "all", without, phases=given.phases)
                refused = "not_a_server_error,status_code_conformance,content_type_conformance"
                closed = api_as(scopes, allowed=False)
                whole &= run.check(f"{role} may not", closed, headers, refused)
    return 0 if whole else 1


if __name__ == "__main__":
    raise SystemExit(main())
