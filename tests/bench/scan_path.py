"""What a scan costs on the whole path that a phone takes: POST /s/X/scans over HTTP, stored durably and answered.

    nice python tests/bench/scan_path.py [--cartons 24 400] [--phones 8 100] [--seconds 6] [--photos 5] [--follow]
                                         [--against COMMIT]

The server runs in a process of its own on loopback. First one phone scans one carton after the other: CPU milliseconds
of the server a scan. Then each of the phones scans once a second, four phones to a shipment, beside photos that come in
at the given rate (and are read, by the server's processes); with --follow each phone also follows its page, as a page
in view does. Bytes (compressed) that a phone gets while it follows twenty scans are counted. --against does the same
with the code of a commit before, in the same run. Status 0 counts requests without an answer in 20 s. A bare durable
insert of SQLite on the same disk is timed beside it.
"""

import argparse
import asyncio
import io
import sqlite3
import sys
import tempfile
from pathlib import Path
from random import Random
from time import perf_counter

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from tests.bench.phones import Phone, Tally  # noqa: E402
from tests.bench.served import Load, Served, code_of  # noqa: E402

MOST_SCANS = 400
PHONES_A_SHIPMENT = 4


async def one_phone(served: Served, load: Load) -> tuple[Tally, float]:
    """One phone that scans every carton of a shipment; the tally and CPU seconds a scan."""
    tally = Tally()
    shipment, codes = next(iter(load.shipments.items()))
    phone = Phone(served.port, shipment, tally)
    await phone.greet()
    for code in codes[:3]:
        await phone.scan(f"]C100{code}")
    tally.took_s.clear()
    tally.statuses.clear()
    before, done, start = served.cpu_s(), 0, perf_counter()
    for code in codes[3:MOST_SCANS]:
        await phone.scan(f"]C100{code}")
        done += 1
        if perf_counter() - start > 30:
            break
    phone.close()
    return tally, (served.cpu_s() - before) / max(1, done)


async def bytes_followed(served: Served, load: Load) -> tuple[int, int]:
    """Bytes that two phones are sent while they follow twenty scans: by one that is sent what changed, and one not."""
    shipment, codes = next(iter(load.shipments.items()))
    tallies = Tally(), Tally()
    phones = [Phone(served.port, shipment, tally, holds=tally is tallies[0]) for tally in tallies]
    for phone in phones:
        await phone.greet()
        await phone.follow()
    for tally in tallies:
        tally.bytes = 0
    for code in codes[3:23]:
        for phone in phones:  # the second one scans each carton again
            await phone.scan(f"]C100{code}")
            await phone.follow()
    for phone in phones:
        phone.close()
    return tallies[0].bytes, tallies[1].bytes


async def many_phones(
    served: Served, load: Load, *, phones: int, seconds: float, photos: float, follow: bool
) -> tuple[Tally, float]:
    """Phones that each scan once a second; the tally and the share of one core that the server's process took."""
    tally, random = Tally(), Random(1)
    pictures = [small_photo(number) for number in range(int(photos * seconds) + 1)]  # made beforehand: it takes long
    shipments = list(load.shipments)
    start = perf_counter()
    before = served.cpu_s()

    async def scanning(number: int) -> None:
        shipment = shipments[number // PHONES_A_SHIPMENT % len(shipments)]
        phone = Phone(served.port, shipment, tally)
        await asyncio.sleep(random.random())
        await phone.greet()
        while perf_counter() - start < seconds:
            due = perf_counter() + 1
            await phone.scan(f"]C100{random.choice(load.shipments[shipment])}")
            if follow:
                await phone.follow()
            await asyncio.sleep(max(0.0, due - perf_counter()))
        phone.close()

    async def photographing() -> None:
        phone = Phone(served.port, shipments[-1], tally)
        await phone.greet()
        n = 0
        while n < len(pictures) and perf_counter() - start < seconds:
            due = perf_counter() + 1 / photos
            await phone.photo(pictures[n])
            n += 1
            await asyncio.sleep(max(0.0, due - perf_counter()))
        phone.close()

    await asyncio.gather(photographing(), *(scanning(number) for number in range(phones)))
    return tally, (served.cpu_s() - before) / (perf_counter() - start)


def small_photo(number: int) -> bytes:
    """A photo of noise without a label, no two alike."""
    from PIL import Image

    out = io.BytesIO()
    Image.effect_noise((640, 480), 40).save(out, "JPEG", comment=f"{number}-{perf_counter()}")
    return out.getvalue()


def bare_insert_ms(folder: Path, rounds: int = 60) -> float:
    """A durable insert of one row, with SQLite alone."""
    connection = sqlite3.connect(folder / "bare.sqlite", isolation_level=None)
    connection.execute("PRAGMA journal_mode=WAL")
    connection.execute("PRAGMA synchronous=FULL")
    connection.execute("CREATE TABLE t (id INTEGER PRIMARY KEY, text TEXT)")
    start = perf_counter()
    for n in range(rounds):
        connection.execute("INSERT INTO t (text) VALUES (?)", [f"{n}" * 80])
    connection.close()
    return 1000 * (perf_counter() - start) / rounds


def run(label: str, commit: str, given: argparse.Namespace) -> None:
    with tempfile.TemporaryDirectory() as name, code_of(commit, Path(name)) as code:
        folder = Path(name)
        Phone.in_parts = "URLSearchParams" not in (code / "web" / "static" / "transport.js").read_text()
        print(f"{label}: bare durable insert {bare_insert_ms(folder):.2f} ms")
        for cartons in given.cartons:
            load = Load.of(1, cartons)
            with Served(code, folder / f"one-{cartons}", load) as served:
                tally, cpu_s = asyncio.run(one_phone(served, load))
                changed, whole = asyncio.run(bytes_followed(served, load))
            print(
                f"  {cartons:4} cartons, 1 phone: {1000 * cpu_s:7.1f} ms of CPU a scan, "
                f"p50 {tally.at('scan', 50):.1f} ms, p99 {tally.at('scan', 99):.1f} ms, answers {tally.statuses}"
            )
            print(
                f"  {cartons:4} cartons, 20 scans followed: {changed / 1000:.0f} kB where what changed is sent, "
                f"{whole / 1000:.0f} kB where the part is, {changed / whole:.2f} of it"
            )
        for phones in given.phones:
            load = Load.of(max(1, phones // PHONES_A_SHIPMENT), 40)
            with Served(code, folder / f"many-{phones}", load) as served:
                tally, cores = asyncio.run(
                    many_phones(
                        served, load, phones=phones, seconds=given.seconds, photos=given.photos, follow=given.follow
                    )
                )
                memory = served.memory_mb()
            if tally.refused:
                print(f"  the first refusal: {tally.refused[:400]}")
            scans = len(tally.took_s.get("scan", []))
            print(
                f"  {phones:4} phones, 1 scan/s each, {given.photos:g} photos/s{', following' * given.follow}: "
                f"scan p50 {tally.at('scan', 50):.0f} ms, p99 {tally.at('scan', 99):.0f} ms; "
                f"live p99 {tally.at('live', 99):.0f} ms; {scans} scans in {given.seconds:g} s, "
                f"answers {tally.statuses}; {cores:.2f} cores, {memory:.0f} MB, {tally.bytes / 1e6:.1f} MB sent"
            )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--cartons", type=int, nargs="*", default=[24, 400])
    parser.add_argument("--phones", type=int, nargs="*", default=[8, 100])
    parser.add_argument("--seconds", type=float, default=6)
    parser.add_argument("--photos", type=float, default=5)
    parser.add_argument("--follow", action="store_true")
    parser.add_argument("--against", default="", metavar="COMMIT")
    given = parser.parse_args()
    if given.against:
        run(f"before ({given.against[:10]})", given.against, given)
    run("now", "", given)


if __name__ == "__main__":
    main()
