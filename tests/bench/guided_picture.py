"""Draw docs/guided-reading.svg: one blurred label on its way through guided reading, step by step.

usage: python tests/bench/guided_picture.py [--out docs/guided-reading.svg] [--number N]

The label is one of tests/bench/guided_labels.py at full severity: the first from number N on that neither ZBar nor
zxing-cpp reads and guided reading does.
"""

import argparse
import base64
from collections.abc import Iterator, Sequence
from itertools import islice
from pathlib import Path

import cv2
import numpy as np
from guided_labels import general, shots
from numpy.typing import NDArray

from receiving.model import ExpectedCode
from receiving.reading.guided import candidate_regions, decision
from receiving.reading.guided.compare import Comparison, compare_codes
from receiving.reading.guided.decision import Verdict
from receiving.reading.guided.fit import Explained, banks_of, ends_of, explain_profile, near_fits
from receiving.reading.guided.patterns import Pattern
from receiving.reading.guided.profile import Profile
from receiving.reading.guided.reader import seen_at
from receiving.reading.guided.rectify import Patch
from receiving.reading.guided.unexpected import consecutive_patterns, likeliest_patterns

WIDTH, LEFT, PLOT = 760, 20, 720
INK, QUIET, BLUE, RED = "#1b1f24", "#6a737d", "#0b5cad", "#b3261e"
Way = tuple[Patch, Profile, Comparison, tuple[ExpectedCode, ...]]


def example(first: int) -> Way:
    """The first label from this number on that no decoder reads and guided reading does."""
    for gray, text, expected in islice(shots(1.0, first + 400, 7, negative=False), first, None):
        if general(gray):
            continue
        for quad in candidate_regions(gray):
            seen = seen_at(gray.astype(np.float32), quad)
            if seen is None:
                continue
            found = compare_codes(seen[1], banks_of(expected), {code.raw for code in expected})
            if found.verdict is Verdict.READ and found.fits[0].pattern.raw == text:
                return *seen, found, expected
    raise SystemExit("No such label among the first 400: choose another --number.")


def picture(gray: NDArray[np.uint8], y: float, width: float) -> str:
    """An image as a part of the drawing, scaled to a width."""
    height = width * gray.shape[0] / gray.shape[1]
    scaled = cv2.resize(gray, (round(width * 1.5), max(1, round(height * 1.5))), interpolation=cv2.INTER_AREA)
    data = base64.b64encode(cv2.imencode(".jpg", scaled, [cv2.IMWRITE_JPEG_QUALITY, 70])[1].tobytes()).decode()
    return f'<image x="{LEFT}" y="{y}" width="{width}" height="{height:.0f}" href="data:image/jpeg;base64,{data}"/>'


def line(
    values: Sequence[float] | NDArray[np.float64], y: float, height: float, low: float, high: float, ink: str
) -> str:
    """A curve over the whole width of the plot, ``low`` at the bottom and ``high`` at the top."""
    xs = np.linspace(LEFT, LEFT + PLOT, len(values))
    ys = y + height * (1 - (np.asarray(values) - low) / (high - low))
    points = " ".join(f"{a:.1f},{b:.1f}" for a, b in zip(xs, ys, strict=True))
    return f'<polyline points="{points}" fill="none" stroke="{ink}" stroke-width="1.3"/>'


def title(number: int, words: str, y: float) -> str:
    return f'<text x="{LEFT}" y="{y}" fill="{INK}" font-weight="600">{number}. {words}</text>'


def note(words: str, y: float, x: float = LEFT) -> str:
    return f'<text x="{x}" y="{y}" fill="{QUIET}">{words}</text>'


def bars(pattern: Pattern, y: float, height: float) -> str:
    """The printed form of a code over the width of the plot."""
    module = PLOT / pattern.modules
    edges = list(zip(pattern.edges[::2], pattern.edges[1::2], strict=True))
    return "".join(
        f'<rect x="{LEFT + a * module:.2f}" y="{y}" width="{(b - a) * module:.2f}" height="{height}" fill="{INK}"/>'
        for a, b in edges
    )


def rivals(profile: Profile, found: Comparison, expected: Sequence[ExpectedCode]) -> Iterator[tuple[str, str, float]]:
    """What is compared at the end: who, its text, and the share of the variance that it does not explain."""
    best, names = found.fits[0], {code.raw for code in expected}
    yield "best of the expected", best.pattern.raw, best.residual_variance
    second = min((f for f in found.fits if f.pattern.raw != best.pattern.raw), key=lambda f: f.residual_variance)
    yield "next of the expected", second.pattern.raw, second.residual_variance
    groups = {
        "the numbers beside it": consecutive_patterns(best.pattern),
        "what the bars spell": likeliest_patterns(explain_profile(profile, best.pattern, best.warp, best.reversed)),
    }
    for who, patterns in groups.items():
        near = near_fits(profile, best, [pattern for pattern in patterns if pattern.raw not in names])
        if near:
            closest = min(near, key=lambda f: f.residual_variance)
            yield who, closest.pattern.raw, closest.residual_variance


def rival_rows(rows: Sequence[tuple[str, str, float]], y: float) -> Iterator[str]:
    """One bar a code, its length the logarithm of the residual variance."""
    low, high, reach = np.log(0.005), np.log(1.0), 320.0
    limit = LEFT + 345 + reach * (np.log(rows[0][2]) + decision.LEAST_LOG_RATIO - low) / (high - low)
    for place, (who, text, share) in enumerate(rows):
        at = y + 22 * place
        ink = BLUE if place == 0 else QUIET
        yield f'<text x="{LEFT}" y="{at + 12}" fill="{INK}">{who}</text>{note(text, at + 12, LEFT + 165)}'
        length = max(2.0, reach * (np.log(share) - low) / (high - low))
        yield f'<rect x="{LEFT + 345}" y="{at + 2}" width="{length:.1f}" height="13" fill="{ink}"/>'
        yield note(f"{share:.3f}", at + 12, LEFT + 351 + length)
    bottom = y + 22 * len(rows)
    yield f'<path d="M{limit:.1f} {y - 4}V{bottom}" stroke="{RED}" stroke-dasharray="4 3" fill="none"/>'
    yield f'<text x="{limit + 4:.1f}" y="{bottom + 10}" fill="{RED}">all others must lie to the right of this</text>'


def drawing(way: Way) -> str:
    """The whole way as SVG text."""
    patch, profile, found, expected = way
    best = found.fits[0]
    start, end = sorted(ends_of(best.warp))
    seen: Explained = explain_profile(found.profile, best.pattern, best.warp, best.reversed)
    values = np.interp(seen.at, np.arange(len(found.profile.values)), found.profile.values.astype(np.float64))
    trusted = np.where(seen.trust > 0, seen.rest / np.maximum(seen.trust, 1e-6), 0.0)
    parts, y = [], 24.0

    parts += [title(1, "A region that no decoder reads, turned so that its bars stand upright", y)]
    shown = np.clip(patch.grey, 0, 255).astype(np.uint8)
    parts += [picture(shown, y + 8, PLOT)]
    y += 40 + PLOT * shown.shape[0] / shown.shape[1]

    parts += [title(2, "One profile of brightness across the bars", y)]
    whole = profile.values.astype(np.float64)
    parts += [line(whole, y + 8, 70, float(whole.min()), float(whole.max()), INK)]
    parts += [
        f'<path d="M{LEFT + PLOT * x / len(whole):.1f} {y + 6}v74" stroke="{BLUE}" stroke-dasharray="3 3"/>'
        for x in (start, end)
    ]
    y += 108

    parts += [title(3, "What the camera should see of the expected code that fits best (between the dashes)", y)]
    parts += [bars(best.pattern, y + 8, 26)]
    low, high = float(values.min()), float(values.max())
    parts += [line(values, y + 44, 70, low, high, INK), line(values - trusted, y + 44, 70, low, high, BLUE)]
    parts += [note("black: seen; blue: the code under the blur, light and ink that were fitted", y + 130)]
    y += 162

    rows = list(rivals(found.profile, found, expected))
    parts += [title(4, "Residual variance (logarithmic) of that code and of all that it could be confused with", y)]
    parts += rival_rows(rows, y + 12)
    y += 12 + 22 * len(rows) + 28
    body = "\n".join(parts)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {y:.0f}" font-family="sans-serif" '
        f'font-size="13"><rect width="{WIDTH}" height="{y:.0f}" fill="#fff"/>\n{body}\n</svg>\n'
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--out", type=Path, default=Path("docs/guided-reading.svg"))
    parser.add_argument("--number", type=int, default=1)
    options = parser.parse_args()
    options.out.write_text(drawing(example(options.number)))
    print(options.out)


if __name__ == "__main__":
    main()
