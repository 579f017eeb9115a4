"""False accepts of guided reading: looks at simulated labels that are not expected, counted over the limits.

usage: python tests/bench/guided_negatives.py [--looks N] [--seed N] [--kinds KIND...] [--processes N]

An attempt is one profile across a printed code (tests/bench/simulated_profiles.py: blur, shake, ink spread, light,
noise, foreshortening, hard edges, glare, a covered end) held against codes without the printed one, as guided reading
does it, with the place of the symbol given away: a search that misses it can only make a false accept less likely.
The expected codes are chosen to be dangerous, so that the rate is that of the worst shipments:

- "ean next": 40 EAN-13 with consecutive item numbers, the printed one 1 to 20 before or after them;
- "ean random": 200 EAN-13 that share the first four digits of the printed one;
- "sscc next": an SSCC up to 20 serials behind 40 consecutive ones;
- "sscc far": an SSCC 100 to 100,000 serials behind them;
- "upc-e next": 40 UPC-E with consecutive numbers, the printed one 1 to 20 before or after them;
- "misread": a decoder's wrong text for the bars is the only candidate: an EAN-13 or ITF-14 with one digit and its check
  digit changed, a Code 128 text with two characters changed so that the sum modulo 103 stays, a Code 39 with one.
"""

import argparse
import time
from collections.abc import Callable, Sequence
from functools import partial
from multiprocessing import get_context
from multiprocessing.pool import Pool

import numpy as np
from guided_tail import NONE, passing, report, upper_bound
from numpy.typing import NDArray
from pile_model import sscc_text
from simulated_profiles import seen_profile

from receiving.model import ExpectedCode, mod10_check_digit
from receiving.reading.guided import decision
from receiving.reading.guided import patterns as code128
from receiving.reading.guided import patterns as upce
from receiving.reading.guided.compare import Comparison, compare_closely
from receiving.reading.guided.decision import stripes_alone
from receiving.reading.guided.fit import Fitted, fit_patterns, near_fits
from receiving.reading.guided.patterns import CODE39_CHARACTERS, Pattern, patterns
from receiving.reading.guided.profile import Profile

CARTONS, NEAREST = 40, 4
NO_FIT = (1.0, NONE, NONE)
ALPHABET = tuple("ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-")
Codes = tuple[ExpectedCode, list[ExpectedCode]]
Chance = np.random.Generator
Rows = NDArray[np.float64]


def digits(count: int, chance: Chance) -> str:
    return "".join(chance.choice(list("0123456789"), count))


def checked(body: str, symbology: str) -> ExpectedCode:
    return ExpectedCode(body + mod10_check_digit(body), symbology)


def ean_next(chance: Chance) -> Codes:
    item, way = int(digits(12, chance)), int(chance.choice((-1, 1)))
    first = item + way * int(chance.integers(1, 21))
    bodies = (str((first + way * n) % 10**12).zfill(12) for n in range(CARTONS))
    return checked(str(item).zfill(12), "]E0"), [checked(body, "]E0") for body in bodies]


def ean_random(chance: Chance) -> Codes:
    head = digits(4, chance)
    true, *expected = (checked(head + digits(8, chance), "]E0") for _ in range(201))
    return true, expected


def sscc_after(away: int, chance: Chance) -> Codes:
    first = int(chance.integers(10**6, 9 * 10**6))
    expected = [ExpectedCode(sscc_text(first + n), "]C1") for n in range(CARTONS)]
    return ExpectedCode(sscc_text(first + CARTONS + away), "]C1"), expected


def sscc_next(chance: Chance) -> Codes:
    return sscc_after(int(chance.integers(20)), chance)


def sscc_far(chance: Chance) -> Codes:
    return sscc_after(int(10 ** chance.uniform(2, 5)), chance)


def misread(chance: Chance) -> Codes:
    """The printed code, and as the only candidate what a decoder might make of its bars."""
    kind = chance.choice(("]E0", "]I1", "]C0", "]A0"))
    if kind in ("]E0", "]I1"):
        body = digits(12 if kind == "]E0" else 13, chance)
        return checked(body, kind), [checked(_one_changed(body, "0123456789", chance), kind)]
    text = "".join(chance.choice(ALPHABET, int(chance.integers(6, 13))))
    wrong = _colliding(text, chance) if kind == "]C0" else _one_changed(text, CODE39_CHARACTERS, chance)
    return ExpectedCode(text, kind), [ExpectedCode(wrong, kind)]


def _one_changed(text: str, alphabet: str, chance: Chance) -> str:
    place = int(chance.integers(len(text)))
    return text[:place] + str(chance.choice([c for c in alphabet if c != text[place]])) + text[place + 1 :]


def _colliding(text: str, chance: Chance) -> str:
    """The text with two characters changed where the symbol's check character and length stay as they are."""
    printed = code128.add_check_and_stop(code128.encodings(text, gs1=False)[0])
    while True:
        wrong = _one_changed(_one_changed(text, "".join(ALPHABET), chance), "".join(map(chr, range(32, 127))), chance)
        seen = code128.add_check_and_stop(code128.encodings(wrong, gs1=False)[0])
        if wrong != text and len(seen) == len(printed) and seen[-2] == printed[-2]:
            return wrong


def upce_next(chance: Chance) -> Codes:
    six, way = int(digits(6, chance)), int(chance.choice((-1, 1)))
    first = six + way * int(chance.integers(1, 21))
    sixes = dict.fromkeys(str((first + way * n) % 10**6).zfill(6) for n in range(CARTONS))
    # Six digits that are not the shortest form of their number are printed as those that are.
    true = checked(upce.expand_upce(str(six).zfill(6)), "]E0")
    expected = dict.fromkeys(checked(upce.expand_upce(digits), "]E0") for digits in sixes)
    return true, [code for code in expected if code != true]


KINDS: dict[str, Callable[[Chance], Codes]] = {
    "ean next": ean_next,
    "ean random": ean_random,
    "sscc next": sscc_next,
    "sscc far": sscc_far,
    "misread": misread,
    "upc-e next": upce_next,
}


def held_against(profile: Profile, lead: Fitted, shapes: Sequence[Pattern], names: frozenset[str]) -> list[Comparison]:
    """The profile held against the shapes where ``lead`` lies: the symbol taken as whole, then with a hidden end."""
    found = []
    for seen in (profile, stripes_alone(profile)):
        fits = sorted(near_fits(seen, lead, shapes, NEAREST), key=lambda f: f.residual_variance)
        found.append(compare_closely(seen, fits, shapes, names))
        if found[-1].conclusive:
            break
    return found


def look(kind: str, number: int, seed: int, own: bool = False) -> tuple[float, ...]:
    """(residual variance, least log ratio, log ratio over rivals alone) of the comparison that came nearest to a read.

    With ``own`` the printed code is among the expected ones; where another one is best nothing fits.
    """
    chance = np.random.default_rng([seed, number, list(KINDS).index(kind), own])
    true, expected = KINDS[kind](chance)
    expected = [*expected[1:], true] if own else expected
    form = next((p for p in patterns(true) if p.family == "upce"), patterns(true)[0])
    seen = seen_profile(form, chance)
    if seen is None:
        return NO_FIT
    profile, warp = seen
    shapes = [p for code in expected for p in patterns(code) if p.family == form.family and p.modules == form.modules]
    lead = fit_patterns(profile, [form], warp[None], [False], 3)[0]
    rows = [NO_FIT]
    for found in held_against(profile, lead, shapes, frozenset(code.raw for code in expected)):
        evidence = found.evidence
        right = not own or found.fits[0].pattern.raw == true.raw
        if evidence and right and evidence.seen >= decision.LEAST_SEEN and evidence.best <= decision.WORST_FIT:
            rows.append((evidence.best, min(evidence.over_rival, evidence.over_second), evidence.over_rival))
    return max(rows, key=lambda row: row[1:])


def looks(kind: str, count: int, seed: int, own: bool, pool: Pool) -> Rows:
    start = time.perf_counter()
    rows = np.array(pool.map(partial(look, kind, seed=seed, own=own), range(count), chunksize=25))
    read = passing(rows, decision.WORST_FIT, decision.LEAST_LOG_RATIO)
    largest = np.sort(rows[:, 1])[:-4:-1].round(2).tolist()
    print(f"{kind:10} {count} looks at {'expected labels' if own else 'negatives'}: {read} read,", end=" ")
    print(f"largest log ratios {largest}, {(time.perf_counter() - start) / 60:.1f} min", flush=True)
    return rows


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    options.add_argument("--looks", type=int, default=6000, help="looks of each kind; a quarter of the random one")
    options.add_argument("--seed", type=int, default=20261125)
    options.add_argument("--kinds", nargs="+", choices=list(KINDS), default=list(KINDS))
    options.add_argument("--processes", type=int, default=1)
    chosen = options.parse_args()
    print(f"seed {chosen.seed}")
    with get_context("spawn").Pool(chosen.processes) as pool:
        counts = {kind: chosen.looks // (4 if kind == "ean random" else 1) for kind in chosen.kinds}
        negatives = [looks(kind, counts[kind], chosen.seed, False, pool) for kind in chosen.kinds]
        own = [looks(kind, max(20, chosen.looks // 50), chosen.seed, True, pool) for kind in chosen.kinds]
    report(np.concatenate(negatives)[:, :2], np.concatenate(own)[:, :2])
    asked = passing(np.concatenate(negatives)[:, [0, 2]], decision.WORST_FIT, decision.LEAST_LOG_RATIO)
    print(
        f"questions about negatives, or reads: {asked}, 95 % bound {upper_bound(asked, sum(map(len, negatives))):.1e}"
    )


if __name__ == "__main__":
    main()
