"""Guided reading of simulated GS1-128 carton labels, in steps of severity, and why what is left was not read.

usage: python tests/bench/guided_labels.py [--shots N] [--steps S...] [--negatives N] [--cartons N]

Photos come from tests/bench/photo_model.py (defocus, motion, perspective, noise, glare, shade, JPEG; every fourth
label is also covered at one end or torn). A shipment is 40 consecutive serials; a negative is the serial next to
the shipment, or up to 20 further. "general" are ZBar and zxing-cpp on the whole photo, "guided" is guided reading alone
at the regions that it finds itself, "ours" all that a photo goes through. How often negatives are read is counted by
tests/bench/guided_negatives.py, which looks far more often.
"""

import argparse
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace

import cv2
import numpy as np
import zxingcpp
from photo_model import Look, photograph
from pile_model import PRINT_PX, label_image, sscc_text
from pyzbar import pyzbar

from receiving.model import ExpectedCode
from receiving.reading.guided import candidate_regions, decision, guided_symbols
from receiving.reading.guided.compare import Comparison, compare_codes
from receiving.reading.guided.fit import banks_of
from receiving.reading.guided.reader import seen_at
from receiving.reading.photo import read_gray

MODULE_MM = 0.495
CARTONS, PX_PER_MM = 40, 4.0
Shot = tuple[np.ndarray, str, tuple[ExpectedCode, ...]]
STEPS = (0.0, 0.25, 0.5, 0.75, 1.0)


def shipment(chance: np.random.Generator, cartons: int = CARTONS) -> tuple[int, tuple[ExpectedCode, ...]]:
    first = int(chance.integers(10**6, 9 * 10**6))
    return first, tuple(ExpectedCode(sscc_text(first + n), "]C1") for n in range(cartons))


def photo(text: str, severity: float, number: int, chance: np.random.Generator) -> np.ndarray:
    """Grey levels of one photographed label."""
    look = Look.graded(severity, chance, px_per_mm=PX_PER_MM)
    if number % 4 == 0 and severity:
        spoil = {"covered": float(chance.uniform(0, 0.25 * severity))} if number % 8 else {"torn": 0.3 * severity}
        look = replace(look, **spoil)
    shot = photograph(label_image(text, chance), look, chance, label_dpi=PRINT_PX / MODULE_MM * 25.4)
    return cv2.cvtColor(shot.image, cv2.COLOR_BGR2GRAY)


def general(gray: np.ndarray) -> set[str]:
    """All that ZBar and zxing-cpp read as Code 128."""
    found = [
        b.text
        for b in zxingcpp.read_barcodes(gray, formats=zxingcpp.BarcodeFormat.Code128, text_mode=zxingcpp.TextMode.Plain)
    ]
    return set(found) | {b.data.decode() for b in pyzbar.decode(gray, symbols=[pyzbar.ZBarSymbol.CODE128])}


def shots(
    severity: float, count: int, seed: int, negative: bool, cartons: int = CARTONS
) -> Iterator[tuple[np.ndarray, str, tuple[ExpectedCode, ...]]]:
    for number in range(count):
        chance = np.random.default_rng([seed, number, round(severity * 100), negative])
        first, expected = shipment(chance, cartons)
        away = int(chance.integers(cartons, cartons + 20)) if negative else int(chance.integers(0, cartons))
        yield photo(sscc_text(first + away), severity, number, chance), sscc_text(first + away), expected


@dataclass(frozen=True)
class Reading:
    """What guided reading gives for a photo, questions apart, and what it costs."""

    read: set[str]
    asked: set[str]
    regions: int
    spent_s: float


def guided(gray: np.ndarray, expected: tuple[ExpectedCode, ...]) -> Reading:
    start = time.process_time()
    regions = candidate_regions(gray)
    found = [symbol for symbol in guided_symbols(gray, regions, expected) if symbol]
    read = {symbol.raw for symbol in found if not symbol.alternatives}
    asked = {raw for symbol in found if symbol.alternatives for raw in (symbol.raw, *symbol.alternatives)}
    return Reading(read, asked, len(regions), time.process_time() - start)


def why(gray: np.ndarray, true: str, expected: tuple[ExpectedCode, ...]) -> str:
    """Why no region gave the printed code: what the one that came nearest lacks."""
    banks, names = banks_of(expected), frozenset(code.raw for code in expected)
    looks = [seen_at(gray.astype(np.float32), quad) for quad in candidate_regions(gray)]
    found = [compare_codes(look[1], banks, names) for look in looks if look]
    leads = [comparison for comparison in found if comparison.fits]
    if not leads:
        return f"no striped region among {len(looks)}"
    return lacking(min(leads, key=lambda comparison: comparison.fits[0].residual_variance), true)


def lacking(best: Comparison, true: str) -> str:
    lead, evidence = best.fits[0], best.evidence
    if evidence is None:
        return f"place or code not found: {lead.residual_variance:.2f} residual variance"
    code = "the right code" if lead.pattern.raw == true else "another code"
    figures = f"{evidence.best:.3f} residual variance, log ratios {evidence.over_second:.2f} over the second, "
    figures += f"{evidence.over_rival:.2f} over rivals, {evidence.seen:.2f} seen"
    if evidence.seen < decision.LEAST_SEEN:
        return f"{code}, too much is hidden: {figures}"
    if evidence.best > decision.WORST_FIT:
        return f"{code}, the fit is too poor: {figures}"
    return f"{code}, the log ratio is too small: {figures}"


def outcome(read: set[str], true: str) -> str:
    return "wrong" if read - {true} else "right" if read else "unread"


def read_step(severity: float, count: int, cartons: int) -> None:
    """Print what is read at one severity, and each label that nobody reads."""
    tally: Counter[tuple[str, str]] = Counter()
    spent = looks = 0.0
    for number, (gray, true, expected) in enumerate(shots(severity, count, 1, negative=False, cartons=cartons)):
        decoded = general(gray) & {code.raw for code in expected}
        found = guided(gray, expected)
        ours = {symbol.raw for symbol in read_gray(gray, expected).symbols if not symbol.alternatives}
        spent, looks = spent + found.spent_s, looks + max(1, found.regions)
        for who, read in (("general", decoded), ("guided", found.read), ("ours", ours)):
            tally[who, outcome(read, true)] += 1
        tally["asks", "right" if true in found.asked else "wrong"] += bool(found.asked)
        if ours != {true}:
            print(f"  {severity:4.2f} label {number}: {why(gray, true, expected)}", flush=True)
    cells = "; ".join(
        f"{who} {tally[who, 'right']} right {tally[who, 'wrong']} wrong {tally[who, 'unread']} unread"
        for who in ("general", "guided", "ours")
    )
    print(f"severity {severity:4.2f}: {cells}; asks {tally['asks', 'right']}, without the right code", end=" ")
    print(f"{tally['asks', 'wrong']}; {1000 * spent / looks:.0f} ms a region (CPU)", flush=True)


def negative_step(severity: float, count: int, cartons: int) -> None:
    """Print how many photos of labels that are not expected give a code."""
    negatives = shots(severity, count, 2, negative=True, cartons=cartons)
    looks = ((read_gray(gray, expected).symbols, {code.raw for code in expected}) for gray, _, expected in negatives)
    taken = sum(any(symbol.raw in names for symbol in symbols) for symbols, names in looks)
    print(f"severity {severity:4.2f}: {taken} of {count} negatives taken for an expected label", flush=True)


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    options.add_argument("--shots", type=int, default=48, help="photos a step")
    options.add_argument("--negatives", type=int, default=12, help="photos of negatives a step")
    options.add_argument("--cartons", type=int, default=CARTONS, help="consecutive serials that are expected")
    options.add_argument("--steps", type=float, nargs="+", default=STEPS, help="severities, 0 to 1")
    chosen = options.parse_args()
    print(f"{chosen.shots} labels a step, {chosen.cartons} consecutive serials expected,", end=" ")
    print(f"{PX_PER_MM * MODULE_MM:.1f} px a module", flush=True)
    for severity in chosen.steps:
        read_step(severity, chosen.shots, chosen.cartons)
        negative_step(severity, chosen.negatives, chosen.cartons)


if __name__ == "__main__":
    main()
