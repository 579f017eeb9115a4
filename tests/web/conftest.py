"""The app at a context in an empty folder, and a browser stand-in that keeps its cookies."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from flask import Flask
from flask.testing import FlaskClient
from jinja2 import BytecodeCache
from jinja2.bccache import Bucket
from werkzeug.test import TestResponse

from receiving import service
from tests.planned_reader import PlannedReader
from tests.web.scenario import open_context
from web import create_app


class Compiled(BytecodeCache):
    """Templates compiled once for the apps of all tests."""

    def __init__(self) -> None:
        self._code: dict[str, bytes] = {}

    def load_bytecode(self, bucket: Bucket) -> None:
        if bucket.key in self._code:
            bucket.bytecode_from_string(self._code[bucket.key])

    def dump_bytecode(self, bucket: Bucket) -> None:
        self._code[bucket.key] = bucket.bytecode_to_string()


Flask.jinja_options = {**Flask.jinja_options, "bytecode_cache": Compiled()}


@pytest.fixture
def reader() -> PlannedReader:
    return PlannedReader()


@pytest.fixture
def ctx(tmp_path: Path, reader: PlannedReader) -> Iterator[service.Context]:
    with open_context(tmp_path, reader) as ctx:
        yield ctx


@pytest.fixture
def app(ctx: service.Context) -> Flask:
    return create_app(ctx)


@pytest.fixture
def client(app: Flask) -> FlaskClient:
    return app.test_client()


class Browser:
    """Sends forms as a page does: with its cookies and its token."""

    def __init__(self, client: FlaskClient, opened: str = "/") -> None:
        self.client = client
        client.get(opened)

    @property
    def token(self) -> str:
        return self.client.get_cookie("token").value

    def get(self, path: str, **more: object) -> TestResponse:
        return self.client.get(path, **more)

    def post(self, path: str, fields: dict[str, object] | None = None, **more: object) -> TestResponse:
        return self.client.post(path, data={"token": self.token, **(fields or {})}, **more)


@pytest.fixture
def browser(client: FlaskClient) -> Browser:
    return Browser(client)
