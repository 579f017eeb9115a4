"""The suite on all cores against one process: time on the clock and CPU time, in one run, alternating.

    python tests/bench/suite_cores.py [--rounds 1] [tests/matching tests/staging …]

Without a path the whole suite but the page in Chromium. CPU time hardly changes with what else the machine does; time
on the clock is right on a quiet machine alone.
"""

import argparse
import resource
import subprocess
import sys
import time
from pathlib import Path

PROJECT = Path(__file__).resolve().parents[2]


def run(paths: list[str], *more: str) -> tuple[float, float]:
    """Seconds on the clock and of CPU, of the tests and of all that they start."""
    words = ["test", "-q", "-p", "no:cacheprovider", "-m", "not browser", *more, *paths]
    before, start = resource.getrusage(resource.RUSAGE_CHILDREN), time.monotonic()
    done = subprocess.run(
        [sys.executable, "-m", "receiving", *words], cwd=PROJECT, check=False, capture_output=True, text=True
    )
    took, after = time.monotonic() - start, resource.getrusage(resource.RUSAGE_CHILDREN)
    print("  ", done.stdout.strip().splitlines()[-1])
    return took, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("paths", nargs="*")
    parser.add_argument("--rounds", type=int, default=1)
    options = parser.parse_args()
    one, many = [], []
    for _ in range(options.rounds):
        one.append(run(options.paths, "-n", "0"))
        many.append(run(options.paths))
    for name, found in (("one process", one), ("all cores", many)):
        print(f"{name}: {min(t for t, _ in found):.1f} s on the clock, {min(c for _, c in found):.1f} s of CPU")
    clock, cpu = (min(m[n] for m in many) / min(o[n] for o in one) for n in (0, 1))
    print(f"all cores / one process: {clock:.2f} on the clock, {cpu:.2f} of CPU")


if __name__ == "__main__":
    main()
