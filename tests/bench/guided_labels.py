"""Guided reading of simulated GS1-128 carton labels, in steps of severity, and the calibration of its margins.

usage: python tests/bench/guided_labels.py [--shots N] [--steps S...]      how many labels are read at each severity
       python tests/bench/guided_labels.py --calibrate [--shots N]        the curve of false accepts over the margin

Photos come from tests/bench/photo_model.py (defocus, motion, perspective, noise, glare, shade, JPEG; every fourth
label is also covered at one end or torn). A shipment is 40 consecutive serials; a stray label is the serial next to
the shipment, or up to 20 further. "general" are ZBar and zxing-cpp on the whole photo.
"""

import argparse
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace

import cv2
import numpy as np
import zxingcpp
from photo_model import Look, photograph
from pile_model import PRINT_PX, label_image, sscc_text
from pyzbar import pyzbar

from receiving.model import ExpectedCode
from receiving.reading.guided import candidate_regions, guided_symbols

MODULE_MM = 0.495
CARTONS, PX_PER_MM = 40, 4.0
STEPS = (0.0, 0.25, 0.5, 0.75, 1.0)


def shipment(chance: np.random.Generator) -> tuple[int, tuple[ExpectedCode, ...]]:
    first = int(chance.integers(10**6, 9 * 10**6))
    return first, tuple(ExpectedCode(sscc_text(first + n), "]C1") for n in range(CARTONS))


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
    severity: float, count: int, seed: int, stray: bool
) -> Iterator[tuple[np.ndarray, str, tuple[ExpectedCode, ...]]]:
    for number in range(count):
        chance = np.random.default_rng([seed, number, round(severity * 100), stray])
        first, expected = shipment(chance)
        away = int(chance.integers(CARTONS, CARTONS + 20)) if stray else int(chance.integers(0, CARTONS))
        yield photo(sscc_text(first + away), severity, number, chance), sscc_text(first + away), expected


def outcome(read: set[str], true: str) -> str:
    return "wrong" if read - {true} else "right" if read else "unread"


def read_steps(count: int, steps: tuple[float, ...]) -> None:
    print(f"{count} labels a step, {CARTONS} consecutive serials expected, {PX_PER_MM * MODULE_MM:.1f} px a module")
    for severity in steps:
        tally: Counter[tuple[str, str]] = Counter()
        spent = looks = 0.0
        for gray, true, expected in shots(severity, count, 1, stray=False):
            decoded = {text for text in general(gray) if text in {code.raw for code in expected}}
            start = time.process_time()
            regions = candidate_regions(gray)
            found = [s for s in guided_symbols(gray, regions, expected) if s]
            spent, looks = spent + time.process_time() - start, looks + max(1, len(regions))
            read = {s.raw for s in found if not s.alternatives}
            tally["general", outcome(decoded, true)] += 1
            tally["guided", outcome(read, true)] += 1
            tally["both", outcome(decoded | read, true)] += 1
            tally[
                "asks", "right" if any(true in (s.raw, *s.alternatives) for s in found if s.alternatives) else ""
            ] += 1
        stray = sum(
            any(guided_symbols(gray, candidate_regions(gray), expected))
            for gray, _, expected in shots(severity, count // 2, 2, stray=True)
        )
        cells = "; ".join(
            f"{who} {tally[who, 'right']} right {tally[who, 'wrong']} wrong {tally[who, 'unread']} unread"
            for who in ("general", "guided", "both")
        )
        print(f"severity {severity:4.2f}: {cells}; asks {tally['asks', 'right']}; strays taken {stray} of {count // 2}; "
              f"{1000 * spent / looks:.0f} ms a region (CPU)", flush=True)  # fmt: skip


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    options.add_argument("--calibrate", action="store_true", help="print the false accepts over the margin")
    options.add_argument("--shots", type=int, default=60, help="photos a step")
    options.add_argument("--steps", type=float, nargs="+", default=STEPS, help="severities, 0 to 1")
    chosen = options.parse_args()
    read_steps(chosen.shots, tuple(chosen.steps))


if __name__ == "__main__":
    main()
