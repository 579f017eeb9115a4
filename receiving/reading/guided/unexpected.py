"""The codes that explain a profile best when nothing is expected: what a negative would turn out to be.

Near a fitted pattern the residual tells, for each character by itself, how much another one in its place would explain
more (a quadratic form; that neighbouring characters blur into each other is left out). The best texts whose check sums
come out right are then found exactly, by dynamic programming over the sums (Viterbi 1967).
"""

from collections.abc import Iterator, Sequence
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from receiving.model import ExpectedCode, mod10_check_digit
from receiving.reading.guided import patterns as upce
from receiving.reading.guided.fit import PER_MODULE, Explained, blur_by_mixture
from receiving.reading.guided.layouts import Layout, Place, layouts
from receiving.reading.guided.patterns import Pattern, patterns

Doubles = NDArray[np.float64]
REACH = 6
"""Modules to either side of a character into which its blur is followed."""

OPTIONS, ANSWERS = 24, 16
"""Characters that are tried at a place, and texts that are given."""

CONSECUTIVE = 40
"""Numbers before and after a code's own that may be on the next label."""


def likeliest_patterns(seen: Explained) -> list[Pattern]:
    """Patterns of the shape of the one that was fitted, of the codes that explain the profile best, likeliest first."""
    form = seen.pattern
    # A stiff model finds codes that differ in many places, the free one those that differ where little is seen.
    texts = dict.fromkeys((*_texts(seen, seen.clear), *_texts(seen, seen.rest)))
    # The code itself is not its own rival.
    texts.pop(form.raw, None)
    shapes = (p for text in texts for p in patterns(ExpectedCode(text, form.symbology)))
    return [p for p in shapes if (len(p.edges), p.modules, p.family) == (len(form.edges), form.modules, form.family)]


def _texts(seen: Explained, rest: Doubles) -> list[str]:
    """The texts that explain most of this residual, likeliest first."""
    gains, found = _Gains(seen, rest), []
    for layout in layouts(seen.pattern):
        check = gains.at(layout.check) if layout.check else None
        found += _best_texts(layout, [gains.at(place) for place in layout.places], check)
    return [text for _, text in sorted(found, reverse=True)[:ANSWERS]]


@lru_cache(maxsize=64)
def consecutive_patterns(form: Pattern) -> tuple[Pattern, ...]:
    """Patterns of the shape of ``form``, of the numbers up to `CONSECUTIVE` before and after its own.

    Items and cartons are numbered one after the other, so a label that is not expected often carries one of these. Of a
    UPC-E also the next six digits: they may stand for a number far away.
    Empty where the code is not a number with a check digit.
    """
    head = 2 if form.symbology == "]C1" and form.raw.startswith("00") and len(form.raw) == 20 else 0
    body = form.raw[head:-1]
    if not form.raw.isdigit() or mod10_check_digit(body) != form.raw[-1]:
        return ()
    bodies = [*_around(body)]
    if short := upce.suppress_zeros(form.raw[-12:]) if form.family == "upce" else None:
        bodies += [upce.expand_upce(six).zfill(len(body)) for six in _around(short)]
    codes = (ExpectedCode(form.raw[:head] + b + mod10_check_digit(b), form.symbology) for b in dict.fromkeys(bodies))
    shape = (len(form.edges), form.modules, form.family)
    return tuple(p for code in codes for p in patterns(code) if (len(p.edges), p.modules, p.family) == shape)


def _around(digits: str) -> Iterator[str]:
    """The numbers up to `CONSECUTIVE` before and after this one, of as many digits."""
    numbers = (int(digits) + by for by in range(-CONSECUTIVE, CONSECUTIVE + 1) if by)
    return (str(number).zfill(len(digits)) for number in numbers if 0 <= number < 10 ** len(digits))


class _Gains:
    """How much more is explained with each option at a place; layouts share most of their places."""

    def __init__(self, seen: Explained, rest: Doubles) -> None:
        self.seen, self.rest = seen, rest
        self.known: dict[tuple[float, int], Doubles] = {}

    def at(self, place: Place) -> Doubles:
        """One gain an option, in squared grey levels."""
        key = (place.start, id(place.bars))
        if key not in self.known:
            self.known[key] = self._computed(place)
        return self.known[key]

    def _computed(self, place: Place) -> Doubles:
        seen, pad = self.seen, REACH * PER_MODULE
        left = round((place.start + seen.quiet) * PER_MODULE)
        right = left + place.bars.shape[1]
        # Only the change of this one character is drawn, blurred into its neighbours: the rest of the symbol stays.
        change = np.pad(place.bars - seen.bars[left:right], ((0, 0), (pad, pad))).astype(np.float32)
        window = slice(left - pad, right + pad)
        step = blur_by_mixture(change, seen.mixture) * (seen.contrast[window] * seen.trust[window])
        # |rest|^2 - |rest - step|^2: how much less is left when the residual is reduced by this step.
        # The squared residual with the change taken off, less that without it: 2 r·s − s·s.
        return np.asarray(2 * step @ self.rest[window] - (step**2).sum(1), np.float64)


def _best_texts(layout: Layout, gains: Sequence[Doubles], check: Doubles | None) -> list[tuple[float, str]]:
    """(gain, text) of the best texts, one for each first sum that they may have."""
    table = np.full(layout.moduli, -np.inf)
    table[layout.begins] = 0.0
    steps = []
    for place, gain in zip(layout.places, gains, strict=True):
        # Of a hundred pairs of digits those that explain least could only win if all others were worse still.
        options = np.argsort(-gain)[:OPTIONS]
        # Where each sum came from, for every sum that it can be now: the table holds the best text for each pair of
        # sums.
        first, second = ((np.arange(m) - place.adds[options, k, None]) % m for k, m in enumerate(layout.moduli))
        # Viterbi over the pair of check sums that a text so far may have: each character changes both.
        moved = table[first[:, :, None], second[:, None, :]] + gain[options, None, None]
        chosen = moved.argmax(0)
        table = np.take_along_axis(moved, chosen[None], 0)[0]
        steps.append(options[chosen])
    # The second sum must come out as 0; the first is what the check character shows, if the symbology has one.
    ends = table[:, 0] + (0.0 if check is None else check)
    best = [int(end) for end in np.argsort(-ends)[:ANSWERS] if np.isfinite(ends[end])]
    return [(float(ends[end]), layout.spelled(_traced(layout, steps, end))) for end in best]


def _traced(layout: Layout, steps: Sequence[NDArray[np.intp]], end: int) -> list[int]:
    """The options that led to this first sum."""
    at, chosen = np.array((end, 0)), []
    for place, step in zip(reversed(layout.places), reversed(steps), strict=True):
        option = int(step[tuple(at)])
        chosen.append(option)
        at = (at - place.adds[option]) % layout.moduli
    return chosen[::-1]
