"""Guided reading of simulated GS1-128 carton labels, in steps of severity, and the calibration of its margins.

usage: python tests/bench/guided_labels.py [--shots N] [--steps S...]      how many labels are read at each severity
       python tests/bench/guided_labels.py --calibrate [--shots N] [--seed N]  the false accepts over the margin

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
from guided_tail import report as report_tail
from photo_model import Look, photograph
from pile_model import PRINT_PX, label_image, sscc_text
from pyzbar import pyzbar
from scipy.ndimage import gaussian_filter1d, maximum_filter1d, minimum_filter1d, uniform_filter1d

from receiving.model import ExpectedCode, mod10_check_digit
from receiving.reading.guided import candidate_regions, guided_symbols
from receiving.reading.guided.compare import Fitted, near_fits, weigh
from receiving.reading.guided.fit import warp_of
from receiving.reading.guided.patterns import Pattern, patterns
from receiving.reading.guided.profile import Band, Profile
from receiving.reading.guided.search import Pose
from receiving.reading.guided.templates import rendered

MODULE_MM = 0.495
CARTONS, PX_PER_MM = 40, 4.0
Shot = tuple[np.ndarray, str, tuple[ExpectedCode, ...]]
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
        print(f"severity {severity:4.2f}: {cells}; asks {tally['asks', 'right']}", end="; ")
        print(f"strays taken {stray} of {count // 2}; {1000 * spent / looks:.0f} ms a region (CPU)", flush=True)


def seen_profile(pattern: Pattern, chance: np.random.Generator) -> tuple[Profile, np.ndarray]:
    """A profile across one printed pattern as a camera gives it, and the warp at which the pattern lies in it.

    Ink spread, point spread (disc, Gaussian and a moving hand), the sRGB curve, uneven light, noise, foreshortening.
    """
    fine, quiet = 12, 20.0
    dark = rendered([pattern], fine, quiet)[0]
    spread = round(abs(chance.normal(0, 0.08)) * fine)
    dark = (maximum_filter1d if chance.random() < 0.5 else minimum_filter1d)(dark, 2 * spread + 1)
    light = 0.85 - chance.uniform(0.55, 0.8) * dark
    light = gaussian_filter1d(light, chance.uniform(0.2, 1.0) * fine)
    for widest in (2.2, 2.5):
        light = uniform_filter1d(light, max(1, round(chance.uniform(0, widest) * fine)))
    px, bend = chance.uniform(2.5, 4.5), chance.uniform(-0.2, 0.2)
    half = pattern.modules / 2
    x = np.arange(round((pattern.modules + 24) * px))
    place = (x - len(x) / 2) / px
    s = place / (1 + bend * place / pattern.modules)  # where on the symbol each pixel looks, modules from the middle
    grey = np.interp(s, (np.arange(len(light)) + 0.5) / fine - quiet - half, light)
    v = place / half
    grey = grey * (1 + chance.uniform(-0.4, 0.4) * v + chance.uniform(-0.2, 0.2) * v**2)
    grey = 255 * np.clip(grey * chance.uniform(0.3, 1), 0, 1) ** (1 / 2.2)
    grey = grey + gaussian_filter1d(chance.normal(0, chance.uniform(0.2, 2.5), len(x)), 0.7)
    ends = np.array([-half, half]) / (1 - bend * np.array([-half, half]) / pattern.modules) * px + len(x) / 2
    warp = warp_of(Pose(len(x) / 2, px, bend, False, 1.0), pattern.modules)
    band = Band(*(float(e) for e in ends), 0, 1)
    return Profile(grey.astype(np.float32), band, np.ones(len(grey), np.float32)), warp


def stray_margin(number: int, seed: int) -> tuple[float, float]:
    """(unexplained share, margin over rivals) of the best expected code on a label that is not expected.

    In turn an EAN-13 among 200 random ones, and an SSCC among 40 consecutive serials: up to 20 away, or 100 to 100,000.
    """
    chance = np.random.default_rng([seed, number])
    if number % 3:
        first, expected = shipment(chance)
        away = chance.integers(20) if number % 3 == 1 else 10 ** chance.uniform(2, 5)
        true = ExpectedCode(sscc_text(first + CARTONS + int(away)), "]C1")
    else:
        heads = "".join(chance.choice(list("0123456789"), 4))
        bodies = [heads + "".join(chance.choice(list("0123456789"), 8)) for _ in range(201)]
        true, *expected = (ExpectedCode(body + mod10_check_digit(body), "]E0") for body in bodies)
    profile, warp = seen_profile(patterns(true)[0], chance)
    # The right place is given away: a search that misses it can only make a false accept less likely.
    lead = Fitted(patterns(true)[0], 1.0, warp, False)
    lead = near_fits(profile, lead, [lead.pattern])[0]
    fits = sorted(near_fits(profile, lead, [patterns(code)[0] for code in expected]), key=lambda f: f.unexplained)
    evidence = weigh(profile, fits, {code.raw for code in expected})
    return evidence.best, evidence.over_rival


def own_margin(number: int, seed: int) -> tuple[float, float, bool]:
    """The same where the label is expected; and whether the best code is the right one."""
    chance = np.random.default_rng([seed, number, 1])
    _, expected = shipment(chance)
    true = expected[int(chance.integers(CARTONS))]
    profile, warp = seen_profile(patterns(true)[0], chance)
    lead = near_fits(profile, Fitted(patterns(true)[0], 1.0, warp, False), [patterns(true)[0]])[0]
    fits = sorted(near_fits(profile, lead, [patterns(code)[0] for code in expected]), key=lambda f: f.unexplained)
    evidence = weigh(profile, fits, {code.raw for code in expected})
    return evidence.best, min(evidence.over_rival, evidence.over_second), fits[0].pattern.raw == true.raw


def calibrate(count: int, seed: int) -> None:
    """The margins of stray labels and of expected ones, and the rate of false accepts that they show."""
    print(f"seed {seed}: strays in turn EAN-13 among 200, SSCC up to 20 and 100 to 100,000 serials from 40")
    strays = np.array([stray_margin(number, seed) for number in range(count)])
    own = np.array([own_margin(number, seed) for number in range(max(40, count // 20))])
    report_tail(strays, own[:, :2])
    print(f"expected labels: best code right {own[:, 2].mean():.3f}; unexplained share, 50/90/99 %: "
          f"{np.round(np.quantile(own[:, 0], (0.5, 0.9, 0.99)), 3).tolist()}")  # fmt: skip


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    options.add_argument("--calibrate", action="store_true", help="print the false accepts over the margin")
    options.add_argument("--shots", type=int, default=60, help="photos a step")
    options.add_argument("--seed", type=int, default=20261125, help="of the calibration")
    options.add_argument("--steps", type=float, nargs="+", default=STEPS, help="severities, 0 to 1")
    chosen = options.parse_args()
    if chosen.calibrate:
        calibrate(chosen.shots, chosen.seed)
    else:
        read_steps(chosen.shots, tuple(chosen.steps))


if __name__ == "__main__":
    main()
