"""Fit of expected patterns to a profile: a coarse search, then a fine fit of place, bend, blur, light and ink spread.

The fine fit is variable projection (Golub & Pereyra 1973, doi:10.1137/0710036). What it leaves is the residual
variance, the share of the profile's variance that a pattern cannot explain.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.polynomial.legendre import legvander
from numpy.typing import NDArray
from scipy.fft import irfft, next_fast_len, rfft, rfftfreq
from scipy.optimize import nnls

from receiving.model import ExpectedCode
from receiving.reading.guided.layouts import is_sscc
from receiving.reading.guided.patterns import LINEAR, Floats, Pattern, blur_rows, patterns, render_patterns
from receiving.reading.guided.profile import Profile
from receiving.reading.guided.search import Bank, Pose

Doubles = NDArray[np.float64]
PER_MODULE = 4
QUIET = 3.0
PADDING = 8.0
BLURS = (0.35, 0.7, 1.15, 1.7, 2.4)
"""Standard deviations in modules; the point spread is a mixture of these, with weights that are fitted."""

GROWTH_BLURS = (0.35, 0.7)
"""Ink spread, in focus and out of it: hard-edged thin bars need the former, blurred ones the latter."""

SKEW_BLURS = (0.7, 1.7)
"""Widths of a point spread's skew to one side, which a moved camera gives."""

LIGHT_COLUMNS, CONTRAST_COLUMNS = 8, 5
"""Freedom of light and of contrast along the row; of 18 shaded or shiny photos 4 and 3 read 15, these 17."""

FADING = 4
"""Terms of the contrast that is looked at by itself; with two more a wrong pattern bends it to fit."""

SLACK = np.array([1.5, 1.5, 2.5, 1.5])
"""How far the coefficients of a warp usually are from the coarse pose, in modules (a soft bound)."""


@dataclass(frozen=True)
class Fits:
    """One row a pattern: residual variance as a share of the profile's, and the warp (of 1, v, v², v³) that gave it.

    Columns of the profile count by their weights, as they lie under the starting warp.
    """

    residual_variance: Doubles
    warp: Doubles


def warp_of(pose: Pose, modules: float) -> Doubles:
    """The pose as coefficients of 1, v, v², v³, with v from −1 to 1 over the symbol."""
    half = pose.module * modules / 2
    return np.array([pose.middle, half, half * pose.bend / 2, half * pose.bend**2 / 4])


def ends_of(warp: Doubles) -> tuple[float, float]:
    """Where the first and the last bar of a symbol end under a warp, in columns of the profile."""
    middle, half, bend, cubic = warp.tolist()
    return middle - half + bend - cubic, middle + half + bend + cubic


def evenness(warp: Doubles) -> float:
    """The narrowest module under a warp as a share of the widest; 0 or less where the warp folds."""
    v = np.linspace(-1, 1, 41)
    modules = warp[1] + 2 * warp[2] * v + 3 * warp[3] * v**2
    return float(modules.min() / modules.max())


def fit(
    profile: Profile, patterns: Sequence[Pattern], warps: Doubles, reversed_: NDArray[np.bool_], rounds: int
) -> Fits:
    """Fit each pattern from its own starting warp (patterns, 4), read right to left where ``reversed_``.

    Variable projection: what is linear (light, blur, ink spread) is solved for exactly, the warp by damped
    Gauss-Newton steps.
    """
    seen = _Seen(profile, _powers(patterns[0].modules), warps)
    columns = _columns(patterns)
    basis = _orthonormal(np.where(reversed_[:, None, None], columns[:, ::-1], columns), seen.trust)
    module = np.abs(warps[:, 1:2]) / (patterns[0].modules / 2)
    warp, best_warp = warps, warps
    # Each pattern has its own damping: all are fitted in one batch, but one may converge while another still turns
    # back.
    best, damping = np.full(len(patterns), np.inf), np.full(len(patterns), 1e-3)
    for done in range(rounds + 1):
        share = _residual_variance(basis, seen.values(warp))
        better = share < best
        best, best_warp = np.where(better, share, best), np.where(better[:, None], warp, best_warp)
        # Levenberg-Marquardt: a step that helped is trusted more, one that did not is taken again, shorter.
        damping = np.where(better, damping / 4, damping * 6)
        if done < rounds:
            # No step goes over two modules: farther off the same bars fit their neighbours as well.
            warp = best_warp - np.clip(seen.step(basis, best_warp, warps, module, damping), -2 * module, 2 * module)
    return Fits(best, best_warp)


class _Seen:
    """A profile as a function of the warp: values at the samples of a pattern, and their derivatives.

    Both are times ``trust``, the root of the weights of the samples under the starting warps (patterns, samples).
    """

    def __init__(self, profile: Profile, powers: Doubles, start: Doubles) -> None:
        self.profile, self.powers = profile.values.astype(np.float64), powers
        # The derivative of the profile, not of the pattern: the pattern stays where it is, and the warp samples the
        # profile.
        self.slopes = np.gradient(self.profile)
        self.at = np.arange(len(self.profile))
        # The root, since residuals are squared: with it in values and columns alike the fit is one of weighted least
        # squares.
        # Taken once, under the starting warps: a weight that moved with the warp would reward moving to where little
        # counts.
        self.trust = np.sqrt(np.interp(start @ powers.T, self.at, profile.weights, 0.0, 0.0))

    def values(self, warp: Doubles) -> Doubles:
        return np.asarray(np.interp(warp @ self.powers.T, self.at, self.profile) * self.trust, np.float64)

    def step(self, basis: Doubles, warp: Doubles, start: Doubles, module: Doubles, damping: Doubles) -> Doubles:
        """The damped Gauss-Newton step from ``warp``, held softly to ``start``."""
        slope = np.interp(warp @ self.powers.T, self.at, self.slopes) * self.trust
        both = np.concatenate([self.values(warp)[:, :, None], slope[:, :, None] * self.powers[None]], 2)
        # Light, blur and ink spread take up what they can of both; only what is left may move the warp (the projection,
        # in Kaufman's form, which leaves out how the basis itself changes).
        both = both - basis @ (basis.transpose(0, 2, 1) @ both)
        rest, move = both[:, :, 0], both[:, :, 1:]
        normal = move.transpose(0, 2, 1) @ move
        pull = np.einsum("psk,ps->pk", move, rest)
        # Held in units of what is left: a good fit is free to move, a poor one cannot run away from its start.
        hold = 0.02 * np.einsum("ps,ps->p", rest, rest)[:, None] / (SLACK[None] * module) ** 2
        ridge = hold + damping[:, None] * np.einsum("pii->pi", normal) + 1e-9
        # The prior pulls towards the start, so the step, which is taken off, has the same sign as the way from it.
        pull = pull + hold * (warp - start)
        return np.linalg.solve(normal + ridge[:, :, None] * np.eye(4), pull[:, :, None])[:, :, 0]


@dataclass(frozen=True)
class Explained:
    """A fitted pattern and what it leaves, all in the pattern's own direction at ``PER_MODULE`` samples a module.

    ``at`` is the place of each sample on the profile; ``rest`` the residual, and ``clear`` that of a stiffer model,
    which spreads less of what a wrong pattern cannot explain over the row; ``bars`` the pattern; ``trust`` the root of
    the weights; ``mixture`` the strength of each of ``BLURS``, and ``contrast`` how it changes along the row (a factor,
    1 in the middle); ``quiet`` the modules before the first bar.
    """

    pattern: Pattern
    at: Doubles
    rest: Doubles
    clear: Doubles
    bars: Doubles
    trust: Doubles
    mixture: Doubles
    contrast: Doubles
    quiet: float = QUIET


def explain_profile(profile: Profile, pattern: Pattern, warp: Doubles, turned: bool) -> Explained:
    """What a fitted pattern explains of the profile."""
    way = slice(None, None, -1 if turned else 1)
    seen = _Seen(profile, _powers(pattern.modules), warp[None])
    trust, values = seen.trust[0][way], seen.values(warp[None])[0][way]
    columns = _columns([pattern])[0] * trust[:, None]
    # Not the coefficients of the free fit: they may be negative, and what they would draw is not a blur of bars.
    mixture = _point_spread(columns, values)
    contrast = _contrast(columns, mixture, values, _slow(pattern.modules)[:, :FADING])
    basis = np.linalg.qr(columns)[0]
    rest = values - basis @ (basis.T @ values)
    bars = render_patterns([pattern], PER_MODULE, QUIET)[0]
    # The stiff model: one blur, few terms of contrast, no ink spread. It cannot bend a wrong pattern into place.
    soft = columns[:, LIGHT_COLUMNS : LIGHT_COLUMNS + len(BLURS)] @ mixture
    stiff = np.linalg.qr(np.c_[columns[:, :FADING], soft[:, None] * _slow(pattern.modules)[:, :FADING]])[0]
    clear = values - stiff @ (stiff.T @ values)
    return Explained(pattern, (seen.powers @ warp)[way], rest, clear, bars, trust, mixture, contrast)


def closest_patterns(
    profile: Profile, best: Pattern, warp: Doubles, turned: bool, patterns: Sequence[Pattern], most: int
) -> list[Pattern]:
    """The patterns that explain the profile best at the warp and under the blur that were fitted for ``best``."""
    seen = _Seen(profile, _powers(best.modules), warp[None])
    way = slice(None, None, -1 if turned else 1)
    values, trust = seen.values(warp[None])[0][way], seen.trust[0][way]
    columns = _columns([best])[0] * trust[:, None]
    mixture = _point_spread(columns, values)
    # Light is taken out of both sides first: a shadow would match the pattern that has most bars under it.
    light = np.linalg.qr(columns[:, :LIGHT_COLUMNS])[0]
    target = values - light @ (light.T @ values)
    # All patterns under one blur and at one place: a multiplication instead of a fit each, so that thousands are
    # ranked.
    # One point spread for all, that of the best: each with its own would be a fit each, and there may be hundreds.
    rows = blur_by_mixture(render_patterns(patterns, PER_MODULE, QUIET + PADDING), mixture)[:, _inner()] * trust
    rows = rows - (rows @ light) @ light.T
    match = (rows @ target) / (np.linalg.norm(rows, axis=1) + 1e-9)
    # Bend, ink spread and skew stay out: the order is rough, which is why a dozen of them are fitted afterwards.
    return [patterns[i] for i in np.argsort(-np.abs(match))[:most]]


def _point_spread(columns: Doubles, values: Doubles) -> Doubles:
    """How much of each blur, none of the other sign: it stays a point spread where the pattern is a wrong one."""
    light = np.linalg.qr(columns[:, :LIGHT_COLUMNS])[0]
    # Non-negative least squares (Lawson & Hanson 1974): a mixture of blurs with a negative share sharpens, as no lens
    # does.
    blurs = columns[:, LIGHT_COLUMNS : LIGHT_COLUMNS + len(BLURS)]
    return -np.asarray(nnls(light @ (light.T @ blurs) - blurs, values - light @ (light.T @ values))[0], np.float64)


def _contrast(columns: Doubles, mixture: Doubles, values: Doubles, slow: Doubles) -> Doubles:
    """How the strength of the bars, under this blur, changes along the row, as a factor."""
    bars = columns[:, LIGHT_COLUMNS : LIGHT_COLUMNS + len(BLURS)] @ mixture
    plain = np.concatenate([columns[:, :LIGHT_COLUMNS], bars[:, None] * slow], 1)
    return np.asarray(slow @ np.linalg.lstsq(plain, values, rcond=1e-6)[0][LIGHT_COLUMNS:], np.float64)


def blur_by_mixture(bars: Floats, mixture: Doubles) -> Doubles:
    """The bars under the point spread that is this mixture of Gaussians."""
    # The row wraps round at its ends: `PADDING` modules of paper on both sides take up what comes over.
    length = next_fast_len(bars.shape[1], real=True)
    # A Gaussian of s samples multiplies the frequency f by exp(-2 (pi s f)^2): one transform for all blurs of the
    # mixture.
    # Transfer function of a Gaussian of s samples, exp(-2 (pi f s)^2), with s in modules.
    squares = (np.pi * PER_MODULE * rfftfreq(length)) ** 2
    response = sum(weight * np.exp(-2 * blur**2 * squares) for weight, blur in zip(mixture, BLURS, strict=True))
    return np.asarray(irfft(rfft(bars, length, axis=1) * response, length, axis=1)[:, : bars.shape[1]], np.float64)


def _inner() -> slice:
    cut = round(PADDING * PER_MODULE)
    return slice(cut, -cut)


@lru_cache(maxsize=64)
def _powers(modules: float) -> Doubles:
    """1, v, v², v³ at the samples of a pattern: (samples, 4)."""
    count = round((modules + 2 * QUIET) * PER_MODULE)
    v = ((np.arange(count) + 0.5) / PER_MODULE - QUIET - modules / 2) / (modules / 2)
    return v[:, None] ** np.arange(4)


@lru_cache(maxsize=64)
def _slow(modules: float) -> Doubles:
    """Slow changes along the row, Legendre polynomials over the samples of a pattern: (samples, columns)."""
    # Legendre polynomials are orthogonal on -1 to 1, so that the quiet zones must lie within that, too.
    reach = 1 + 2 * QUIET / modules
    slow = legvander(_powers(modules)[:, 1] / reach, max(LIGHT_COLUMNS - 1, CONTRAST_COLUMNS))
    return np.asarray(slow, np.float64)


def _columns(patterns: Sequence[Pattern]) -> Doubles:
    """(patterns, samples, columns): light, bars under each blur, ink spread, skew, contrast along the row."""
    # Drawn wider than it is used: a blur at the edge would otherwise mirror bars that are not there (see `_inner`).
    bars = render_patterns(patterns, PER_MODULE, QUIET + PADDING)
    # Ink that spreads adds darkness at every edge alike, so it enters as the edges without their sign; a point spread
    # that
    # leans to one side adds it with the sign of the edge.
    steps = np.diff(bars, axis=1, prepend=0.0)
    rows = [blur_rows(bars, blur * PER_MODULE) for blur in BLURS]
    # Ink that spreads moves both edges of a bar outwards: to first order it adds the size of the edges, blurred.
    rows += [blur_rows(np.abs(steps), blur * PER_MODULE) for blur in GROWTH_BLURS]
    # The signed edges are what a shift adds; with a width of its own that is a point spread leaning to one side.
    rows += [blur_rows(steps, blur * PER_MODULE) for blur in SKEW_BLURS]
    stack = np.stack(rows, 2)[:, _inner()].astype(np.float64)
    slow = _slow(patterns[0].modules)
    light = np.broadcast_to(slow[:, :LIGHT_COLUMNS], (len(patterns), len(slow), LIGHT_COLUMNS))
    return np.concatenate([light, stack, stack[:, :, 1:2] * slow[None, :, 1 : CONTRAST_COLUMNS + 1]], 2)


def _orthonormal(columns: Doubles, trust: Doubles) -> Doubles:
    """Bases of all profiles that each pattern can give, as far as trusted; the first columns span light alone."""
    return np.asarray(np.linalg.qr(columns * trust[:, :, None])[0], np.float64)


def _residual_variance(basis: Doubles, values: Doubles) -> Doubles:
    """The share of the variance beyond slow changes of light that the basis leaves."""
    weights = np.einsum("psk,ps->pk", basis, values) ** 2
    # The basis is orthonormal, so that projections are sums of squares and nothing need be solved for.
    power = np.einsum("ps,ps->p", values, values)
    # A shadow over the label is much variance and no evidence: only what is beyond it counts on either side.
    beyond_light = power - weights[:, :LIGHT_COLUMNS].sum(1)
    return np.asarray((power - weights.sum(1)) / (beyond_light + 1e-9), np.float64)


# Expected patterns laid over a profile: searched for coarsely, the best ones fitted, and those that come near them.


LEADS, FITTED = 8, 12
"""Patterns that are fitted where the search found them, and patterns of their banks that are fitted from there."""

SSCC_HIDDEN, END_HIDDEN = 0.3, 0.1
"""Share of a symbol that may be hidden where it is seen partly: of one without an SSCC no more than its end is searched
for, as it is read only when nearly all of it is seen (see `weigh`)."""

Lead = tuple[Pose, Bank, int]
"""Where the pattern of a bank with this number may lie."""


@dataclass(frozen=True)
class Fitted:
    """A pattern laid over a profile: its residual variance and where it lies."""

    pattern: Pattern
    residual_variance: float
    warp: NDArray[np.float64]
    reversed: bool


@lru_cache(maxsize=8)
def banks_of(expected: tuple[ExpectedCode, ...]) -> tuple[Bank, ...]:
    """The templates of all printed forms of these codes, one bank for each shape, the likeliest symbology first."""
    # Patterns with as many edges over as many modules are sampled alike, and can be held against a profile at once.
    groups: dict[tuple[int, float], list[Pattern]] = {}
    for code in sorted(expected, key=lambda code: LINEAR.index(code.symbology) if code.symbology in LINEAR else 0):
        for pattern in patterns(code):
            groups.setdefault((len(pattern.edges), pattern.modules), []).append(pattern)
    return tuple(Bank(group) for group in groups.values())


def leads_of(profile: Profile, bank: Bank, partly: bool = False) -> list[Lead]:
    """The patterns of a bank that resemble the profile most; they may be seen ``partly``."""
    hidden = (SSCC_HIDDEN if any(map(is_sscc, bank.patterns)) else END_HIDDEN) if partly else 0.0
    posed = enumerate(bank.search(profile, hidden))
    return sorted(((pose, bank, number) for number, pose in posed if pose), key=lambda lead: -lead[0].score)[:LEADS]


def fits_from(profile: Profile, leads: Sequence[Lead]) -> list[Fitted]:
    """The best leads fitted, and the patterns of their banks that come nearest to them, best first."""
    best = sorted(leads, key=lambda lead: -lead[0].score)[:LEADS]
    fits: list[Fitted] = []
    for bank in dict.fromkeys(bank for _, bank, _ in best):
        here = [(pose, bank.patterns[number]) for pose, of, number in best if of is bank]
        starts = np.array([warp_of(pose, bank.modules) for pose, _ in here])
        first = fit_patterns(profile, [pattern for _, pattern in here], starts, [pose.reversed for pose, _ in here])
        lead = min(first, key=lambda f: f.residual_variance)
        fits += [*first, *near_fits(profile, lead, bank.patterns)]
    return sorted(fits, key=lambda f: f.residual_variance)


def near_fits(profile: Profile, lead: Fitted, shapes: Sequence[Pattern], most: int = FITTED) -> list[Fitted]:
    """The patterns that come closest to the profile where ``lead`` lies, fitted from there."""
    if not shapes:
        return []
    near = closest_patterns(profile, lead.pattern, lead.warp, lead.reversed, shapes, most)
    return fit_patterns(profile, near, np.repeat(lead.warp[None], len(near), 0), [lead.reversed] * len(near))


def fit_patterns(
    profile: Profile, shapes: Sequence[Pattern], warps: NDArray[np.float64], reversed_: Sequence[bool], rounds: int = 8
) -> list[Fitted]:
    """Patterns of one shape, each fitted from its own warp."""
    result = fit(profile, shapes, warps, np.array(reversed_), rounds)
    return [
        Fitted(s, float(u), w, r)
        for s, u, w, r in zip(shapes, result.residual_variance, result.warp, reversed_, strict=True)
    ]
