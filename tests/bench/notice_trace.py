"""Where the values of ship notices end: used, listed as not understood, left out by name, lost.

Run: ``PYTHONPATH=. python tests/bench/notice_trace.py [FILE ...]``. Without files it takes the published samples
beside the repository (../shared/checks/edi) and the tests' own messages. All values are counted by a plain split; lost
is what the reader's three counts do not explain.
"""

import sys
from pathlib import Path

from receiving.errors import ManifestFaults
from receiving.expected import read_manifests
from tests.expected.edi_messages import DESPATCH, STANDARD, edifact, x12
from tests.expected.edi_values import values_in_notices

SAMPLES = Path(__file__).resolve().parents[2].parent / "shared" / "checks" / "edi"


def main() -> None:
    files = [Path(name) for name in sys.argv[1:]] or sorted(SAMPLES.glob("*.edi"))
    texts = {file.name: file.read_text(encoding="utf-8-sig", errors="replace") for file in files}
    if len(sys.argv) == 1:
        texts |= {"our X12 856": x12(STANDARD).decode(), "our DESADV": edifact(DESPATCH)}
    print(f"{'file':56} {'all':>5} {'used':>5} {'listed':>6} {'left':>5} {'lost':>5}  warnings  lines left out")
    totals = [0] * 5
    for name, text in texts.items():
        try:
            found = read_manifests(name, text.encode())
        except ManifestFaults:
            print(f"{name:56} not a ship notice")
            continue
        left = sum(unused.values for unused in found.unused)
        count = values_in_notices(text)
        row = (count, found.used, found.listed, left, count - found.used - found.listed - left)
        totals = [total + value for total, value in zip(totals, row, strict=True)]
        print(f"{name:56} {_row(row)}  {len(found.warnings):8}  {len(found.unused)}")
    print(f"{'together':56} {_row(totals)}")


def _row(numbers: "tuple[int, ...] | list[int]") -> str:
    return "{:5} {:5} {:6} {:5} {:5}".format(*numbers)


if __name__ == "__main__":
    main()
