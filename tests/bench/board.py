"""The board of a whole programme over HTTP: first, again, in more rows, and while 100 phones scan.

    nice python tests/bench/board.py [--shipments 5000] [--reads 80] [--keep FOLDER]

Shipments of 20 cartons, one a store; three in four are read, 80 times each: 300,000 reads. The service runs in a
process of its own. CPU is that of the service's process (user and system), since others may work on the machine; wall
times are from the request to the last byte on loopback.

"Bare" is the least that could give the same answer: the same server (waitress) asks the three statements of the list
(the 100 rows, and the counts by urgency, which give their number), puts the same bytes together from rows that were
rendered before, and compresses them at the same level. It has no rights, no log, no filters and no language. The bare
SQL alone is printed beside it. For ten times the rows the table of list rows is filled with copies under other names.
"""

import argparse
import asyncio
import gzip
import sqlite3
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from random import Random
from statistics import median, quantiles
from urllib.request import Request, urlopen

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from receiving.service.context import Context  # noqa: E402
from receiving.store import DATABASE  # noqa: E402
from tests.bench.list_pages import fill  # noqa: E402
from tests.bench.phones import Phone, Tally  # noqa: E402
from tests.bench.served import Load, Served, sscc  # noqa: E402
from tests.planned_reader import PlannedReader  # noqa: E402

CARTONS = 20
ROUNDS, RESTARTS = 100, 5
POLL_S = 0.4
"""As web/static/board.js asks."""

BARE = """
import gzip, sqlite3, sys, threading
from waitress import serve
path, rows_file, port = sys.argv[1:]
parts = open(rows_file, encoding="utf-8").read().split("\\0")
kept = threading.local()
def app(environ, start):
    if not hasattr(kept, "db"):
        kept.db = sqlite3.connect(path)
    names = [r[0] for r in kept.db.execute("SELECT shipment, row, good_until FROM list_rows"
        " ORDER BY rank, distance, load, missing, shipment LIMIT 100 OFFSET 0")]
    counts = dict(kept.db.execute("SELECT urgency, count(*) FROM list_rows GROUP BY urgency"))
    html = "".join(parts) + "".join(f"<!-- {n} -->" for n in names[:1]) + f"<!-- {sum(counts.values())} -->"
    body = gzip.compress(html.encode(), 4, mtime=0)
    start("200 OK", [("Content-Type", "text/html; charset=utf-8"), ("Content-Encoding", "gzip")])
    return [body]
serve(app, host="127.0.0.1", port=int(port), threads=8)
"""


def get(port: int, path: str, **headers: str) -> tuple[int, bytes]:
    named = {name.replace("_", "-"): value for name, value in headers.items()}
    request = Request(f"http://127.0.0.1:{port}{path}", headers={"Accept-Encoding": "gzip", **named})
    with urlopen(request, timeout=120) as answer:
        return answer.status, answer.read()


def asked(port: int, path: str, rounds: int) -> list[float]:
    """Milliseconds of each request."""
    taken = []
    for _ in range(rounds):
        start = time.perf_counter()
        get(port, path)
        taken.append(1000 * (time.perf_counter() - start))
    return taken


def p95(taken: list[float]) -> float:
    return quantiles(taken, n=20, method="inclusive")[-1] if len(taken) > 1 else taken[0]


def measured(name: str, served: Served, path: str = "/overview", rounds: int = ROUNDS) -> float:
    """Prints wall and CPU milliseconds of a request; gives the CPU."""
    asked(served.port, path, 3)
    before = served.cpu_s()
    taken = asked(served.port, path, rounds)
    cpu = 1000 * (served.cpu_s() - before) / rounds
    print(f"{name:32} {median(taken):7.1f} ms, p95 {p95(taken):7.1f} ms, CPU {cpu:6.2f} ms")
    return cpu


def changing(served: Served) -> float:
    """The board whose version moved on before each request: the page around the rows is drawn again."""
    database = served.data / DATABASE
    cpus = []
    for n in range(ROUNDS // 2):
        with sqlite3.connect(database) as db:
            db.execute("UPDATE list_version SET version = version + 1")
        db.close()
        before = served.cpu_s()
        asked(served.port, f"/overview?n={n}", 1)
        cpus.append(served.cpu_s() - before)
    cpu = 1000 * sum(cpus) / len(cpus)
    print(f"{'the board, rows changed':32} {'':30} CPU {cpu:6.2f} ms")
    return cpu


def rows_made(served: Served) -> None:
    while b"being worked out" in gzip.decompress(get(served.port, "/overview")[1]):
        time.sleep(1)


def cold(data: Path) -> None:
    """The first request after each of a few restarts."""
    taken, cpus = [], []
    for _ in range(RESTARTS):
        with Served.at(data) as served:
            get(served.port, "/healthz")
            before = served.cpu_s()
            taken += asked(served.port, "/overview", 1)
            cpus.append(1000 * (served.cpu_s() - before))
    print(
        f"{'first after a restart':32} {median(taken):7.1f} ms, most {max(taken):6.1f} ms, CPU {median(cpus):6.0f} ms"
    )


def bare(data: Path, page: bytes, folder: Path) -> None:
    """The same bytes by the least that can give them."""
    database = data / DATABASE
    with sqlite3.connect(database) as db:
        start = time.process_time()
        for _ in range(ROUNDS):
            db.execute(
                "SELECT shipment, row, good_until FROM list_rows"
                " ORDER BY rank, distance, load, missing, shipment LIMIT 100 OFFSET 0"
            ).fetchall()
            db.execute("SELECT urgency, count(*) FROM list_rows GROUP BY urgency").fetchall()
        sql = 1000 * (time.process_time() - start) / ROUNDS
        print(f"{'bare SQL of the same rows':32} {'':30} CPU {sql:6.2f} ms")
    (folder / "rows").write_text("\0".join(page.decode().split("<tr ")), encoding="utf-8")
    (folder / "bare.py").write_text(BARE)
    port = 18_000 + Random().randrange(2_000)
    command = [sys.executable, str(folder / "bare.py"), str(database), str(folder / "rows"), str(port)]
    with Served.at(data) as served:
        own = measured("the board, nothing changed", served)
        floor = measured("any answer at all (/healthz)", served, "/healthz")
        drawn = changing(served)
    served.process = subprocess.Popen(command)
    served.port = port
    try:
        for _ in range(100):
            try:
                get(port, "/")
                break
            except OSError:
                time.sleep(0.1)
        least = measured("bare page of the same bytes", served, "/")
    finally:
        served.process.terminate()
        served.process.wait()
    print(f"{'ratio of CPU':32} {own / least:7.1f} while nothing changed, {drawn / least:.1f} while rows change")
    print(
        f"{'the same to bare SQL + /healthz':32} {own / (sql + floor):7.1f} and {drawn / (sql + floor):.1f};"
        f" to the SQL alone, which is not a page, {own / sql:.1f} and {drawn / sql:.1f}"
    )


async def scanned(served: Served, shipments: int, phones: int, seconds: float) -> None:
    """Phones that scan once a second, and a board that is open; probes say when a read is seen on it."""
    tally, watching = Tally(), Tally()
    random = Random(11)
    ends = time.monotonic() + seconds
    seen: list[float] = []

    async def scan(phone: Phone, number: int) -> None:
        await asyncio.sleep(random.random())
        while time.monotonic() < ends:
            started = time.monotonic()
            await phone.scan(f"]C100{sscc(number * CARTONS + random.randrange(CARTONS))}")
            await asyncio.sleep(max(0.0, 1 - (time.monotonic() - started)))

    async def watch() -> None:
        """The probe is one more shipment, which nobody has looked at: its first read makes it known to be short."""
        probes = iter(range(shipments - 1, shipments * 3 // 4, -1))
        prober = Phone(served.port, "", tally)
        await prober.greet()
        while time.monotonic() < ends:
            number = next(probes)
            prober.shipment = f"S-{number}"
            view = f"/overview?q=S-{number}&state=short"
            shown = asyncio.create_task(_shown(served.port, watching, view))
            await asyncio.sleep(0.5 + random.random())
            await prober.scan(f"]C100{sscc(number * CARTONS)}")
            stored = time.monotonic()
            seen.append(1000 * (await shown - stored))

    async def whole_board() -> None:
        board = Phone(served.port, "S-0", watching)
        while time.monotonic() < ends:
            await board.get("board", "/overview")
            await asyncio.sleep(POLL_S)

    crew = [Phone(served.port, f"S-{n}", tally) for n in range(phones)]
    await asyncio.gather(*(phone.greet() for phone in crew))
    before, began = served.cpu_s(), time.monotonic()
    await asyncio.gather(*(scan(phone, n) for n, phone in enumerate(crew)), watch(), whole_board())
    share = (served.cpu_s() - before) / (time.monotonic() - began)
    scans = len(tally.took_s["scan"])
    print(f"{phones} phones, {scans / seconds:.0f} scans a second, {share:.0%} of one core; answers {tally.statuses}")
    print(f"{'a scan':32} {tally.at('scan', 50):7.1f} ms, p95 {tally.at('scan', 95):7.1f} ms")
    print(f"{'the board meanwhile':32} {watching.at('board', 50):7.1f} ms, p95 {watching.at('board', 95):7.1f} ms")
    print(f"{'a read is seen after':32} {median(seen):7.1f} ms, most {max(seen):6.1f} ms, {len(seen)} probes")


async def _shown(port: int, tally: Tally, view: str) -> float:
    """When an open board first shows a row in this view, asking as a page does."""
    board = Phone(port, "S-0", tally)
    while True:
        await board.get("view", view)
        if b'id="row-' in board.last:
            board.close()
            return time.monotonic()
        await asyncio.sleep(POLL_S)


def grow(data: Path, times: int) -> None:
    """This many times the rows: copies under other names, as the service made them."""
    with sqlite3.connect(data / DATABASE) as db:
        columns = [row[1] for row in db.execute("PRAGMA table_info(list_rows)")]
        others = ", ".join(name for name in columns if name not in ("shipment", "store", "words"))
        shipped = [row[1] for row in db.execute("PRAGMA table_info(shipments)") if row[1] not in ("shipment", "store")]
        for n in range(1, times):
            db.execute(
                f"INSERT INTO shipments (shipment, store, {', '.join(shipped)}) SELECT 'C{n}-' || shipment,"
                f" '{n}' || store, {', '.join(shipped)} FROM shipments WHERE shipment LIKE 'S-%'"
            )
            db.execute(
                f"INSERT INTO list_rows (shipment, store, words, {others}) SELECT 'C{n}-' || shipment,"
                f" '{n}' || store, 'c{n}-' || words, {others} FROM list_rows WHERE shipment LIKE 'S-%'"
            )
        db.execute("DELETE FROM stale_rows")


PARTS = ("views", "cold", "bare", "phones", "grown")
VIEWS = {
    "sorted by visit": "/overview?sort=visit",
    "a state and some days": "/overview?state=short&from=2027-02-01&to=2027-03-31",
    "a section, by what is missing": "/overview?section=Sol&sort=missing",
    "search by store": "/overview?q=00042",
    "search by a code": f"/overview?q={sscc(4200)}",
}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--shipments", type=int, default=5000)
    parser.add_argument("--reads", type=int, default=80)
    parser.add_argument("--phones", type=int, default=100)
    parser.add_argument("--seconds", type=float, default=30)
    parser.add_argument("--keep", type=Path, help="a folder to fill once and to use again")
    parser.add_argument("--grow", type=int, default=10, help="times the rows in the last part")
    parser.add_argument("--parts", nargs="+", default=PARTS, choices=PARTS, help="what is measured (default: all)")
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        folder = given.keep or Path(name)
        data = folder / "data"
        if not data.exists():
            folder.mkdir(parents=True, exist_ok=True)
            with Context(data, PlannedReader()) as ctx:
                fill(ctx, folder, Load.of(given.shipments, CARTONS), given.reads)
        with Served.at(data) as served:
            rows_made(served)
            page = gzip.decompress(sent := get(served.port, "/overview")[1])
            print(f"{given.shipments} shipments; a board is {len(page) / 1000:.0f} kB, {len(sent) / 1000:.1f} kB sent")
            for words, path in VIEWS.items() if "views" in given.parts else ():
                measured(words, served, path, rounds=20)
        if "cold" in given.parts:
            cold(data)
        if "bare" in given.parts:
            bare(data, page, Path(name))
        if "phones" in given.parts:
            with Served.at(data) as served:
                asyncio.run(scanned(served, given.shipments, given.phones, given.seconds))
        if "grown" in given.parts:
            copy = Path(name) / "grown"
            copy.mkdir()
            with sqlite3.connect(data / DATABASE) as source, sqlite3.connect(copy / DATABASE) as target:
                source.backup(target)
            grow(copy, given.grow)
            with Served.at(copy) as served:
                measured(f"{given.grow} times the rows", served)
                for words, path in VIEWS.items():
                    measured(words, served, path, rounds=20)


if __name__ == "__main__":
    main()
