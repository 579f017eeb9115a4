"""Coarse search: which patterns, at which scale, place and direction, resemble a profile at all."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from receiving.reading.guided.patterns import Pattern
from receiving.reading.guided.profile import Profile
from receiving.reading.guided.templates import FLATTEN_MODULES, blurred, rendered, unit

Floats = NDArray[np.float32]
PER_MODULE = 2
QUIET = 2.0
BLURS = (0.5, 1.0, 1.6, 2.3)  # modules
BENDS = (-0.08, -0.04, 0.0, 0.04, 0.08)
NARROWEST, WIDEST = 0.40, 1.06
DIMENSIONS, KEPT = 40, 6


@dataclass(frozen=True)
class Pose:
    """Where a pattern lies: profile position x = start + module·(u + bend·(u − middle)²/length) for module u."""

    start: float
    module: float
    bend: float
    reversed: bool
    score: float


class Bank:
    """The templates of patterns of one length, for coarse search; made once per set of candidates."""

    def __init__(self, patterns: Sequence[Pattern]) -> None:
        self.patterns = tuple(patterns)
        self.modules = patterns[0].modules
        bars = rendered(patterns, PER_MODULE, 12.0)
        cut = round((12.0 - QUIET) * PER_MODULE)
        rows = []
        for blur in BLURS:
            soft = blurred(bars, blur * PER_MODULE)
            flat = soft - gaussian_filter1d(soft, FLATTEN_MODULES * PER_MODULE, axis=1, mode="nearest")
            rows.append(unit(flat[:, cut:-cut]))
        self.templates = np.concatenate(rows).astype(np.float32)
        gram = self.templates.T @ self.templates
        values, vectors = np.linalg.eigh(gram)
        self.basis = vectors[:, ::-1][:, :DIMENSIONS].astype(np.float32)
        self.mirrored = np.ascontiguousarray(self.basis[::-1])
        self.reduced = self.templates @ self.basis

    def search(self, profile: Profile) -> list[Pose | None]:
        """The best pose of each pattern; None where no scale fits into the profile."""
        small, poses, flipped = self._looks(profile)
        if not len(small):
            return [None] * len(self.patterns)
        scores = (small @ self.reduced.T).reshape(len(small), len(BLURS), -1).max(1)
        top = scores.argmax(0)
        return [Pose(*map(float, poses[t]), bool(flipped[t]), float(scores[t, i])) for i, t in enumerate(top)]

    def _looks(self, profile: Profile) -> tuple[Floats, Floats, NDArray[np.bool_]]:
        """The most promising windows at every scale and bend, in both directions, on the templates' own axes."""
        small, poses, flips = [], [], []
        for windows, pose in _windows(profile, self.modules, self.templates.shape[1]):
            for flipped in (False, True):
                seen = windows @ (self.mirrored if flipped else self.basis)
                power = (seen**2).sum(1)
                keep = np.argpartition(power, -KEPT)[-KEPT:] if len(power) > KEPT else np.arange(len(power))
                small.append(seen[keep])
                poses.append(pose[keep])
                flips.append(np.full(len(keep), flipped))
        if not small:
            return np.zeros((0, DIMENSIONS), np.float32), np.zeros((0, 3)), np.zeros(0, bool)
        return np.concatenate(small), np.concatenate(poses), np.concatenate(flips)


def _windows(profile: Profile, modules: float, length: int) -> Iterator[tuple[Floats, Floats]]:
    """Unit windows of the profile, darkness up, for each scale and bend; and (start, module, bend) of each window."""
    reach = profile.band.right - profile.band.left
    scales = np.geomspace(NARROWEST, WIDEST, int(np.log(WIDEST / NARROWEST) * modules) + 1) * reach / modules
    middle = (profile.band.left + profile.band.right) / 2
    xs = np.arange(len(profile.values))
    for module in scales:
        half = max(0.5 * reach / module + 4, modules / 2 + 4)
        t = np.arange(-half, half, 1 / PER_MODULE)
        count = len(t) - length + 1
        if count < 1:
            continue
        for bend in BENDS:
            z = -np.interp(middle + module * (t + bend * t**2 / modules), xs, profile.values)
            z -= gaussian_filter1d(z, FLATTEN_MODULES * PER_MODULE, mode="nearest")
            view = np.lib.stride_tricks.sliding_window_view(z.astype(np.float32), length)
            # From the quadratic around the middle of the profile to one around the middle of the symbol.
            centre = t[:count] + QUIET + modules / 2 - 0.5 / PER_MODULE
            local = module * (1 + 2 * bend * centre / modules)
            start = middle + module * (centre + bend * centre**2 / modules) - local * modules / 2
            yield unit(view), np.stack([start, local, bend * module / local], 1)
