"""Coarse search: which patterns, at which scale, place and direction, resemble a profile at all."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product, repeat

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from receiving.reading.guided.patterns import Floats, Pattern, blur_rows, normalise_rows, render_patterns
from receiving.reading.guided.profile import Profile, darkness

Doubles = NDArray[np.float64]
QUIET = 2.0
LIGHT = 12.0
"""Changes of light over more modules than this are taken out of profiles and templates alike."""

MOST_BEND = 0.24
"""Foreshortening: over half the symbol the module grows or shrinks by about this share."""

NARROWEST, WIDEST = 0.40, 1.06
"""Length of a symbol as a share of the striped part of the profile: add-ons and edges may be striped too."""

LEAST_SEEN = 0.95
"""The same where an end is hidden: the stripes are all symbol."""

ROUGH_SOFT, FINE_SOFT = 1.0, 0.4
"""Blur, in modules, before a profile is sampled once or twice a module, or sharp bars fall between the samples.

Without it the true place of a sharp photo's bars (upca-4/1) resembled its code by 0.44, and 500 of 1,000 decoys
elsewhere by more; with it by 0.90, and no other.
"""

SIZE_STEP = 0.05
"""Scales that differ by less, as a logarithm, are softened alike at the first attempt."""

FIRST_POSES = 40
BEST_PER_SCALE = 4
COMPARED = 384
"""Windows of a scale that are held against the templates; with a quarter of them one of 37 blurred photos was lost."""


@dataclass(frozen=True)
class Pose:
    """Where a pattern lies: its place s, in modules from its middle, is seen at middle + module·s/(1 − bend·s/length).

    ``middle`` and ``module`` are in samples of the profile; a plane seen by a pinhole camera looks like that.
    """

    middle: float
    module: float
    bend: float
    reversed: bool
    score: float


class _Level:
    """Templates at one resolution, on the few axes that they span: blur leaves little else, and codes share digits."""

    def __init__(self, patterns: Sequence[Pattern], per_module: int, blurs: tuple[float, ...], axes: int) -> None:
        wide = render_patterns(patterns, per_module, LIGHT)
        cut = round((LIGHT - QUIET) * per_module)
        soft = (blur_rows(wide, blur * per_module) for blur in blurs)
        rows = [normalise_rows((s - blur_rows(s, LIGHT * per_module))[:, cut:-cut]) for s in soft]
        templates = np.concatenate(rows).astype(np.float32)
        # Principal axes (Pearson 1901) of the templates themselves: a window off them resembles no template.
        spanned = np.linalg.eigh(templates.T @ templates)[1][:, ::-1][:, :axes].astype(np.float32)
        self.per_module, self.blurs, self.length = per_module, len(blurs), templates.shape[1]
        self.both_ways = np.concatenate([spanned, spanned[::-1]], 1)
        self.reduced = np.ascontiguousarray((templates @ spanned).T)
        self.offsets = ((np.arange(self.length) + 0.5) / per_module - QUIET).astype(np.float32)

    def scores(self, windows: Floats) -> Floats:
        """Correlation of each window, read left to right and then right to left, with each template."""
        return np.asarray(self._on_axes(windows) @ self.reduced, np.float32)

    def alike(self, windows: Floats) -> tuple[NDArray[np.intp], Floats]:
        """The windows that most resemble some template, either way round, and their best correlations.

        No correlation exceeds the length of a window on the axes: only the longest are held against the templates.
        """
        seen = self._on_axes(windows)
        bound = np.sqrt(np.einsum("ij,ij->i", seen, seen)).reshape(2, -1).max(0)
        longest = np.argsort(bound)[-COMPARED:]
        both = seen[np.concatenate([longest, longest + len(windows)])]
        score = (both @ self.reduced).max(1).reshape(2, -1).max(0)
        best = np.argsort(score)[-BEST_PER_SCALE:]
        return longest[best], score[best]

    def _on_axes(self, windows: Floats) -> Floats:
        """Each window with mean 0 and length 1 on the axes, read left to right and then right to left."""
        mean = windows.mean(1, keepdims=True)
        # The length that is left once the mean is taken out, without a second copy of all windows.
        square = np.einsum("ij,ij->i", windows, windows)[:, None] - self.length * mean**2
        seen = windows @ self.both_ways / np.sqrt(np.maximum(square, 1e-6))
        half = seen.shape[1] // 2
        return np.asarray(np.concatenate([seen[:, :half], seen[:, half:]]), np.float32)


class Bank:
    """The templates of patterns of one length; made once for a set of expected codes."""

    def __init__(self, patterns: Sequence[Pattern]) -> None:
        self.patterns = tuple(patterns)
        self.modules = patterns[0].modules
        self.rough = _Level(patterns, 1, (1.2, 2.2), 32)
        self.fine = _Level(patterns, 2, (0.5, 1.0, 1.6, 2.3), 48)

    def search(self, profile: Profile, hidden: float = 0.0) -> list[Pose | None]:
        """The best pose of each pattern; None where no scale fits into the profile.

        ``hidden`` is the share of the symbol that may lie beyond the stripes; 0 asks for stripes that hold all of it.
        """
        first = self._first_poses(profile, hidden)
        if not len(first):
            return list(repeat(None, len(self.patterns)))
        # Neighbouring first poses lead to the same small changes; each is looked at once.
        poses = np.unique(np.concatenate([first + step for step in self._steps(first)]), axis=0)
        scores = self.fine.scores(self._seen(profile, poses))
        scores = scores.reshape(len(scores), self.fine.blurs, -1).max(1)
        best = scores.argmax(0)
        found: list[Pose | None] = []
        for number, attempt in enumerate(best):
            turned, pose = divmod(int(attempt), len(poses))
            middle, module, bend = poses[pose]
            found.append(Pose(middle, module, bend, bool(turned), float(scores[attempt, number])))
        return found

    @property
    def _bend_step(self) -> float:
        """Bends so near to each other that the pattern moves by about a module at most."""
        return 9.0 / self.modules

    def _steps(self, first: Doubles) -> list[Doubles]:
        """Small changes of (middle, module, bend) around first attempts."""
        module, bend = first[:, 1], self._bend_step / 2
        steps = product(
            (-0.5, 0.0, 0.5),
            (-1 / self.modules, -0.5 / self.modules, 0.0, 0.5 / self.modules, 1 / self.modules),
            (-bend, 0.0, bend),
        )
        return [np.stack([m * module, w * module, np.full_like(module, b)], 1) for m, w, b in steps]

    def _seen(self, profile: Profile, poses: Doubles) -> Floats:
        """The profile at the template's samples under each pose, darkness up, light taken out."""
        middle, module, bend = (poses[:, k : k + 1] for k in range(3))
        s = self.fine.offsets - self.modules / 2
        x = middle + module * s / (1 - bend * s / self.modules)
        rows = np.zeros(x.shape, np.float32)
        # One softened profile for scales within a fifth of each other: softening for each pose would cost more than all
        # else.
        sizes = np.round(np.log(module[:, 0]) / 0.2)
        for size in np.unique(sizes):
            dark = _softened(profile, float(np.exp(0.2 * size)), FINE_SOFT)
            rows[sizes == size] = np.interp(x[sizes == size], np.arange(len(dark)), dark, 0.0, 0.0)
        return rows

    def _sizes(self, hidden: float) -> Doubles:
        """Lengths of the symbol to try, as a share of the striped part of the profile."""
        least, most = (LEAST_SEEN, 1 / (1 - hidden)) if hidden else (NARROWEST, WIDEST)
        return np.geomspace(least, most, round(np.log(most / least) * self.modules / 1.6))

    def _first_poses(self, profile: Profile, hidden: float) -> Doubles:
        """(middle, module, bend) of the windows that resemble some pattern most, a few for each scale."""
        band, level = profile.band, self.rough
        reach, middle = band.right - band.left, (band.left + band.right) / 2
        bends = np.arange(-MOST_BEND, MOST_BEND + 0.01, self._bend_step)[:, None]
        poses, best = [], []
        softened: dict[float, Floats] = {}
        for module in self._sizes(hidden) * reach / self.modules:
            beyond = max(0.0, self.modules - LEAST_SEEN * reach / module) / 2 if hidden else 0.0
            half = max(0.5 * reach / module, self.modules / 2) + 5 + beyond
            t = np.arange(-half, half)
            places = len(t) - level.length + 1
            if places < 1:
                continue
            grid = middle + module * t / np.maximum(1 - bends * t / self.modules, 0.3)
            size = float(np.exp(SIZE_STEP * np.round(np.log(module) / SIZE_STEP)))
            if size not in softened:
                softened[size] = _softened(profile, size, ROUGH_SOFT)
            dark = softened[size]
            rows = np.interp(grid, np.arange(len(dark)), dark, 0.0, 0.0).astype(np.float32)
            # One window for each place along the row: all places against all templates are one product of matrices.
            windows = np.lib.stride_tricks.sliding_window_view(rows, level.length, axis=1).reshape(-1, level.length)
            keep, score = level.alike(windows)
            best.append(score)
            # A projective map around the middle of the profile is one around the middle of the symbol, too.
            at = t[None, :places] - 0.5 + QUIET + self.modules / 2
            shrink = np.maximum(1 - bends * at / self.modules, 0.3)
            found = np.stack([middle + module * at / shrink, module / shrink**2, bends / shrink], 2)
            poses.append(found.reshape(-1, 3)[keep])
        if not poses:
            return np.zeros((0, 3))
        return np.concatenate(poses)[np.argsort(-np.concatenate(best))[:FIRST_POSES]]


def _softened(profile: Profile, module: float, blur: float) -> Floats:
    """Darkness without slow changes of light, blurred by this many modules of ``module`` columns."""
    dark = darkness(profile, LIGHT * module)
    return np.asarray(gaussian_filter1d(dark, blur * module, mode="nearest"), np.float32)
