"""What the shipments that the service keeps take, in memory and in time, with all of them in one store.

    nice python tests/bench/kept_shipments.py [SHIPMENTS]

5,000 shipments of 20 cartons and 60 reads by default. CPU seconds of one process; memory is the growth of what the
process holds, with every reason of every read looked at, which is the most that one can take.
"""

import gc
import sys
import tempfile
from dataclasses import replace
from pathlib import Path
from random import Random
from time import process_time

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from receiving import service  # noqa: E402
from receiving.expected import write_manifest_csv  # noqa: E402
from receiving.model import LabelRead, Place, RawRead, Source  # noqa: E402
from receiving.service.context import MOST_SNAPSHOTS, Context  # noqa: E402
from receiving.service.snapshot import snapshot  # noqa: E402
from tests.bench.match_shipments import shipment  # noqa: E402
from tests.planned_reader import PlannedReader  # noqa: E402


def as_seen(read: LabelRead) -> RawRead:
    """The read with the text that its label carries, to be understood again by the service."""
    sscc = read.claim.sscc
    return replace(read.raw, raw=f"00{sscc}" if sscc else read.claim.barcode or "C1 R1")


def fill(ctx: Context, shipments: int) -> None:
    random = Random(3)
    work = [shipment(random, n) for n in range(shipments)]
    service.import_manifest(ctx, "many.csv", write_manifest_csv([manifest for manifest, _ in work]).encode())
    with ctx.store() as store:
        for manifest, reads in work:
            store.add_reads(manifest.shipment, [as_seen(read) for read in reads])


def held_kb() -> int:
    """Resident memory of this process, in kilobytes."""
    gc.collect()
    lines = Path("/proc/self/status").read_text().splitlines()
    return int(next(line for line in lines if line.startswith("VmRSS")).split()[1])


def seconds(ctx: Context) -> float:
    start = process_time()
    service.list_shipments(ctx)
    return process_time() - start


def main() -> None:
    shipments = int(sys.argv[1]) if len(sys.argv) > 1 else 5000
    with tempfile.TemporaryDirectory() as folder, Context(Path(folder), PlannedReader()) as ctx:
        fill(ctx, shipments)
        before = held_kb()
        with ctx.store() as store:
            for record in store.shipments()[:MOST_SNAPSHOTS]:
                found = snapshot(ctx, store, record).reconciliation
                assert found.explanations and found.cartons
        each_kb = (held_kb() - before) / min(shipments, MOST_SNAPSHOTS)
        ctx.snapshots.clear()
        first_s, again_s = seconds(ctx), seconds(ctx)
        service.add_scan(ctx, "SH-0", "C1 R1", place=Place.DOCK, by="Ana", source=Source.SCANNER)
        one_more_s = seconds(ctx)
        print(
            f"{shipments} shipments; kept {len(ctx.snapshots)} of at most {MOST_SNAPSHOTS} in full, rows in the store"
        )
        print(
            f"one kept in full       {each_kb:9.0f} kB, all that may be kept {each_kb * MOST_SNAPSHOTS / 1024:6.0f} MB"
        )
        print(f"list of all, first     {first_s:9.2f} s")
        print(f"list of all, again     {again_s:9.2f} s   1/{first_s / again_s:.0f}")
        print(f"after one more read    {one_more_s:9.2f} s   1/{first_s / one_more_s:.0f}")


if __name__ == "__main__":
    main()
