"""Fine fit: how much of a profile a pattern explains once place, bend, blur, light and ink spread are fitted."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from receiving.reading.guided.patterns import Pattern
from receiving.reading.guided.profile import Profile
from receiving.reading.guided.search import Pose
from receiving.reading.guided.templates import blurred, rendered

Doubles = NDArray[np.float64]
PER_MODULE = 4
QUIET = 3.0
BLURS = (0.35, 0.7, 1.15, 1.7, 2.4)  # modules; the point spread is a mixture of these
ROUNDS = 8
# How far each polynomial coefficient of the warp may move from the coarse pose, in modules (a soft bound).
SLACK = np.array([1.5, 1.5, 2.5, 1.5])


@dataclass(frozen=True)
class Fits:
    """One row a pattern: unexplained share of the profile's variance, and the warp that gave it."""

    unexplained: Doubles
    warp: Doubles


def warp_of(pose: Pose, modules: float) -> Doubles:
    """The pose as coefficients of 1, v, v², v³, with v from −1 to 1 over the symbol."""
    half = modules / 2
    middle = pose.start + pose.module * half
    if pose.reversed:
        pass
    return np.array([middle, pose.module * half, pose.module * pose.bend * half**2 / modules, 0.0])


def designs(patterns: Sequence[Pattern]) -> Doubles:
    """Orthonormal bases (patterns, samples, columns) of all profiles that a pattern can give."""
    bars = rendered(patterns, PER_MODULE, QUIET + 8)
    cut = 8 * PER_MODULE
    growth = np.abs(np.diff(bars, axis=1, prepend=0.0))
    columns = [blurred(bars, b * PER_MODULE) for b in BLURS]
    columns.append(blurred(growth, 0.7 * PER_MODULE))
    v = _v(patterns[0].modules)
    stack = np.stack(columns, 2)[:, cut:-cut].astype(np.float64)
    slope = stack[:, :, 1:2] * v[None, :, None]
    light = np.broadcast_to(np.stack([np.ones_like(v), v, v**2, v**3], 1), (len(patterns), len(v), 4))
    return np.linalg.qr(np.concatenate([light, stack, slope], 2))[0]


def _v(modules: float) -> Doubles:
    count = round((modules + 2 * QUIET) * PER_MODULE)
    return ((np.arange(count) + 0.5) / PER_MODULE - QUIET - modules / 2) / (modules / 2)


def fit(
    profile: Profile, patterns: Sequence[Pattern], warps: Doubles, reversed_: NDArray[np.bool_], rounds: int = ROUNDS
) -> Fits:
    """Fit each pattern from its own starting warp (patterns, 4), read right to left where ``reversed_``."""
    basis = designs(patterns)
    modules = patterns[0].modules
    v = _v(modules)
    powers = np.stack([np.ones_like(v), v, v**2, v**3], 1)
    basis = np.where(reversed_[:, None, None], basis[:, ::-1], basis)
    xs = np.arange(len(profile.values))
    values = profile.values.astype(np.float64)
    slopes = np.gradient(values)
    start, warp = warps.copy(), warps.copy()
    best, best_warp = np.full(len(patterns), np.inf), warps.copy()
    module = np.abs(warps[:, 1:2]) / (modules / 2)
    damping = np.full(len(patterns), 1e-3)
    for _ in range(rounds + 1):
        x = warp @ powers.T
        y = np.interp(x, xs, values)
        rest, total = _rest(basis, y)
        share = (rest**2).sum(1) / total
        better = share < best
        best = np.where(better, share, best)
        best_warp[better] = warp[better]
        damping = np.where(better, damping / 4, damping * 6)
        x = best_warp @ powers.T
        y = np.interp(x, xs, values)
        rest, total = _rest(basis, y)
        move = np.interp(x, xs, slopes)[:, :, None] * powers[None]
        move = move - basis @ (basis.transpose(0, 2, 1) @ move)
        normal = move.transpose(0, 2, 1) @ move
        pull = (move.transpose(0, 2, 1) @ rest[:, :, None])[:, :, 0]
        scale = (rest**2).sum(1)[:, None] / (SLACK[None] * module) ** 2 * 0.02
        pull = pull + scale * (best_warp - start)
        diagonal = np.einsum("pii->pi", normal)
        ridge = scale + damping[:, None] * diagonal + 1e-9
        step = np.linalg.solve(normal + ridge[:, :, None] * np.eye(4), pull[:, :, None])[:, :, 0]
        warp = best_warp - np.clip(step, -2 * module, 2 * module)
    return Fits(best, best_warp)


def _rest(basis: Doubles, y: Doubles) -> tuple[Doubles, Doubles]:
    """What the basis does not explain of y, and the variance of y beyond slow changes of light (columns 0 to 3)."""
    weights = (basis.transpose(0, 2, 1) @ y[:, :, None])[:, :, 0]
    rest = y - (basis @ weights[:, :, None])[:, :, 0]
    light = (basis[:, :, :4] @ weights[:, :4, None])[:, :, 0]
    return rest, ((y - light) ** 2).sum(1) + 1e-9
