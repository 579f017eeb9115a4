"""CPU seconds of what starts, beside those of a bare interpreter: python tests/bench/startup.py

``receiving --help``; importing the service, whose use cases are imported when they are first used; importing all of
them, as a process that serves does before it listens; making the app.
"""

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


STARTS = {
    "receiving --help": ("-m", "receiving", "--help"),
    "import receiving.service": ("-c", "import receiving.service"),
    "every use case": ("-c", "from receiving import service; [getattr(service, name) for name in service.__all__]"),
    "from web import create_app": ("-c", "from web import create_app"),
}


def main() -> None:
    print(f"{'':28}{'s CPU':>8}{'ratio':>8}   (medians of {RUNS}, beside python -c pass)")
    for name, arguments in STARTS.items():
        pairs = [(cpu_s(*arguments), cpu_s("-c", "pass")) for _ in range(RUNS)]
        print(f"{name:28}{median(a for a, _ in pairs):8.3f}{median(a / b for a, b in pairs):8.1f}")


if __name__ == "__main__":
    main()
