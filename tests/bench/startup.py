"""CPU seconds of ``receiving --help``, beside those of a bare interpreter: python tests/bench/startup.py"""

import resource
import subprocess
import sys
from pathlib import Path
from statistics import median

PROJECT = Path(__file__).resolve().parent.parent.parent
RUNS = 9


def cpu_s(*arguments: str) -> float:
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run([sys.executable, *arguments], cwd=PROJECT, check=True, stdout=subprocess.DEVNULL)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def main() -> None:
    pairs = [(cpu_s("-m", "receiving", "--help"), cpu_s("-c", "pass")) for _ in range(RUNS)]
    ours, bare = (median(column) for column in zip(*pairs, strict=True))
    print(f"receiving --help  {ours:.3f} s CPU (median of {RUNS})")
    print(f"python -c pass    {bare:.3f} s CPU")
    print(f"ratio             {median(a / b for a, b in pairs):.2f}")


if __name__ == "__main__":
    main()
