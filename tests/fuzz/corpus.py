"""The inputs that searches found worth keeping: one archive for each edge, since no editor shows such bytes."""

import zipfile
from collections.abc import Iterable
from pathlib import Path

HERE = Path(__file__).parent / "corpus"
LARGEST_BYTES = 120_000
"""Of one archive; the shortest inputs are kept."""


def inputs(target: str) -> list[bytes]:
    """What is kept for this edge, shortest first."""
    archive = HERE / f"{target}.zip"
    if not archive.exists():
        return []
    with zipfile.ZipFile(archive) as kept:
        return [kept.read(name) for name in kept.namelist()]


def write_archive(target: str, found: Iterable[bytes]) -> None:
    """Keep these inputs, the shortest of them where they are too many."""
    HERE.mkdir(exist_ok=True)
    archive = HERE / f"{target}.zip"
    size = 0
    with zipfile.ZipFile(archive, "w", zipfile.ZIP_DEFLATED, compresslevel=9) as kept:
        for number, data in enumerate(sorted(set(found), key=lambda each: (len(each), each))):
            if size > LARGEST_BYTES:
                break
            entry = zipfile.ZipInfo(f"{number:04d}", (2026, 1, 1, 0, 0, 0))
            kept.writestr(entry, data, zipfile.ZIP_DEFLATED, 9)
            size += kept.getinfo(entry.filename).compress_size + 120
