"""The check of pins against known faults: it finds them, and lets nothing fail where nobody can be asked."""

import json
import subprocess
import sys
import threading
from collections.abc import Iterator
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path

import pytest

SCRIPT = Path(__file__).parent.parent / ".ci" / "advisories"


class Database(BaseHTTPRequestHandler):
    """Knows one fault, of one version of one library."""

    def do_POST(self) -> None:
        asked = json.loads(self.rfile.read(int(self.headers["Content-Length"])))
        known = {("flask", "0.1"): [{"id": "GHSA-of-a-test"}]}
        found = [{"vulns": known.get((q["package"]["name"], q["version"]), [])} for q in asked["queries"]]
        body = json.dumps({"results": found}).encode()
        self.send_response(200)
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self.wfile.write(body)

    def log_message(self, *args: object) -> None:
        pass


@pytest.fixture
def database() -> Iterator[str]:
    with HTTPServer(("127.0.0.1", 0), Database) as server:
        thread = threading.Thread(target=server.serve_forever, daemon=True)
        thread.start()
        yield f"http://127.0.0.1:{server.server_address[1]}/"
        server.shutdown()
        thread.join()


def check(url: str, pins: str, folder: Path) -> subprocess.CompletedProcess[str]:
    file = folder / "requirements.txt"
    file.write_text(pins)
    return subprocess.run([sys.executable, str(SCRIPT), "--url", url, str(file)], capture_output=True, text=True)


def test_a_pin_with_a_known_fault_fails_and_one_without_does_not(database: str, tmp_path: Path) -> None:
    bad = check(database, "flask==0.1 \\\n    --hash=sha256:00\n", tmp_path)
    assert bad.returncode == 1 and "flask 0.1: GHSA-of-a-test" in bad.stdout
    good = check(database, "flask==3.1.3 ; python_version > '3'\n", tmp_path)
    assert good.returncode == 0 and "1 pins, 0 known faults." in good.stdout


def test_where_nobody_can_be_asked_nothing_fails_and_it_is_said(tmp_path: Path) -> None:
    done = check("http://127.0.0.1:9/", "flask==0.1\n", tmp_path)
    assert done.returncode == 0 and "the 1 pins are not checked" in done.stdout
