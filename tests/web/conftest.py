"""The app at a desk in an empty folder, and a browser stand-in that keeps its cookies."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from flask import Flask
from flask.testing import FlaskClient
from tests.web.scenario import PlannedReader, open_desk

from receiving import service
from web import create_app


@pytest.fixture
def reader() -> PlannedReader:
    return PlannedReader()


@pytest.fixture
def desk(tmp_path: Path, reader: PlannedReader) -> Iterator[service.Desk]:
    with open_desk(tmp_path, reader) as desk:
        yield desk


@pytest.fixture
def app(desk: service.Desk) -> Flask:
    return create_app(desk)


@pytest.fixture
def client(app: Flask) -> FlaskClient:
    return app.test_client()
