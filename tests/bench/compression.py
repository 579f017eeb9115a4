"""Sizes and CPU milliseconds of pages by gzip level: what `web.compress.LEVEL` was chosen by.

    python tests/bench/compression.py [CARTONS]

The live part, the drawn plan and the overview of a shipment of this many cartons (120 by default), all of them scanned,
each compressed five times at each level.
"""

import gzip
import sys
import tempfile
from pathlib import Path
from time import process_time

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from receiving import service  # noqa: E402
from receiving.model import Place, Source  # noqa: E402
from receiving.service.context import Context  # noqa: E402
from tests.bench.served import Load  # noqa: E402
from tests.planned_reader import PlannedReader  # noqa: E402
from web import create_app  # noqa: E402
from web.compress import LEVEL  # noqa: E402

ROUNDS = 5


def main() -> None:
    load = Load.of(1, int(sys.argv[1]) if len(sys.argv) > 1 else 120)
    with tempfile.TemporaryDirectory() as name, Context(Path(name) / "data", PlannedReader()) as ctx:
        folder = Path(name)
        load.write_manifest(folder / "m.csv")
        service.import_manifest(ctx, "m.csv", (folder / "m.csv").read_bytes())
        for file in load.write_layouts(folder):
            service.import_layout(ctx, file.name, file.read_bytes())
        for code in load.shipments["S-0"]:
            service.add_scan(ctx, "S-0", f"]C100{code}", place=Place.DOCK, by="Ana", source=Source.SCANNER)
        client = create_app(ctx).test_client()
        pages = {path: client.get(path).data for path in ("/s/S-0/live", "/s/S-0/plan", "/overview")}
    for path, body in pages.items():
        print(f"{path}: {len(body) / 1000:.1f} kB")
        for level in range(1, 10):
            start = process_time()
            for _ in range(ROUNDS):
                small = gzip.compress(body, level, mtime=0)
            cpu_ms = 1000 * (process_time() - start) / ROUNDS
            chosen = " (chosen)" if level == LEVEL else ""
            ratio = len(body) / len(small)
            print(f"  level {level}: {len(small) / 1000:6.1f} kB, 1/{ratio:4.1f}, {cpu_ms:6.2f} ms{chosen}")


if __name__ == "__main__":
    main()
