"""What the first requests need is loaded before the service listens."""

import subprocess
import sys
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest

from receiving import service
from web import create_app, warming
from web.serve import serve

FIRST_SCAN = """
import io, sys, uuid
from pathlib import Path
from receiving import service
from receiving.model import Place, Source
from tests.planned_reader import PlannedReader
from tests.service.conftest import MANIFEST
from web import create_app, warming

with service.Context(Path(sys.argv[1]), PlannedReader()) as ctx:
    service.import_manifest(ctx, "m.csv", MANIFEST.encode())
    app = create_app(ctx)
    if sys.argv[2] == "warm":
        warming.warm(app)
    client = app.test_client()
    client.get("/signal")
    before = set(sys.modules)
    form = {"text": "carton 01", "place": "dock", "token": client.get_cookie("token").value}
    assert client.post("/s/S-1/scans", data=form).status_code == 303
    form["text"] = "]C100395200000000000009"
    client.post("/s/S-1/scans", data=form)
    photo = {"token": form["token"], "photos": (io.BytesIO(b"\\xff\\xd8\\xff"), "a.jpg")}
    assert client.post("/s/S-1/photos", data=photo).status_code == 415
    print(*sorted(name for name in set(sys.modules) - before if not name.startswith("encodings")))
"""


def loaded_at_first_scan(data: Path, how: str) -> list[str]:
    command = [sys.executable, "-c", FIRST_SCAN, str(data), how]
    root = Path(__file__).resolve().parents[2]
    return subprocess.run(command, cwd=root, check=True, capture_output=True, text=True).stdout.split()


def test_a_first_scan_and_a_first_photo_load_no_library(tmp_path: Path) -> None:
    cold = loaded_at_first_scan(tmp_path / "cold", "cold")
    assert {"biip", "PIL.WebPImagePlugin"} <= set(cold)  # else this test looks for nothing
    assert loaded_at_first_scan(tmp_path / "warm", "warm") == []


def test_no_request_waits_for_the_module_of_its_use_case() -> None:
    script = (
        "import sys; from pathlib import Path; from receiving import service; from web import create_app, warming\n"
        "ctx = service.Context(Path(sys.argv[1]), service.PhotoReader)\n"
        "warming.warm(create_app(ctx)); before = set(sys.modules)\n"
        "import pkgutil\n"
        "homes = {f'receiving.service.{each.name}' for each in pkgutil.iter_modules(service.__path__)}\n"
        "ctx.close; print(*sorted(homes - before))"
    )
    with TemporaryDirectory() as folder:
        command = [sys.executable, "-c", script, folder]
        root = Path(__file__).resolve().parents[2]
        left = subprocess.run(command, cwd=root, check=True, capture_output=True, text=True).stdout.split()
    # A heavy library, where nobody may ever sign in by a passkey; and what is served by no page.
    assert left == ["receiving.service.passkey_sign_in"]


def test_no_page_waits_for_its_template(ctx: service.Context) -> None:
    app = create_app(ctx)
    warming.warm(app)
    assert app.jinja_env.cache is not None
    compiled = {name for _, name in app.jinja_env.cache.keys()}  # noqa: SIM118 - jinja's cache is not a dict
    assert compiled == set(app.jinja_env.list_templates())


def test_the_address_is_told_once_everything_is_loaded(ctx: service.Context, monkeypatch: pytest.MonkeyPatch) -> None:
    done: list[str] = []
    monkeypatch.setattr(warming, "warm", lambda app: done.append("loaded"))
    monkeypatch.setattr(warming, "set_apart_what_stays", lambda: done.append("set apart"))

    def ready(address: str) -> None:
        done.append("told")
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        serve(ctx, port=0, ready=ready)
    assert done == ["loaded", "set apart", "told"]
