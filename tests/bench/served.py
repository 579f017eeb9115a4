"""The service in a process of its own on loopback, for benches: started, loaded with shipments, and measured.

Works with the code of another commit too, so that one run compares before and after: `code_of` unpacks it.
"""

import io
import re
import subprocess
import sys
import tarfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from os import sysconf
from pathlib import Path
from random import Random
from types import TracebackType
from typing import Self

PROJECT = Path(__file__).resolve().parents[2]
TICKS_S = sysconf("SC_CLK_TCK")
SIZES_CM = ((60, 40, 15), (60, 40, 20), (40, 30, 15), (80, 60, 5), (30, 20, 15), (120, 20, 15))
"""Multiples of the 600 mm x 400 mm module of ISO 3394, and two long ones; our choice."""
COLUMNS, ROWS, BAY_COLUMNS = 24, 6, 3


def sscc(serial: int) -> str:
    """An invented SSCC with the demo prefix 952 and its check digit (GS1 General Specifications, section 7.9)."""
    body = f"3952{serial:013d}"
    total = sum(int(digit) * (3 if place % 2 == 0 else 1) for place, digit in enumerate(body))
    return f"{body}{-total % 10}"


@dataclass(frozen=True)
class Load:
    """Shipments to load: ids, and the SSCC of each of their cartons."""

    shipments: dict[str, list[str]]
    stores: dict[str, str]
    cartons: int

    @classmethod
    def of(cls, shipments: int, cartons: int) -> Self:
        ids = {f"S-{n}": [sscc(n * cartons + k) for k in range(cartons)] for n in range(shipments)}
        return cls(ids, {shipment: f"{n:05d}" for n, shipment in enumerate(ids)}, cartons)

    def write_manifest(self, file: Path) -> None:
        random = Random(5)
        with file.open("w") as out:
            out.write("shipment,store,carton,sscc,kind,section,column,row,item,qty,weight_kg,length_cm,width_cm,")
            out.write("height_cm,dispatch_date\n")
            for shipment, codes in self.shipments.items():
                for n, code in enumerate(codes, 1):
                    place = f"Sol,{(n - 1) % COLUMNS + 1},{(n - 1) // COLUMNS % ROWS + 1}"
                    size = ",".join(map(str, random.choice(SIZES_CM)))
                    out.write(f"{shipment},{self.stores[shipment]},{n:03d},{code},tray,{place},IT-{n},1,")
                    out.write(f"{random.randint(2, 14)},{size},2027-03-01\n")

    def write_layouts(self, folder: Path) -> list[Path]:
        files = []
        for store in self.stores.values():
            lines = [f'[store]\nid = "{store}"\nwalk_m = 60\n[cart]\nmax_load_kg = 110\ndeck_length_cm = 120']
            lines.append("deck_width_cm = 60\nstack_height_cm = 100")
            for n, first in enumerate(range(1, COLUMNS + 1, BAY_COLUMNS), 1):
                columns = list(range(first, first + BAY_COLUMNS))
                lines.append(f'[[bay]]\nid = "B{n}"\nsection = "Sol"\ncolumns = {columns}\nwidth_cm = 122')
                lines.append(f"staging_length_cm = 122\nstaging_depth_cm = 60\norder = {n}")
            files.append(folder / f"layout-{store}.toml")
            files[-1].write_text("\n".join(lines))
        return files


@contextmanager
def code_of(commit: str, folder: Path) -> Iterator[Path]:
    """The project as it was at a commit, unpacked below ``folder``; an empty ``commit`` is the code as it is here."""
    if not commit:
        yield PROJECT
        return
    packed = subprocess.run(["git", "archive", commit], cwd=PROJECT, check=True, stdout=subprocess.PIPE).stdout
    target = folder / f"code-{commit}"
    with tarfile.open(fileobj=io.BytesIO(packed)) as archive:
        archive.extractall(target, filter="data")
    yield target


class Served:
    """The service of this code at a new data folder with these shipments; a context manager."""

    def __init__(self, code: Path, folder: Path, load: Load, *, layouts: bool = True) -> None:
        self._code, self._data = code, folder / "data"
        folder.mkdir(parents=True, exist_ok=True)
        manifest = folder / "manifest.csv"
        load.write_manifest(manifest)
        self._run("import", manifest, "--data", self._data)
        if layouts:
            self._run("import", *load.write_layouts(folder), "--data", self._data)

    @classmethod
    def at(cls, data: Path, code: Path = PROJECT) -> Self:
        """The service of this code at a data folder that is there already."""
        served = cls.__new__(cls)
        served._code, served._data = code, data
        return served

    def _run(self, *arguments: object) -> None:
        command = [sys.executable, "-m", "receiving", *map(str, arguments)]
        subprocess.run(command, cwd=self._code, check=True, stdout=subprocess.DEVNULL)

    def __enter__(self) -> Self:
        command = [sys.executable, "-m", "receiving", "serve", "--data", str(self._data), "--port", "0"]
        self.process = subprocess.Popen(
            command, cwd=self._code, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True
        )
        assert self.process.stdout is not None
        for line in self.process.stdout:
            if found := re.search(r"http://[^/]*?:(\d+)/", line):
                self.port = int(found[1])
                return self
        raise SystemExit("the server did not start")

    def __exit__(self, kind: type[BaseException] | None, fault: BaseException | None, at: TracebackType | None) -> None:
        self.process.terminate()
        try:
            self.process.wait(20)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait()

    @property
    def data(self) -> Path:
        """The data folder."""
        return self._data

    def cpu_s(self) -> float:
        """CPU seconds of the server's own process so far, without those of the processes that it started."""
        fields = Path(f"/proc/{self.process.pid}/stat").read_text().rpartition(")")[2].split()
        return (int(fields[11]) + int(fields[12])) / TICKS_S

    def memory_mb(self) -> float:
        """The most that the server's own process held so far."""
        lines = Path(f"/proc/{self.process.pid}/status").read_text().splitlines()
        return int(next(line for line in lines if line.startswith("VmHWM")).split()[1]) / 1024
