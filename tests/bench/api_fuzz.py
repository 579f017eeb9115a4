"""All calls of the API under schemathesis, made from its own description, also while others scan.

    pip install schemathesis
    nice python tests/bench/api_fuzz.py [--examples 50] [--phones 20] [--seconds 240]

The service runs in a process of its own with three shipments and one receipt. Every check of schemathesis is on; a
file that is posted may also be refused as no photo or as a manifest with faults, since no schema says what is in one.
The run ends with status 1 where one fails or where it is not finished in time. With ``--phones`` as many scan once a
second meanwhile.
"""

import argparse
import asyncio
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from receiving import service  # noqa: E402
from tests.bench.phones import Phone, Tally  # noqa: E402
from tests.bench.served import Load, Served, sscc  # noqa: E402
from tests.planned_reader import PlannedReader  # noqa: E402

CARTONS = 20


def fill(data: Path, folder: Path) -> str:
    """Shipments to call for, one of them confirmed; gives the secret of a token that may do all."""
    load = Load.of(3, CARTONS)
    load.write_manifest(folder / "m.csv")
    with service.Context(data, PlannedReader()) as ctx:
        service.import_manifest(ctx, "m.csv", (folder / "m.csv").read_bytes())
        shown = service.show_receipt(ctx, "S-1")
        service.confirm(
            ctx,
            "S-1",
            shown.digest,
            name="Bo",
            role="Manager",
            with_exceptions=True,
            missing=service.MissingAnswer(searched=True),
        )
        return service.make_api_token(ctx, "fuzz", list(service.Scope), by="bench")[1]


@contextmanager
def scanning(port: int, phones: int) -> Iterator[Tally]:
    """Phones that scan once a second at another shipment for as long as this lasts."""
    tally, over = Tally(), threading.Event()

    async def scan(number: int) -> None:
        phone = Phone(port, "S-2", tally)
        await phone.greet()
        while not over.is_set():
            await phone.scan(f"]C100{sscc(2 * CARTONS + number % CARTONS)}")
            await asyncio.sleep(1)

    async def crew() -> None:
        await asyncio.gather(*(scan(n) for n in range(phones)))

    thread = threading.Thread(target=lambda: asyncio.run(crew()))
    thread.start()
    try:
        yield tally
    finally:
        over.set()
        thread.join()


FILES = """
[[operations]]
include-path-regex = "/(notices|photos)$"
include-method = "POST"
checks.positive_data_acceptance.expected-statuses = ["2xx", "401", "403", "404", "409", "413", "415", "422", "503"]
"""
"""What may come of a file that the description allows."""


def fuzz(program: str, port: int, secret: str, examples: int, seconds: int) -> int:
    settings = Path(tempfile.mkdtemp()) / "schemathesis.toml"
    settings.write_text(FILES)
    command = [program, "--config-file", str(settings), "run"]
    command += [f"http://127.0.0.1:{port}/api/v1/openapi.json", "--header", f"Authorization: Bearer {secret}"]
    command += ["--checks", "all", "--max-examples", str(examples)]
    command += ["--phases", "examples,coverage,fuzzing", "--seed", "17", "--workers", "2", "--request-timeout", "60"]
    try:
        return subprocess.run(command, cwd=tempfile.gettempdir(), timeout=seconds, check=False).returncode
    except subprocess.TimeoutExpired:
        print(f"stopped after {seconds} s: not finished")
        return 1


BESIDE = str(Path(sys.executable).with_name("schemathesis"))


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--examples", type=int, default=50)
    parser.add_argument("--phones", type=int, default=20)
    parser.add_argument("--seconds", type=int, default=240)
    parser.add_argument("--schemathesis", default=BESIDE if Path(BESIDE).exists() else "schemathesis")
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        secret = fill(folder / "data", folder)
        with Served.at(folder / "data") as served, scanning(served.port, given.phones) as tally:
            began = time.monotonic()
            status = fuzz(given.schemathesis, served.port, secret, given.examples, given.seconds)
            print(f"{time.monotonic() - began:.0f} s; meanwhile {given.phones} phones, answers {tally.statuses}")
        return status


if __name__ == "__main__":
    raise SystemExit(main())
