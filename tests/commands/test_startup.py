"""What commands and the service load before they start: libraries that take long come when they are used."""

import subprocess
import sys
from pathlib import Path

import pytest

PROJECT = Path(__file__).resolve().parents[2]

HEAVY = {
    "PIL",
    "cv2",
    "flask",
    "holidays",
    "networkx",
    "numpy",
    "onnxruntime",
    "openpyxl",
    "ortools",
    "pandas",
    "pillow_heif",
    "pydifact",
    "pyx12",
    "pyzbar",
    "reportlab",
    "scipy",
    "sqlite_utils",
    "waitress",
    "zxingcpp",
}
"""Each takes some 20 ms and more to import."""

MANIFEST = """\
shipment,store,carton,sscc,kind,section,column,row
S-1,0417,01,395200000000000012,tray,Harbor,1,1
"""
SCANS = """\
scan_id,scanned_at,raw,place,by
10000000-0000-4000-8000-000000000001,2026-03-05T09:00:00Z,]C100395200000000000012,dock,Ana
"""


def loaded_by(statements: str, folder: Path) -> set[str]:
    """The heavy libraries that a fresh interpreter has loaded after these statements."""
    ask = f"{statements}\nimport sys\nprint('\\nloaded', *sorted({HEAVY!r} & set(sys.modules)))"
    done = subprocess.run(
        [sys.executable, "-c", ask], cwd=folder, env={"PYTHONPATH": str(PROJECT)}, capture_output=True, text=True
    )
    assert done.returncode == 0, done.stderr
    return set(done.stdout.rpartition("\nloaded")[2].split())


def test_reconciling_scans_alone_loads_no_heavy_library(tmp_path: Path) -> None:
    (tmp_path / "m.csv").write_text(MANIFEST)
    (tmp_path / "s.csv").write_text(SCANS)
    run = "from receiving.cli import run\nrun(['reconcile', '--manifest', 'm.csv', '--scans', 's.csv', '--json'])"
    assert loaded_by(run, tmp_path) == set()


@pytest.mark.parametrize("module", ["receiving.service", "receiving.model", "receiving.reading", "receiving.expected"])
def test_importing_a_room_loads_no_heavy_library(module: str, tmp_path: Path) -> None:
    assert loaded_by(f"import {module}", tmp_path) == set()


def test_looking_at_stored_data_loads_the_database_and_no_image_library(tmp_path: Path) -> None:
    run = (
        "from pathlib import Path\nfrom receiving import service\n"
        f"ctx = service.Context.at(Path({str(tmp_path / 'data')!r}), create=True)\n"
        "assert service.get_overview(ctx) == ()\nctx.close()"
    )
    assert loaded_by(run, tmp_path) <= {"sqlite_utils", "numpy"}


@pytest.mark.parametrize("megabytes", [400, 700])
def test_a_machine_without_memory_is_named_in_words(tmp_path: Path, megabytes: int) -> None:
    resource = pytest.importorskip("resource")
    limit = megabytes * 1024 * 1024
    done = subprocess.run(
        [sys.executable, "-m", "receiving", "serve", "--data", tmp_path / "data", "--port", "0"],
        cwd=PROJECT,
        capture_output=True,
        text=True,
        timeout=300,
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_AS, (limit, limit)),
    )
    assert done.returncode == 1
    assert done.stderr.rstrip().endswith("Close other programs, or raise its limit, and start it again.")
    assert "cannot join thread" not in done.stderr
