"""A phone on the store's network: the page that installs the authority, and what a browser does that trusts it."""

import shutil
import subprocess
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from receiving import service
from tests.planned_reader import PlannedReader
from tests.web.browser.conftest import ARGUMENTS, CHROMIUM
from tests.web.browser.test_screen import violations
from tests.web.scenario import open_context
from web.serve import make_server

pytestmark = pytest.mark.browser


@pytest.fixture
def encrypted(tmp_path: Path) -> Iterator[tuple[int, service.Context]]:
    from datetime import UTC, datetime

    data = tmp_path / "data"
    data.mkdir()
    with open_context(data, PlannedReader()) as ctx:
        ctx.now = lambda: datetime.now(UTC)  # Chromium holds certificates against the machine's clock
        server = make_server(ctx, host="127.0.0.1", port=0, tls=True)
        thread = threading.Thread(target=server.run, daemon=True)
        thread.start()
        yield server.effective_port, ctx
        server.close()
        thread.join(timeout=60)


def opened(chromium: object, home: Path, authority: Path | None) -> object:
    """A browser with its own store of certificates (NSS), in which the authority is trusted or absent."""
    if not shutil.which("certutil"):
        pytest.skip("install Debian's libnss3-tools: there is no certutil")
    store = home / ".pki" / "nssdb"
    store.mkdir(parents=True)
    where = f"sql:{store}"
    subprocess.run(["certutil", "-N", "-d", where, "--empty-password"], check=True)
    if authority:
        subprocess.run(["certutil", "-A", "-d", where, "-n", "ours", "-t", "C,,", "-i", authority], check=True)
    return chromium.browser_type.launch(executable_path=CHROMIUM, args=ARGUMENTS, env={"HOME": str(home)})


def test_the_installed_authority_makes_the_page_one_that_works_without_a_signal(chromium, encrypted, tmp_path) -> None:
    port, ctx = encrypted
    browser = opened(chromium, tmp_path, ctx.data / "tls" / "authority.crt")
    page = browser.new_page(viewport={"width": 360, "height": 740})
    page.goto(f"http://127.0.0.1:{port}/")
    assert page.url == f"http://127.0.0.1:{port}/trust"
    assert violations(page) == []
    assert page.evaluate("document.documentElement.scrollWidth") <= 360

    with page.expect_download() as taken:
        page.click("text=Get the certificate")
    assert Path(taken.value.path()).read_bytes()[:1] == b"\x30"  # DER
    page.get_by_role("link", name="Open the shipments").click()
    page.wait_for_url(f"https://127.0.0.1:{port}/")
    page.locator("text=Store 0417").first.wait_for()
    assert page.evaluate("isSecureContext && Boolean(navigator.mediaDevices)")
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    cookies = page.context.cookies()
    assert cookies and all(cookie["secure"] for cookie in cookies)
    browser.close()


def test_without_the_authority_the_browser_refuses(chromium, encrypted, tmp_path) -> None:
    port, _ = encrypted
    browser = opened(chromium, tmp_path, None)
    page = browser.new_page()
    with pytest.raises(Exception, match="ERR_CERT_AUTHORITY_INVALID"):
        page.goto(f"https://127.0.0.1:{port}/")
    browser.close()
