"""A programme's year at a part of its size: how large the data folder grows, and what pages and backups then cost.

    nice python tests/bench/programme_year.py [--part 50] [--photo-kb 20]

20,000 stores x 12 visits x 30 cartons, three photos a visit, every carton read once and the store's receipt given; 1/50
of it by default (400 stores, 4,800 shipments, 14,400 photos). Photos are random bytes of the given size, since a
phone's own (2,500 kB are assumed) would fill this disk; sizes are told for those. CPU milliseconds of this process for
pages through the app; seconds on the clock for the backup and the check. The last lines multiply by the part: what a
whole year on one machine would be, as far as it grows with the number of shipments.
"""

import argparse
import os
import sys
import tempfile
import uuid
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from random import Random
from time import perf_counter

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from receiving import service  # noqa: E402
from receiving.model import PhotoReading, Place, RawRead, Source  # noqa: E402
from receiving.service.context import Context  # noqa: E402
from tests.bench.list_pages import cpu_ms  # noqa: E402
from tests.bench.served import sscc  # noqa: E402
from tests.planned_reader import PlannedReader  # noqa: E402
from web import create_app  # noqa: E402

STORES, VISITS, CARTONS, PHOTOS = 20_000, 12, 30, 3
PHONE_PHOTO_KB = 2_500
START = date(2027, 1, 4)
GIB = 1024**3


def fill(ctx: Context, stores: int, photo_bytes: int) -> None:
    """The year, a month at a time: manifests, photos with the reads of ten cartons each, receipts of the past."""
    random = Random(7)
    for month in range(VISITS):
        day = START + timedelta(days=30 * month)
        names = [f"V-{month:02d}-{store:05d}" for store in range(stores)]
        lines = ["shipment,store,carton,sscc,kind,section,column,row,item,qty,weight_kg,dispatch_date"]
        for n, name in enumerate(names):
            first = (month * stores + n) * CARTONS
            lines += [
                f"{name},{n:05d},{k + 1:02d},{sscc(first + k)},tray,Sol,{k % 15 + 1},{k // 15 + 1},IT-{k},1,6,{day}"
                for k in range(CARTONS)
            ]
        service.import_manifest(ctx, "month.csv", "\n".join(lines).encode())
        at = datetime(day.year, day.month, day.day, 8, tzinfo=UTC) - timedelta(days=3)
        for n, name in enumerate(names):
            first = (month * stores + n) * CARTONS
            with ctx.transaction() as store:
                for p in range(PHOTOS):
                    photo = ctx.photos.keep(random.randbytes(photo_bytes))
                    store.add_photo(name, photo, name=f"{p}.jpg", added_at=at, place=Place.BACK_ROOM, by="Ana")
                    share = CARTONS // PHOTOS
                    reads = [as_read(first + p * share + k, photo, at) for k in range(share)]
                    store.finish_photo(name, photo, PhotoReading(4000, 3000, ()), reads)
            if month < VISITS - 2:
                shown = service.show_receipt(ctx, name)
                service.confirm(ctx, name, shown.digest, name="Grace", role="Manager")


def as_read(serial: int, photo: str, at: datetime) -> RawRead:
    read_id = str(uuid.uuid5(uuid.NAMESPACE_OID, str(serial)))
    quad = ((10.0, 10.0), (200.0, 10.0), (200.0, 60.0), (10.0, 60.0))
    return RawRead(
        read_id, at, Source.PHOTO, f"00{sscc(serial)}", "]C1", Place.BACK_ROOM, "Ana", photo, quad, label=serial + 1
    )


def size(path: Path) -> int:
    return sum(file.stat().st_size for file in path.rglob("*") if file.is_file())


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--part", type=int, default=50)
    parser.add_argument("--photo-kb", type=int, default=20)
    given = parser.parse_args()
    stores = STORES // given.part
    now = datetime(2027, 11, 20, 9, tzinfo=UTC)
    with tempfile.TemporaryDirectory(dir=os.environ.get("BENCH_FOLDER")) as name:
        data = Path(name) / "data"
        with Context(data, PlannedReader(), now=lambda: now) as ctx:
            start = perf_counter()
            fill(ctx, stores, given.photo_kb * 1024)
            print(f"1/{given.part}: {stores * VISITS} shipments, {stores * VISITS * PHOTOS} photos, ", end="")
            print(f"written in {perf_counter() - start:.0f} s")
        database = (data / "receiving.sqlite").stat().st_size
        with Context(data, PlannedReader(), now=lambda: now) as ctx:
            client = create_app(ctx).test_client()
            open_one, old_one = f"V-{VISITS - 1:02d}-{0:05d}", f"V-00-{0:05d}"
            each_kb = database / stores / VISITS / 1000
            print(f"database               {database / 1e6:9.1f} MB, {each_kb:.1f} kB a shipment")
            print(f"overview, all rows     {cpu_ms(lambda: client.get('/overview')):9.0f} ms")
            for words, path in (
                ("overview", "/overview"),
                ("search by store", "/overview?q=00003"),
                ("closed, last page", f"/overview?state=closed&page={stores * VISITS // 100}"),
                ("an open shipment", f"/s/{open_one}"),
                ("an old shipment", f"/s/{old_one}"),
            ):
                print(f"{words:22} {cpu_ms(lambda path=path: client.get(path), 5):9.1f} ms")
            scan = cpu_ms(lambda: one_scan(ctx, open_one), 15)
            print(f"a scan                 {scan:9.1f} ms")
        start = perf_counter()
        service.back_up(data, Path(name) / "copy.zip")
        backup_s = perf_counter() - start
        print(f"backup, one archive    {backup_s:9.1f} s for {size(data) / 1e6:.0f} MB")
        start = perf_counter()
        report = service.check(data)
        print(f"check of all           {perf_counter() - start:9.1f} s, {len(report.damages)} damages")
        whole_photos = STORES * VISITS * PHOTOS * PHONE_PHOTO_KB * 1024
        print(
            f"a whole year: database {database * given.part / GIB:.0f} GiB, photos of {PHONE_PHOTO_KB} kB "
            f"{whole_photos / GIB:.0f} GiB, a backup at this pace "
            f"{backup_s / size(data) * (database * given.part + whole_photos) / 3600:.1f} h"
        )


def one_scan(ctx: Context, shipment: str) -> None:
    service.add_scan(ctx, shipment, f"]C100{sscc(3)}", place=Place.DOCK, by="Ana", source=Source.SCANNER)


if __name__ == "__main__":
    main()
