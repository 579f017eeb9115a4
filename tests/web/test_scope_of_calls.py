"""Every use case that a page or a call uses, and every query of the store: by what it is limited to what somebody sees.

`docs/who-sees-what.md` has the tables. A new use case or query is not in them, and fails here until somebody says how
it is limited; what is said is held against the code, and what only those who see all may use is tried.
"""

import ast
import inspect
import re
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path

import pytest
from flask import Flask

from receiving import service
from receiving.store import Store
from tests.web.test_scopes import app, asked, ctx, path_to, signed_in
from web.api_description import OPERATIONS

__all__ = ["app", "ctx"]

PROJECT = Path(__file__).parents[2]
PAPER = PROJECT / "docs" / "who-sees-what.md"
ADDRESS, SCOPE, PERSON = "the address", "the scope", "the person"
ADDRESSED = {"shipment", "shipment_id", "store", "store_id"}
OF_ADDRESS = re.compile(r"(shipment|store|named\['(shipment|store)'\]|str\(of\['(shipment|store)'\]\))")


def calls() -> dict[str, list[ast.Call]]:
    """The calls of each use case in the modules of the web."""
    found: dict[str, list[ast.Call]] = defaultdict(list)
    for path in sorted((PROJECT / "web").rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text())):
            if isinstance(node, ast.Call) and ast.unparse(node.func).startswith("service."):
                name = ast.unparse(node.func).removeprefix("service.")
                if name.isidentifier() and not inspect.isclass(getattr(service, name)):
                    found[name].append(node)
    return found


def limited_by(name: str, call: ast.Call) -> str:
    """By what this call is limited; empty where nothing that it is given does."""
    names = list(inspect.signature(getattr(service, name)).parameters)
    given = {key: ast.unparse(value) for key, value in zip(names, call.args, strict=False)}
    given |= {each.arg: ast.unparse(each.value) for each in call.keywords if each.arg}
    if "access" in given:
        return PERSON
    if any(key in ADDRESSED and OF_ADDRESS.fullmatch(value) for key, value in given.items()):
        return ADDRESS
    return SCOPE if "scope" in given else ""


def table(heading: str) -> dict[str, str]:
    """By name, the first cell of its row in a table of the paper."""
    part = PAPER.read_text().split(f"## {heading}\n", 1)[1].split("\n## ", 1)[0]
    rows = [line.strip("| ").split(" | ") for line in part.splitlines() if line.startswith("| ")][1:]
    return {name: cells[0] for cells in rows for name in re.findall(r"`(\w+)`", cells[-1])}


def test_every_use_case_of_a_page_is_limited_as_the_paper_says() -> None:
    documented, wrong = table("Use cases"), []
    for name, every in calls().items():
        found = {limited_by(name, call) for call in every}
        stands = documented.pop(name, "nothing")
        if found == {""}:
            wrong += [name] if stands not in (WHOLE, OF_NONE) else []
        elif found != {stands} and found != {stands, SCOPE}:
            wrong.append(f"{name}: the paper says {stands}, the code {sorted(found)}")
        takes = "scope" in inspect.signature(getattr(service, name)).parameters
        if takes and not all(
            any(
                "scope" in ast.unparse(each) or ast.unparse(each) == "own"
                for each in (*call.args, *(k.value for k in call.keywords))
            )
            for call in every
        ):
            wrong.append(f"{name}: takes a scope and is given none")
    assert not wrong, "\n".join(wrong)
    assert not documented, f"no page uses {', '.join(documented)}"


WHOLE, OF_NONE = "a right that only who sees all has", "no shipment in it"


def whole() -> list[str]:
    return [name for name, by in table("Use cases").items() if by == WHOLE]


def test_what_is_of_all_shipments_is_used_for_nobody_who_sees_a_part(
    app: Flask, ctx: service.Context, monkeypatch: pytest.MonkeyPatch
) -> None:
    _, secret = service.make_api_token(ctx, "till", ["read", "scan", "notice"], by="Ada", stores=["0417"])
    used: list[str] = []
    for name in whole():
        monkeypatch.setattr(service, name, lambda *a, _name=name, **k: used.append(_name))
    person, tried = signed_in(app, ctx, "coordinator of a store"), 0
    for rule, method, right in asked(app):
        person.send(method, path_to(app, rule))
        tried += 1
        assert not used, f"{method} {rule.rule} ({right}) uses {used}"
    for operation in OPERATIONS:
        path = operation.path.replace("{shipment}", "S-3001").replace("{number}", "1").replace("{kind}", "x12")
        key = "11111111-1111-4111-8111-111111111111"
        headers = {"Authorization": f"Bearer {secret}", "Idempotency-Key": key}
        app.test_client().open(f"/api/v1{path}", method=operation.method, data=b"{}", headers=headers)
        assert not used, f"{operation.path} uses {used}"
    assert tried > 90 and len(whole()) > 30


def queries() -> Iterator[tuple[str, str]]:
    """The store's methods that give something, and by what their first value limits them."""
    for name, method in inspect.getmembers(Store, callable):
        if name.startswith("_") or isinstance(method, type):
            continue
        signature = inspect.signature(method)
        names = [each for each in signature.parameters if each != "self"]
        if str(signature.return_annotation) in ("None", "<class 'bool'>") or name.startswith(("add_", "end_")):
            continue
        first = names[0] if names else ""
        limited = "a shipment" if first == "shipment" else "a store" if first in ("store", "store_id") else ""
        yield name, limited or ("a scope" if {"scope", "query"} & set(names) else "")


def test_every_query_of_the_store_is_limited_as_the_paper_says() -> None:
    documented, wrong = table("Queries of the store"), []
    for name, limited in queries():
        stands = documented.pop(name, "nothing")
        if (limited and stands != limited) or (
            not limited and stands in ("nothing", "a shipment", "a store", "a scope")
        ):
            wrong.append(f"{name}: the paper says {stands}, the code {limited or 'no shipment, store or scope'}")
    assert not wrong, "\n".join(wrong)
    assert not documented, f"the store has no query {', '.join(documented)}"
