"""GS1 Data Matrix labels that no decoder reads, compared with what is expected: read, wrong, and reads of negatives.

usage: python tests/bench/guided_matrix.py [--looks 200] [--seed 20]

Each attempt is a symbol of one SSCC photographed by the photo model at a severity and a number of pixels a module.
Expected are the SSCCs of 40 consecutive serials, with the one that is printed (guided / wrong) and without it
(negatives).
"decoders" is what `read_gray` reads when nothing is expected. Times are CPU seconds of one thread.
"""

import argparse
import time
from collections import Counter

import cv2
import numpy as np
from numpy.typing import NDArray
from photo_model import Look, photograph
from pile_model import sscc_text

from receiving.model import ExpectedCode
from receiving.reading.guided.matrix import LEAST_AGREEMENT, LEAST_LEAD, MatrixFit, matrix_fit, symbol_modules
from receiving.reading.photo import read_gray
from receiving.reading.upright import upright_places

PRINT_PX, QUIET_PX = 12, 120


def shot(text: str, severity: float, module_px: float, rng: np.random.Generator) -> NDArray[np.uint8]:
    art = np.kron(symbol_modules(text), np.ones((PRINT_PX, PRINT_PX))).astype(np.uint8) * 255
    art = cv2.copyMakeBorder(art, QUIET_PX, QUIET_PX, QUIET_PX, QUIET_PX, cv2.BORDER_CONSTANT, value=255)
    look = Look.graded(severity, rng, px_per_mm=4)
    photo = photograph(art, look, rng, label_dpi=25.4 * PRINT_PX * 4 / module_px)
    return cv2.cvtColor(photo.image, cv2.COLOR_BGR2GRAY)


def best_of(gray: NDArray[np.uint8], texts: list[str]) -> MatrixFit | None:
    codes = [ExpectedCode(text, "]C1") for text in texts]
    fits = [fit for place in upright_places(gray)[:3] if (fit := matrix_fit(gray, place, codes))]
    return max(fits, key=lambda f: f.lead, default=None)


def main() -> None:
    ask = argparse.ArgumentParser()
    ask.add_argument("--looks", type=int, default=200, help="looks a setting")
    ask.add_argument("--seed", type=int, default=20)
    given = ask.parse_args()
    cv2.setNumThreads(1)
    rng = np.random.default_rng(given.seed)
    print("| px a module | severity | looks | decoders | left | guided | wrong | negatives read | CPU s an attempt |")
    print("|---|---|---|---|---|---|---|---|---|")
    margins, total = [], Counter[str]()
    for module_px in (1.5, 2.5, 4.0):
        for severity in (0.3, 0.5, 0.7, 0.9):
            count = Counter[str]()
            for _ in range(given.looks):
                margins += measure(module_px, severity, rng, count)
            row(f"{module_px:g} | {severity:g}", given.looks, count)
            total += count
    row("all | all", 12 * given.looks, total)
    print(
        f"\nmargins of {len(margins)} negatives, median, 99 %, largest:", np.percentile(margins, (50, 99, 100)).round(3)
    )
    print(f"limits: agreement {LEAST_AGREEMENT}, margin {LEAST_LEAD}")


def measure(module_px: float, severity: float, rng: np.random.Generator, count: Counter[str]) -> list[float]:
    serial = int(rng.integers(100, 10**8))
    texts = [sscc_text(serial + k) for k in range(-20, 20)]
    gray = shot(texts[20], severity, module_px, rng)
    if read_gray(gray).symbols:
        count["decoders"] += 1
        return []
    started = time.thread_time()
    fit = best_of(gray, texts)
    count["us"] += round((time.thread_time() - started) * 1e6)
    if fit is not None and fit.is_read:
        count["guided" if fit.codes[0].raw == texts[20] else "wrong"] += 1
    negative = best_of(gray, texts[:20] + texts[21:])
    count["negatives read"] += negative is not None and negative.is_read
    return [negative.lead] if negative else []


def row(name: str, looks: int, count: Counter[str]) -> None:
    left = looks - count["decoders"]
    cells = f"{count['decoders']} | {left} | {count['guided']} | {count['wrong']} | {count['negatives read']}"
    print(f"| {name} | {looks} | {cells} | {count['us'] / 1e6 / max(left, 1):.2f} |", flush=True)


if __name__ == "__main__":
    main()
