"""Guided reading of real photos: right, wrong and undecided, with and without the true code among the candidates.

usage: python tests/bench/guided_photos.py [FOLDER...]

The photos are the ZXing black-box set (Apache-2.0), found at ../shared/photos. Candidates of a folder: its own codes
and 1,000 decoys that share the first four digits of one of them. "general" are ZBar and zxing-cpp on the whole
photo, accepted when their text is a candidate; "both" adds guided reading where neither gives one.
"""

import json
import random
import sys
import time
from collections import Counter
from pathlib import Path

import cv2
import numpy as np
import zxingcpp
from pyzbar import pyzbar

from receiving.model import ExpectedCode, mod10_check_digit
from receiving.reading.guided import candidate_regions, guided_symbols

PHOTOS = Path(__file__).resolve().parents[2].parent / "shared" / "photos"
HARD, EASY = ("ean13-5", "upca-6"), ("ean13-2", "ean13-4", "upca-2", "upca-4", "upca-5")
# Japanese books carry a price code below their ISBN; the truth of the set lists one of the two.
COMPANIONS = {"9784872348880": "1920081045006", "1920081045006": "9784872348880"}
DECOYS = 1000


def shots(folder: str) -> list[tuple[str, set[str]]]:
    """(file, codes on it) of the photos of a folder that carry a code."""
    listed = json.loads((PHOTOS / "truth.json").read_text())["images"]
    photos = [(p["file"], {c["text"].zfill(13) for c in p["codes"]}) for p in listed if p["codes"]]
    return [(f, c | {COMPANIONS[k] for k in c & COMPANIONS.keys()}) for f, c in photos if f.startswith(folder + "/")]


def candidates(photos: list[tuple[str, set[str]]]) -> tuple[ExpectedCode, ...]:
    """The folder's own codes and decoys that share their first four digits."""
    chance = random.Random(1)
    own = sorted(set().union(*(codes for _, codes in photos)))
    codes = set(own)
    while len(codes) < len(own) + DECOYS:
        head = chance.choice(own)[:4] + "".join(chance.choices("0123456789", k=8))
        codes.add(head + mod10_check_digit(head))
    return tuple(ExpectedCode(code, "]E0") for code in sorted(codes))


def general(gray: np.ndarray, expected: set[str]) -> set[str]:
    """What ZBar and zxing-cpp read, where it is a candidate."""
    texts = [b.text for b in zxingcpp.read_barcodes(gray)] + [b.data.decode() for b in pyzbar.decode(gray)]
    return {text.zfill(13) for text in texts} & expected


def guided(gray: np.ndarray, expected: tuple[ExpectedCode, ...]) -> set[str]:
    """What guided reading reads without a question."""
    found = guided_symbols(gray, candidate_regions(gray), expected)
    return {symbol.raw for symbol in found if symbol and not symbol.alternatives}


def outcome(read: set[str], printed: set[str]) -> str:
    return "wrong" if read - printed else "right" if read else "undecided"


def report(folder: str) -> Counter[tuple[str, str]]:
    photos = shots(folder)
    expected = candidates(photos)
    names = {code.raw for code in expected}
    tally: Counter[tuple[str, str]] = Counter()
    seconds = 0.0
    for file, printed in photos:
        gray = cv2.imread(str(PHOTOS / file), cv2.IMREAD_GRAYSCALE)
        decoded = general(gray, names)
        start = time.process_time()
        read = guided(gray, expected)
        seconds += time.process_time() - start
        without = guided(gray, tuple(code for code in expected if code.raw not in printed))
        results = {"general": decoded, "guided": read, "both": decoded or read, "true code taken out": without}
        for name, codes in results.items():
            tally[name, outcome(codes, printed)] += 1
        notes = [name for name in ("guided", "true code taken out") if outcome(results[name], printed) == "wrong"]
        if notes or (outcome(read | decoded, printed) == "undecided"):
            print(f"  {file}: general {sorted(decoded)}, guided {sorted(read)}, without {sorted(without)}", flush=True)
    for name in ("general", "guided", "both", "true code taken out"):
        counts = ", ".join(f"{what} {tally[name, what]}" for what in ("right", "wrong", "undecided"))
        print(f"{folder:10} {len(photos):3} photos  {name:20} {counts}")
    print(
        f"{folder:10} guided reading {seconds / len(photos):.2f} s a photo (CPU), {len(expected)} candidates",
        flush=True,
    )
    return tally


def main() -> None:
    if not PHOTOS.exists():
        sys.exit("The photos are not there: this bench needs ../shared/photos beside the repository.")
    total: Counter[tuple[str, str]] = Counter()
    for folder in sys.argv[1:] or (*HARD, *EASY):
        total += report(folder)
    print({f"{name} {what}": count for (name, what), count in sorted(total.items())})


if __name__ == "__main__":
    main()
