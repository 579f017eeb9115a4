"""How long a scan takes beside threads that draw pages, by how long a thread keeps the interpreter.

    nice python tests/bench/switch_interval.py [--drawing 1 3] [--rounds 6]

Everything is in this process: the app, one browser that scans, and threads that ask for a shipment's page without end.
The intervals (sys.setswitchinterval) take turns, so that a busy machine is as busy for each of them.
"""

import argparse
import subprocess
import sys
import tempfile
import threading
import time
import uuid
from pathlib import Path
from statistics import quantiles

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from receiving.service.context import Context  # noqa: E402
from receiving.service.planning import PlannerAway  # noqa: E402
from tests.bench.served import Load  # noqa: E402
from tests.planned_reader import PlannedReader  # noqa: E402
from web import create_app, warming  # noqa: E402

INTERVALS_S = (0.005, 0.001, 0.0005, 0.0002)
SCANS = 12


class Browser:
    """A browser of the app that scans the cartons of one shipment in turn."""

    def __init__(self, app, codes: list[str]) -> None:  # type: ignore[no-untyped-def]
        self._client, self._codes, self._next = app.test_client(), codes, 0
        self._client.get("/signal")
        self._token = self._client.get_cookie("token").value

    def scan(self) -> float:
        """Seconds that one scan took."""
        action, code = str(uuid.uuid4()), self._codes[self._next % len(self._codes)]
        self._next += 1
        fields = {"text": f"]C100{code}", "scan_id": action, "source": "scanner", "place": "dock", "by": "Ana"}
        start = time.perf_counter()
        answer = self._client.post(
            "/s/S-0/scans", data=fields, headers={"X-Action": action, "X-Token": self._token, "X-Part": "answer"}
        )
        assert answer.status_code == 200, answer.get_data(as_text=True)
        return time.perf_counter() - start


def measure(app, codes: list[str], drawing: int, rounds: int) -> None:  # type: ignore[no-untyped-def]
    ended, drawn = threading.Event(), [0] * drawing
    browser = Browser(app, codes)

    def draw(number: int) -> None:
        client = app.test_client()
        while not ended.is_set():
            client.get("/s/S-0")
            drawn[number] += 1

    threads = [threading.Thread(target=draw, args=(number,)) for number in range(drawing)]
    for thread in threads:
        thread.start()
    took: dict[float, list[float]] = {each: [] for each in INTERVALS_S}
    cpu_s, pages = dict.fromkeys(INTERVALS_S, 0.0), dict.fromkeys(INTERVALS_S, 0)
    for _ in range(rounds):
        for interval in INTERVALS_S:
            sys.setswitchinterval(interval)
            before, drawn_before = time.process_time(), sum(drawn)
            took[interval] += [browser.scan() for _ in range(SCANS)]
            cpu_s[interval] += time.process_time() - before
            pages[interval] += sum(drawn) - drawn_before
    ended.set()
    for thread in threads:
        thread.join()
    usual = quantiles(took[INTERVALS_S[0]], n=20)
    for interval, seconds in took.items():
        cuts = quantiles(seconds, n=20)
        print(
            f"{drawing} drawing, {1000 * interval:3.1f} ms: scan p50 {1000 * cuts[9]:.0f} ms"
            f" ({cuts[9] / usual[9]:.2f} of the first), p95 {1000 * cuts[18]:.0f} ms ({cuts[18] / usual[18]:.2f});"
            f" {1000 * cpu_s[interval] / max(1, pages[interval]):.1f} ms of CPU for each page beside it"
        )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--drawing", type=int, nargs="*", default=[1, 3])
    parser.add_argument("--rounds", type=int, default=6)
    given = parser.parse_args()
    load = Load.of(1, 40)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        load.write_manifest(folder / "manifest.csv")
        command = [sys.executable, "-m", "receiving", "import", str(folder / "manifest.csv"), "--data"]
        subprocess.run([*command, str(folder / "data")], cwd=ROOT, check=True, stdout=subprocess.DEVNULL)
        with Context(folder / "data", PlannedReader(), planner=PlannerAway()) as ctx:
            app = create_app(ctx)
            warming.warm(app)
            for drawing in given.drawing:
                measure(app, load.shipments["S-0"], drawing, given.rounds)


if __name__ == "__main__":
    main()
