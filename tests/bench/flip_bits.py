"""Flip one bit of a data folder, again and again: how many flips `check` finds, and whether those it misses matter.

    python tests/bench/flip_bits.py --flips 200

A flip is unseen where `check` calls the folder whole. It changed content where a table that holds what people did then
reads otherwise than before; what is derived (lists' rows, search terms) and free space may change unseen.
"""

import argparse
import json
import random
import shutil
import sqlite3
import sys
import tempfile
from contextlib import closing
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from receiving import service
from receiving.errors import StoreError
from receiving.store.records import COLUMNS
from tests.bench.kill_service import Reader, do
from tests.service.conftest import MANIFEST

DEEDS = 60


def content(database: Path) -> list[object]:
    """All that people did."""
    with closing(sqlite3.connect(database)) as file:
        return [file.execute(f"SELECT * FROM {table} ORDER BY 1, 2").fetchall() for table in (*COLUMNS, "shipments")]


def seen(data: Path) -> bool:
    try:
        return not service.check(data).whole
    except StoreError:
        return True


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--flips", type=int, default=200)
    parser.add_argument("--seed", type=int, default=20261127)
    options = parser.parse_args()
    rng = random.Random(options.seed)
    with tempfile.TemporaryDirectory(prefix="flips-") as folder:
        whole, data = Path(folder) / "whole", Path(folder) / "data"
        with service.Context(whole, Reader()) as ctx:
            service.import_manifest(ctx, "m.csv", MANIFEST.encode())
            for number in range(DEEDS):
                do(ctx, number)
        before = content(whole / "receiving.sqlite")
        files = [whole / "receiving.sqlite", *sorted((whole / "photos").glob("??/*"))]
        counts = {"database": [0, 0, 0], "photos": [0, 0, 0]}
        for number in range(options.flips):
            path = files[0] if number % 2 else rng.choice(files[1:])
            shutil.rmtree(data, ignore_errors=True)
            shutil.copytree(whole, data)
            flipped = bytearray(path.read_bytes())
            bit = rng.randrange(len(flipped) * 8)
            flipped[bit // 8] ^= 1 << bit % 8
            (data / path.relative_to(whole)).write_bytes(bytes(flipped))
            count = counts["database" if path is files[0] else "photos"]
            count[0] += 1
            if not seen(data):
                count[1] += 1
                count[2] += content(data / "receiving.sqlite") != before
        size = files[0].stat().st_size
        names = ("flips", "unseen", "unseen_and_content_changed")
        print(
            json.dumps(
                {"database_bytes": size, **{what: dict(zip(names, n, strict=True)) for what, n in counts.items()}}
            )
        )


if __name__ == "__main__":
    main()
