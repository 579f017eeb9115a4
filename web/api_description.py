"""The description of the API as OpenAPI 3.1 (spec.openapis.org), made from the calls that there are."""

from dataclasses import dataclass
from typing import Any

import msgspec

from receiving.model import Place
from receiving.service import MESSAGES, Scope
from web.api_types import Problem

KEY = "Idempotency-Key"
MOST_PAGE = 100_000


@dataclass(frozen=True)
class Operation:
    """One call: its address as OpenAPI writes it, what it needs and what it gives."""

    method: str
    path: str
    summary: str
    scope: Scope
    gives: type
    takes: type | None = None
    query: tuple[str, ...] = ()


OPERATIONS: list[Operation] = []


def description() -> dict[str, Any]:
    """The OpenAPI document."""
    types = {each for op in OPERATIONS for each in (op.gives, op.takes) if each not in (None, bytes)} | {Problem}
    ordered = sorted(types, key=lambda each: each.__name__)
    schemas, components = msgspec.json.schema_components(ordered, ref_template="#/components/schemas/{name}")
    named = dict(zip(ordered, schemas, strict=True))
    paths: dict[str, dict[str, Any]] = {}
    for op in OPERATIONS:
        paths.setdefault(f"/api/v1{op.path}", {})[op.method.lower()] = _described(op, named)
    return {
        "openapi": "3.1.0",
        "info": {"title": "Shipment receiving", "version": "1"},
        "paths": paths,
        "components": {
            "schemas": components,
            "securitySchemes": {"token": {"type": "http", "scheme": "bearer", "description": _TOKEN}},
        },
        "security": [{"token": []}],
    }


def _described(op: Operation, named: dict[type, Any]) -> dict[str, Any]:
    problem = {"content": {"application/problem+json": {"schema": named[Problem]}}}
    faults = {"400": "bad request", "401": "no token", "403": "not allowed", "404": "not found", "409": "conflict"}
    found: dict[str, Any] = {
        "summary": op.summary,
        "operationId": f"{op.method.lower()}{op.path.replace('/', '_').replace('{', '').replace('}', '')}",
        "parameters": _parameters(op),
        "responses": {
            "200": {"description": "done", "content": {"application/json": {"schema": named[op.gives]}}},
            **{status: {"description": words, **problem} for status, words in {**faults, **_MORE}.items()},
        },
        "x-scope": op.scope.value,
    }
    if op.takes is bytes:
        body = {"application/octet-stream": {"schema": {"type": "string", "format": "binary", "minLength": 1}}}
        found["requestBody"] = {"required": True, "content": body}
    elif op.takes is not None:
        found["requestBody"] = {"required": True, "content": {"application/json": {"schema": named[op.takes]}}}
    return found


_TOKEN = (
    "A token has scopes: each call names the one that it needs as x-scope. It may be limited to some stores, to some"
    " programmes, or to both: what is not of them is not there for it, and a notice for others is refused."
)
_MORE = {
    "413": "too large",
    "415": "not a photo",
    "422": "a file with faults",
    "429": "too many calls, come again",
    "503": "busy, come again",
}


_QUERY: dict[str, dict[str, Any]] = {
    "page": {"type": "integer", "minimum": 1, "maximum": MOST_PAGE},
    "place": {"type": "string", "enum": ["", *(place.value for place in Place)]},
    "name": {"type": "string"},
    "by": {"type": "string"},
    "sender": {"type": "string"},
    "receiver": {"type": "string"},
}


_PATH: dict[str, dict[str, Any]] = {
    "shipment": {"type": "string"},
    "number": {"type": "integer", "minimum": 1, "maximum": 999_999},
    "photo": {"type": "string"},
    "kind": {"enum": list(MESSAGES)},
}


def _parameters(op: Operation) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = []
    for name, kind in _PATH.items():
        if f"{{{name}}}" in op.path:
            found.append({"name": name, "in": "path", "required": True, "schema": kind})
    found += [{"name": name, "in": "query", "required": False, "schema": _QUERY[name]} for name in op.query]
    if op.method == "POST":
        kind = {"type": "string", "format": "uuid"}
        found.append({"name": KEY, "in": "header", "required": True, "schema": kind})
    return found
