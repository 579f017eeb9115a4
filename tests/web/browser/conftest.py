"""The app served by waitress, driven in Chromium; skipped with a message where either is absent."""

import shutil
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from receiving import service
from tests.planned_reader import PlannedReader
from tests.web.scenario import open_context, pile_reading
from web.serve import make_server

CHROMIUM = "/usr/bin/chromium"
ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]

HANGS_S = 300
"""The browser does not always answer when a page is closed; a test takes five seconds, and forty at most."""


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """A test whose browser does not answer ends in time for the others, and is tried again by itself."""
    for item in items:
        if item.get_closest_marker("browser"):
            item.add_marker(pytest.mark.timeout(HANGS_S))


@pytest.fixture(scope="session")
def chromium() -> Iterator[object]:
    playwright = pytest.importorskip("playwright.sync_api", reason="install the browser extra: playwright is not here")
    if not shutil.which(CHROMIUM):
        pytest.skip(f"install Debian's chromium: there is no {CHROMIUM}")
    with playwright.sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
        yield browser
        browser.close()


@pytest.fixture
def served(tmp_path: Path) -> Iterator[tuple[str, service.Context]]:
    reader = PlannedReader()
    reader.readings["pile.jpg"] = pile_reading()
    with open_context(tmp_path, reader) as ctx:
        server = make_server(ctx, host="127.0.0.1", port=0)
        thread = threading.Thread(target=server.run, daemon=True)
        thread.start()
        yield f"http://127.0.0.1:{server.effective_port}", ctx
        server.close()
        thread.join(timeout=60)


@pytest.fixture
def phone(chromium: object, served: tuple[str, service.Context]) -> Iterator[object]:
    """A phone 360 px wide whose owner has said her name; any error in a script fails the test."""
    yield from _phone(chromium, served[0])


@pytest.fixture
def held_phone(chromium: object, served: tuple[str, service.Context]) -> Iterator[object]:
    """The same phone without a service worker: what a worker sends cannot be held back or refused by a test."""
    yield from _phone(chromium, served[0], service_workers="block")


def _phone(chromium: object, address: str, **options: object) -> Iterator[object]:
    context = chromium.new_context(viewport={"width": 360, "height": 740}, has_touch=True, is_mobile=True, **options)
    context.add_cookies([{"name": "person", "value": "Ada", "url": address}])
    page = context.new_page()
    errors: list[str] = []
    page.on("pageerror", lambda error: errors.append(str(error)))
    page.on("console", lambda m: errors.append(m.text) if "Content Security Policy" in m.text else None)
    page.set_default_timeout(120_000)  # a busy machine is not a fault of the page
    yield page
    context.close()
    assert errors == []
