"""What the overview costs with thousands of stores: first, again, after a restart, and after things were stored.

    nice python tests/bench/list_pages.py [--shipments 5000] [--reads 12]

Shipments of 20 cartons, one a store, in one data folder. CPU milliseconds of this process for GET /overview through the
app, with the number of SQL statements, beside the bare SQL of the same answer: the 100 rows, their number, and the
counts by urgency. Rows are made in this process here; served, those that are many are made by a process of their own.
"""

import argparse
import sys
import tempfile
import uuid
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from random import Random
from statistics import median
from time import process_time

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from flask.testing import FlaskClient  # noqa: E402

from receiving import service  # noqa: E402
from receiving.model import EVERYTHING, Place, RawRead, Source  # noqa: E402
from receiving.service.context import Context  # noqa: E402
from receiving.service.photo_reading import codes_to_expect  # noqa: E402
from receiving.store import ListQuery  # noqa: E402
from tests.bench.served import Load  # noqa: E402
from tests.planned_reader import PlannedReader  # noqa: E402
from web import create_app  # noqa: E402

ROUNDS = 9


def fill(ctx: Context, folder: Path, load: Load, reads: int) -> None:
    """All shipments imported, and three in four of them scanned in part, some with cartons of others among them."""
    random, at = Random(3), datetime(2027, 2, 1, 8, tzinfo=UTC)
    load.write_manifest(folder / "m.csv")
    with (folder / "m.csv").open("rb") as file:
        service.import_stream(ctx, "m.csv", file)
    shipments = list(load.shipments)
    for start in range(0, len(shipments) * 3 // 4, 250):
        with ctx.transaction() as store:
            for shipment in shipments[start : start + 250]:
                codes = load.shipments[shipment]
                strange = random.choice(load.shipments[random.choice(shipments)])
                seen = [*random.choices(codes[:-1], k=reads - 1), strange]
                store.add_reads(shipment, [read(f"{shipment}-{k}", code, at) for k, code in enumerate(seen)])


def read(read_id: str, code: str, at: datetime) -> RawRead:
    return RawRead(
        str(uuid.uuid5(uuid.NAMESPACE_OID, read_id)), at, Source.SCANNER, f"]C100{code}", "]C1", Place.DOCK, "Ana"
    )


def cpu_ms(work: Callable[[], object], rounds: int = 1) -> float:
    taken = []
    for _ in range(rounds):
        start = process_time()
        work()
        taken.append(1000 * (process_time() - start))
    return median(taken)


def statements(ctx: Context, client: FlaskClient) -> int:
    """SQL statements of one request."""
    seen: list[str] = []
    with ctx.store() as store:
        store._db.conn.set_trace_callback(seen.append)
        client.get("/overview")
    return len(seen)


def bare_ms(ctx: Context) -> float:
    with ctx.store() as store:

        def ask() -> None:
            store.list_rows(ListQuery(), limit=100)
            store.count_list_rows(ListQuery())
            store.urgencies(EVERYTHING)

        return cpu_ms(ask, ROUNDS)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--shipments", type=int, default=5000)
    parser.add_argument("--reads", type=int, default=12)
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        folder, data = Path(name), Path(name) / "data"
        with Context(data, PlannedReader()) as ctx:
            start = process_time()
            fill(ctx, folder, Load.of(given.shipments, 20), given.reads)
            print(
                f"{given.shipments} shipments, {given.reads} reads each; filled in {process_time() - start:.0f} s CPU"
            )
            client = create_app(ctx).test_client()

            def overview() -> None:
                answer = client.get("/overview", headers={"Accept-Encoding": "gzip"})
                assert answer.status_code == 200, answer.status
                sizes.append(len(answer.data))

            sizes: list[int] = []
            print(f"all rows made          {cpu_ms(overview):9.0f} ms")
            warm = cpu_ms(overview, ROUNDS)
            bare = bare_ms(ctx)
            few = statements(ctx, client)
            print(f"again                  {warm:9.1f} ms, {few} statements, {sizes[-1] / 1000:.1f} kB sent")
            print(f"bare SQL of the same   {bare:9.1f} ms, ratio {warm / bare:.1f}")
            (layout,) = Load({"S": []}, {"S": "99999"}, 0).write_layouts(folder)
            service.import_layout(ctx, "l.toml", layout.read_bytes())
            print(f"after another layout   {cpu_ms(overview):9.1f} ms")
            other = "shipment,store,carton,sscc,kind\nS-other,99998,01,,tray\n"
            service.import_manifest(ctx, "one.csv", other.encode())
            print(f"after another manifest {cpu_ms(overview):9.1f} ms")
            service.add_scan(ctx, "S-0", "C1 R1", place=Place.DOCK, by="Ana", source=Source.SCANNER)
            print(f"after one read         {cpu_ms(overview):9.1f} ms")
            with ctx.store() as store:
                print(f"codes to expect        {cpu_ms(lambda: codes_to_expect(store, 'S-1'), 5):9.1f} ms a photo")
            search = cpu_ms(lambda: client.get("/overview?q=00042"), ROUNDS)
            print(f"search by store        {search:9.1f} ms")
        with Context(data, PlannedReader()) as ctx:
            client = create_app(ctx).test_client()
            print(f"first after a restart  {cpu_ms(overview):9.1f} ms")


if __name__ == "__main__":
    main()
