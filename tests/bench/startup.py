"""CPU seconds of ``receiving --help``, beside those of a bare interpreter: python tests/bench/startup.py"""

import os
import subprocess
import sys
from pathlib import Path
from statistics import median

PROJECT = Path(__file__).resolve().parent.parent.parent
RUNS = 9


def cpu_s(*arguments: str) -> float:
    before = os.times()
    subprocess.run([sys.executable, *arguments], cwd=PROJECT, check=True, stdout=subprocess.DEVNULL)
    after = os.times()
    return after.children_user + after.children_system - before.children_user - before.children_system


def main() -> None:
    pairs = [(cpu_s("-m", "receiving", "--help"), cpu_s("-c", "pass")) for _ in range(RUNS)]
    ours, bare = (median(column) for column in zip(*pairs, strict=True))
    print(f"receiving --help  {ours:.3f} s CPU (median of {RUNS})")
    print(f"python -c pass    {bare:.3f} s CPU")
    print(f"ratio             {median(a / b for a, b in pairs):.2f}")


if __name__ == "__main__":
    main()
