"""Libraries of others that the pages bring along are what was published, each with its licence."""

import hashlib
from pathlib import Path

VENDOR = Path(__file__).resolve().parents[2] / "web" / "static" / "vendor"


def test_each_file_is_the_one_that_was_looked_at() -> None:
    sums = dict(line.split()[::-1] for line in (VENDOR / "SHA256SUMS").read_text().splitlines())
    scripts = {str(path.relative_to(VENDOR)): path for path in VENDOR.rglob("*") if path.suffix in (".js", ".wasm")}
    assert {name: hashlib.sha256(path.read_bytes()).hexdigest() for name, path in scripts.items()} == sums


def test_each_library_has_its_licence() -> None:
    folders = [path for path in VENDOR.iterdir() if path.is_dir()]
    assert folders
    assert all((folder / "LICENSE").read_text().strip() for folder in folders)
