"""Figures of label text: time per label as a ratio to biip alone, and growth of time with the length of the text.

Run ``python tests/bench/label_text.py``. All figures of a run come from that run; ratios can be compared, seconds
cannot.
"""

import sys
import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import biip

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
from receiving.model import Carton, CartonKind, Manifest, RawRead, Source, Sscc, mod10_check_digit
from receiving.reading import gs1, mh10
from receiving.reading.claims import interpret
from receiving.reading.patterns import LabelPattern, default_patterns, groups_of
from receiving.reading.printed_text import claims_from_text
from receiving.reading.scans import read_scans

NOW = datetime(2026, 3, 2, tzinfo=UTC)
LABELS = 2_000


def sscc(serial: int) -> str:
    digits = f"1952012345{serial:07}"
    return digits + mod10_check_digit(digits)


def least(work: Callable[[], object], times: int = 3) -> float:
    """Seconds of processor time of the fastest of some runs: other work on the machine counts least."""
    best = float("inf")
    for _ in range(times):
        start = time.process_time()
        work()
        best = min(best, time.process_time() - start)
    return best


def against_biip() -> None:
    texts = [f"]C100{sscc(n)}400PO{n}\x1d421840{n:05}" for n in range(LABELS)]
    reads = [RawRead(str(n), NOW, Source.PHOTO, text) for n, text in enumerate(texts)]
    patterns = default_patterns()
    alone = least(lambda: [biip.parse(text) for text in texts], 1)
    first = least(lambda: [interpret(read, patterns) for read in reads], 1)
    again = least(lambda: [interpret(read, patterns) for read in reads])
    print(f"GS1-128 label: {first / alone:.2f} x biip alone when first seen, {again / alone:.3f} x when seen again")
    print(f"               {first / LABELS * 1e6:.0f} us and {again / LABELS * 1e6:.1f} us on this machine")
    plain = [RawRead(str(n), NOW, Source.PHOTO, f"Section A{n} / Column {n % 30} / Row 2") for n in range(LABELS)]
    print(f"plain text:    {least(lambda: [interpret(read, patterns) for read in plain], 1) / alone:.2f} x biip alone")


def growth() -> None:
    """Time for 16 times the text: 16 is linear, 256 is quadratic."""
    nasty = LabelPattern("nasty", r"(?P<carton>(a+)+)$")
    row = '{"scan_id":"%s","scanned_at":"2026-03-02T08:15:00Z","raw":"A"}\n'
    cases: dict[str, Callable[[int], Callable[[], object]]] = {
        "element strings": lambda n: lambda: gs1.read_element_strings(("00" + sscc(1)) * n),
        "no identifier": lambda n: lambda: gs1.read_element_strings("05\x1d" * n),
        "brackets": lambda n: lambda: gs1.read_bracketed("(91)A" * n),
        "open brackets": lambda n: lambda: gs1.read_bracketed("(" * 5 * n),
        "digital link": lambda n: lambda: gs1.read_digital_link("https://a/00/1?" + "91=A&" * n),
        "path": lambda n: lambda: gs1.read_digital_link("https://a" + "/00" * n),
        "envelope": lambda n: lambda: mh10.read_envelope("[)>\x1e06" + "\x1dKA" * n),
        "nasty pattern": lambda n: lambda: groups_of(nasty, "a" * 20 * n + "!"),
        "default patterns": lambda n: lambda: [groups_of(p, "COL 3 " * n) for p in default_patterns()],
        "scan list": lambda n: lambda: read_scans("s", "".join(row % f"{k:032x}" for k in range(n)).encode()),
    }
    for name, make in cases.items():
        small, large = least(make(250), 5), least(make(4000), 3)
        print(f"16 x {name:17} takes {large / small:6.1f} x the time")


def printed() -> None:
    for cartons in (24, 1_000, 10_000):
        rows = tuple(Carton(str(n), CartonKind.TRAY, sscc=Sscc(sscc(n))) for n in range(cartons))
        manifest = Manifest("S", "0417", rows)
        line = sscc(7).replace("0", "O", 1)
        took_ms = least(lambda m=manifest, t=line: claims_from_text([t], [m])) * 1e3
        print(f"printed SSCC among {cartons:6} expected: {took_ms:.1f} ms")


if __name__ == "__main__":
    against_biip()
    growth()
    printed()
