"""Whether 500 actions of a rep arrive exactly once, whatever goes wrong on the way; and how fast 1,000 records drain.

    python tests/bench/phone_outbox.py [--actions 500] [--faults 10] [--drain 1000] [--seed 7]

Two browsers (Debian's Chromium), each signed in with an account of its own, work at one shipment through the page's
own outbox, while the signal goes, pages are loaded anew, sessions end and people sign in again, the form token goes and
the server is killed and started again, in random order. At the end every id is looked for in the database: reads, the
ledger of actions, photos.
"""

import argparse
import json
import os
import shutil
import signal
import socket
import sqlite3
import subprocess
import sys
import tempfile
import time
import urllib.request
from io import BytesIO
from pathlib import Path
from random import Random

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from PIL import Image  # noqa: E402

from receiving import service  # noqa: E402
from receiving.model import Role  # noqa: E402
from tests.planned_reader import PlannedReader  # noqa: E402
from tests.web.scenario import sscc  # noqa: E402

CHROMIUM = "/usr/bin/chromium"
ARGUMENTS = ["--no-sandbox", "--disable-gpu"]
SHIPMENT, ADDRESS, CARTONS = "S-900", "/s/S-900", 300
FAULTS = ("signal", "reload", "token", "session", "restart")
KINDS = ("scan",) * 10 + (
    *("place", "count", "damage", "moved", "seen", "plan", "undo", "photo", "crop", "search", "confirm"),
)
PEOPLE = ("Ada", "Bo")
PASSWORD = "a long word for the trial"
NEVER_SEEN = 10
"""Cartons at the end of the manifest that stay missing: those are looked for."""
SIGNED_OUT_FOR = 25
"""Actions that a person makes before he signs in again."""

ADD = """async ([kind, url, fields, picture, id]) => {
  const script = document.querySelector("script[src*='app.js']").src.replace("app.js", "outbox.js");
  const { outbox } = await import(script);
  const files = picture ? [{ field: ["photo", "crop"].includes(kind) ? "photos" : "photo_file", name: `${id}.png`,
    blob: new Blob([Uint8Array.from(atob(picture), (c) => c.charCodeAt(0))], { type: "image/png" }) }] : [];
  await outbox.add({ kind, url, fields, files, shipment: "S-900", id, large: kind === "photo" });
}"""
WAITING = """async () => {
  const script = document.querySelector("script[src*='app.js']").src.replace("app.js", "outbox.js");
  const { outbox } = await import(script);
  const sum = (kinds) => Object.values(kinds).reduce((a, b) => a + b, 0);
  const { waiting, refused } = await outbox.counts();
  const why = (await outbox.list("refused")).map((r) => [r.kind, r.problem && r.problem.message]);
  return [sum(waiting), sum(refused), outbox.why, why];
}"""


class Server:
    """The real command, killed and started again on the same folder and port."""

    def __init__(self, data: Path) -> None:
        self.data = data
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = free.getsockname()[1]
        self.address = f"http://127.0.0.1:{self.port}"
        self.start()

    def start(self) -> None:
        command = [sys.executable, "-m", "receiving", "serve", "--data", str(self.data), "--port", str(self.port)]
        quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
        self.process = subprocess.Popen([*command, "--workers", "1"], cwd=ROOT, start_new_session=True, **quiet)
        for _ in range(300):
            try:
                urllib.request.urlopen(self.address + "/signal", timeout=1).read()
                return
            except OSError:
                time.sleep(0.1)
        raise SystemExit("the server did not start")

    def kill(self) -> None:
        os.killpg(self.process.pid, signal.SIGKILL)
        self.process.wait()


def prepare(data: Path) -> None:
    with service.Context(data, PlannedReader()) as ctx:
        rows = [
            f"{SHIPMENT},0417,{n:03d},{sscc(5000 + n)},tray,Run,{n % 12 + 1},1,ITEM-{n},4,ea,6,60,40,30,2026-12-24"
            for n in range(1, CARTONS + 1)
        ]
        header = (
            "shipment,store,carton,sscc,kind,section,column,row,item,qty,unit,weight_kg,length_cm,width_cm,height_cm,"
            "dispatch_date"
        )
        service.import_manifest(ctx, "trial.csv", "\n".join([header, *rows]).encode())
        service.add_person(ctx, "Cora", Role.COORDINATOR, PASSWORD)
        for name in PEOPLE:
            service.add_person(ctx, name, Role.REP, PASSWORD)


def sign_in(page: object, server: "Server", name: str) -> None:
    """Sign in at this page, and stay at the shipment."""
    for _ in range(5):
        page.goto(f"{server.address}/sign-in?back={ADDRESS}")
        page.fill("#name", name)
        page.fill("#password", PASSWORD)
        page.click("text=Sign in >> nth=-1")
        if page.locator("#scan").count():
            return
        page.wait_for_timeout(1000)
    raise SystemExit(f"{name} could not sign in: {page.inner_text('main')[:300]}")


def picture(number: int) -> str:
    import base64

    image = Image.new("RGB", (64, 48), (number % 256, number // 256 % 256, 90))
    file = BytesIO()
    image.save(file, "PNG")
    return base64.b64encode(file.getvalue()).decode()


def action(random: Random, number: int, made: list[tuple[str, str]]) -> tuple[str, str, list[list[str]], str]:
    """(kind, address, fields, picture) of one action; an undo is of a scan that this phone made before."""
    kind = random.choice(KINDS)
    carton = f"{random.randint(1, CARTONS - NEVER_SEEN):03d}"
    missing = f"{random.randint(CARTONS - NEVER_SEEN + 1, CARTONS):03d}"
    notes = f"{ADDRESS}/notes"
    scans = [made_id for what, made_id in made if what == "scan"]
    fields = {
        "place": {"kind": "carton_place", "carton": carton, "place": random.choice(["dock", "back_room"])},
        "count": {"kind": "content_counted", "carton": carton, "item": f"ITEM-{int(carton)}", "qty": "3"},
        "damage": {
            "kind": "damage_noted",
            "carton": carton,
            "reason": "arrived_damaged",
            "usable": "false",
            "qty": "1",
        },
        "moved": {"kind": "carton_moved", "carton": carton, "bay": "B1"},
        "seen": {"kind": "carton_seen", "carton": carton, "reason": "label torn"},
        "plan": {"kind": "staging_changed", "carton": carton, "trip": "1"},
        "search": {"kind": "place_searched", "carton": missing, "place": random.choice(["dock", "overhead"])},
    }
    if kind in fields:
        note = [[name, value] for name, value in fields[kind].items()]
        return "note" if kind == "seen" else kind, notes, note, picture(number) if kind == "damage" else ""
    if kind == "undo" and scans:
        note = {"kind": "read_rejected", "read_id": random.choice(scans), "reason": "scanned by mistake"}
        return kind, notes, [[name, value] for name, value in note.items()], ""
    if kind in ("photo", "crop"):
        return kind, f"{ADDRESS}/{kind}s", [["place", "dock"]], picture(number)
    if kind == "confirm":
        out_of_date = {"digest": "0" * 64, "name": "Kim", "role": "Manager", "how": "exceptions", "short": "searched"}
        return "confirmation", f"{ADDRESS}/receipt", [[name, value] for name, value in out_of_date.items()], ""
    text = f"]C100{sscc(5000 + random.randint(1, CARTONS - NEVER_SEEN))}"
    return "scan", f"{ADDRESS}/scans", [["text", text], ["source", "scanner"], ["place", "dock"]], ""


def trial(args: argparse.Namespace, data: Path, playwright: object) -> None:
    random, server = Random(args.seed), Server(data)
    browsers = [playwright.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS) for _ in (1, 2)]
    pages = []
    for browser, name in zip(browsers, PEOPLE, strict=True):
        context = browser.new_context(viewport={"width": 360, "height": 740})
        page = context.new_page()
        sign_in(page, server, name)
        page.evaluate("navigator.serviceWorker.ready.then(() => true)")
        page.goto(server.address + ADDRESS)
        pages.append(page)
    at = sorted(random.sample(range(20, args.actions), args.faults))
    faults = dict(zip(at, [*FAULTS, *FAULTS, *random.choices(FAULTS, k=args.faults)][: args.faults], strict=True))
    made: dict[int, list[tuple[str, str]]] = {0: [], 1: []}
    offline: dict[int, int] = {}
    signed_out: dict[int, int] = {}
    for number in range(args.actions):
        which = number % 2
        page = pages[which]
        for back, until in list(offline.items()):
            if number >= until:
                pages[back].context.set_offline(False)
                del offline[back]
        for out, until in list(signed_out.items()):
            if number >= until and out not in offline:
                sign_in(pages[out], server, PEOPLE[out])
                del signed_out[out]
        if fault := faults.get(number):
            if fault == "signal":
                page.context.set_offline(True)
                offline[which] = number + 30
            elif fault == "reload":
                page.reload()
            elif fault in ("token", "session"):
                page.context.clear_cookies(name=fault)
                if fault == "session":
                    signed_out[which] = number + SIGNED_OUT_FOR
            else:
                server.kill()
                server.start()
            print(f"  {number}: {fault}", flush=True)
        kind, url, fields, image = action(random, number, made[which])
        made_id = f"{random.getrandbits(32):08x}-0000-4000-8000-{number:012d}"
        page.evaluate(ADD, [kind, url, fields, image, made_id])
        made[which].append((kind, made_id))
    for page in pages:
        page.context.set_offline(False)
    for out in signed_out:
        sign_in(pages[out], server, PEOPLE[out])
    began = time.monotonic()
    left = [wait_until_sent(page) for page in pages]
    print(f"all sent {time.monotonic() - began:.0f} s after the last one was made")
    for browser in browsers:
        browser.close()
    count(data, [each for both in made.values() for each in both], left)
    server.kill()


def wait_until_sent(page: object) -> list:
    for _ in range(2400):
        waiting, refused, why, problems = page.evaluate(WAITING)
        if not waiting:
            break
        time.sleep(0.25)
    return [waiting, refused, why, problems]


def count(data: Path, made: list[tuple[str, str]], left: list) -> None:
    db = sqlite3.connect(data / "receiving.sqlite")
    reads = dict(db.execute("SELECT read_id, count(*) FROM reads WHERE photo IS NULL OR photo = '' GROUP BY read_id"))
    ledger = dict(db.execute("SELECT action_id, count(*) FROM actions GROUP BY action_id"))
    notes = dict(db.execute("SELECT action_id, count(*) FROM notes GROUP BY action_id"))
    photos = db.execute("SELECT count(*) FROM photos").fetchone()[0]
    once = lost = twice = 0
    expected_photos = sum(kind in ("photo", "crop", "damage") for kind, _ in made)
    refused = [made_id for kind, made_id in made if kind == "confirmation"]
    for kind, made_id in made:
        if kind in ("photo", "crop", "confirmation"):
            continue
        times = reads.get(made_id, 0) if kind == "scan" else max(ledger.get(made_id, 0), notes.get(made_id, 0))
        once, lost, twice = once + (times == 1), lost + (times == 0), twice + (times > 1)
    total_reads, total_notes = sum(reads.values()), sum(notes.values())
    scans = sum(kind == "scan" for kind, _ in made)
    kinds = {kind: sum(each == kind for each, _ in made) for kind in sorted({kind for kind, _ in made})}
    print(f"made {len(made)}: {json.dumps(kinds)}")
    print(f"scans and notes in the database once {once}, not at all {lost}, more than once {twice}")
    print(f"reads {total_reads} of {scans} scans, notes {total_notes}, photos {photos} of {expected_photos}")
    print(
        f"confirmations of counts that changed: {len(refused)} made, {sum(each[1] for each in left)} listed as refused"
    )
    print(f"still waiting on the phones: {[each[0] for each in left]}")
    by = {json.loads(read)["by"] for (read,) in db.execute("SELECT read FROM reads WHERE photo = ''")}
    print(f"scans by {', '.join(sorted(by))}")
    assert by == set(PEOPLE)
    assert (lost, twice, total_reads, photos) == (0, 0, scans, expected_photos)
    assert sum(each[0] for each in left) == 0
    assert sum(each[1] for each in left) == len(refused)


def drain(args: argparse.Namespace, data: Path, playwright: object) -> None:
    """Records made without a signal, then sent: how long the phone takes, and what a record costs it as they grow."""
    server = Server(data)
    browser = playwright.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
    context = browser.new_context(viewport={"width": 360, "height": 740})
    page = context.new_page()
    sign_in(page, server, "Ada")
    page.wait_for_timeout(500)
    context.set_offline(True)
    took = page.evaluate(
        """async (n) => {
          const script = document.querySelector("script[src*='app.js']").src.replace("app.js", "outbox.js");
          const { outbox } = await import(script);
          const times = [];
          for (let i = 0; i < n; i++) {
            const from = performance.now();
            await outbox.add({ kind: "scan", url: "/s/S-900/scans", shipment: "S-900",
              fields: [["text", `]C1FILL${i}`], ["source", "scanner"], ["place", "dock"]] });
            times.push(performance.now() - from);
          }
          const median = (all) => all.sort((a, b) => a - b)[all.length >> 1];
          return [median(times.slice(0, 50)), median(times.slice(-50))];
        }""",
        args.drain,
    )
    print(f"a record stored: {took[0]:.1f} ms with 0-50 waiting, {took[1]:.1f} ms with {args.drain} waiting")
    context.set_offline(False)
    began = time.monotonic()
    while page.evaluate(WAITING)[0] and time.monotonic() - began < 600:
        time.sleep(0.5)
    seconds = time.monotonic() - began
    print(f"{args.drain} records sent in {seconds:.1f} s: {args.drain / seconds:.0f} a second")
    browser.close()
    server.kill()


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--actions", type=int, default=500)
    parser.add_argument("--faults", type=int, default=10)
    parser.add_argument("--drain", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=7)
    args = parser.parse_args()
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        for work, wanted in ((trial, args.actions), (drain, args.drain)):
            if not wanted:
                continue
            folder = Path(tempfile.mkdtemp(prefix="phone-trial-"))
            try:
                prepare(folder)
                work(args, folder, playwright)
            finally:
                shutil.rmtree(folder, ignore_errors=True)


if __name__ == "__main__":
    main()
