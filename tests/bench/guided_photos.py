"""Guided reading of real photos: right, wrong and undecided, with and without the true code among the candidates.

usage: python tests/bench/guided_photos.py [FOLDER...]              what is read
       python tests/bench/guided_photos.py --negatives [FOLDER...]  how near codes that are not there come to a read

The photos are the ZXing black-box set (Apache-2.0), found at ../shared/photos. Candidates of a folder: its own codes
and 1,000 decoys that share the first four digits of one of them. "general" are ZBar and zxing-cpp on the whole
photo, accepted when their text is a candidate; "both" adds guided reading where neither gives one.

Strays: each photo that shows its code is held against sets of codes without it, at the place where the true code
lies: in turn 200 random codes with its first four digits, and 40 consecutive item numbers up to 20 away from it.
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
from guided_tail import report as report_tail
from pyzbar import pyzbar

from receiving.model import ExpectedCode, mod10_check_digit
from receiving.reading.guided import candidate_regions, decision, guided_symbols
from receiving.reading.guided.compare import weigh
from receiving.reading.guided.fit import Fitted, fits_from, leads_of, near_fits
from receiving.reading.guided.patterns import patterns
from receiving.reading.guided.profile import Profile, mean_profile
from receiving.reading.guided.rectify import bar_patch
from receiving.reading.guided.search import Bank

PHOTOS = Path(__file__).resolve().parents[2].parent / "shared" / "photos"
HARD, EASY = ("ean13-5", "upca-6"), ("ean13-2", "ean13-4", "upca-2", "upca-4", "upca-5")
# Japanese books carry a price code below their ISBN; the truth of the set lists one of the two.
COMPANIONS = {"9784872348880": "1920081045006", "1920081045006": "9784872348880"}
DECOYS = 1000
NEGATIVE_SETS = 8


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


def shown(gray: np.ndarray, printed: set[str]) -> tuple[Profile, Fitted] | None:
    """The profile of the region that shows the printed code best, and that code laid over it."""
    bank, found = Bank([patterns(ExpectedCode(code, "]E0"))[0] for code in sorted(printed)]), []
    for quad in candidate_regions(gray):
        seen = bar_patch(gray.astype(np.float32), quad)
        profile = mean_profile(seen[0].grey, seen[1]) if seen else None
        fits = fits_from(profile, leads_of(profile, bank)) if profile else []
        found += [(profile, fits[0])] if profile and fits else []
    best = min(found, key=lambda f: f[1].residual_variance, default=None)
    return best if best and best[1].residual_variance <= decision.WORST_FIT else None


def negative_set(true: str, chance: random.Random, consecutive: bool) -> list[ExpectedCode]:
    """Expected codes without the true one: consecutive item numbers near it, or random ones of its first digits."""
    if consecutive:
        first = int(true[:12]) + chance.choice((-1, 1)) * chance.randint(1, 20)
        bodies = [str(first + (n if first > int(true[:12]) else -n)).zfill(12) for n in range(40)]
    else:
        bodies = [true[:4] + "".join(chance.choices("0123456789", k=8)) for _ in range(200)]
    codes = {body + mod10_check_digit(body) for body in bodies} - {true}
    return [ExpectedCode(code, "]E0") for code in sorted(codes)]


def negative_attempts(folder: str) -> tuple[list[tuple[float, float]], list[tuple[float, float]]]:
    """(residual variance, log ratio) of the attempts at negatives, and of the true codes among 40 consecutive ones."""
    negatives, own, chance = [], [], random.Random(folder)
    for file, printed in shots(folder):
        gray = cv2.imread(str(PHOTOS / file), cv2.IMREAD_GRAYSCALE)
        found = shown(gray, printed)
        for number in range(NEGATIVE_SETS + 1) if found else ():
            profile, lead = found
            true = lead.pattern.raw
            expected = negative_set(true, chance, consecutive=number % 2 == 0)
            expected = [*expected, ExpectedCode(true, "]E0")] if number == NEGATIVE_SETS else expected
            fits = near_fits(profile, lead, [patterns(code)[0] for code in expected])
            evidence = weigh(profile, sorted(fits, key=lambda f: f.residual_variance), {code.raw for code in expected})
            (own if number == NEGATIVE_SETS else negatives).append((evidence.best, evidence.over_rival))
    print(f"{folder:10} {len(negatives)} looks at negatives on {len(own)} of {len(shots(folder))} photos", flush=True)
    return negatives, own


def main() -> None:
    if not PHOTOS.exists():
        sys.exit("The photos are not there: this bench needs ../shared/photos beside the repository.")
    if "--negatives" in sys.argv:
        looks = [negative_attempts(folder) for folder in sys.argv[2:] or (*HARD, *EASY)]
        report_tail(*(np.array([row for part in parts for row in part]) for parts in zip(*looks, strict=True)))
        return
    total: Counter[tuple[str, str]] = Counter()
    for folder in sys.argv[1:] or (*HARD, *EASY):
        total += report(folder)
    print({f"{name} {what}": count for (name, what), count in sorted(total.items())})


if __name__ == "__main__":
    main()
