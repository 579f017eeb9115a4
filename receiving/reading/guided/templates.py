"""What the camera would see of a pattern: sampled bars under a family of blurs."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from receiving.reading.guided.patterns import Pattern

Floats = NDArray[np.float32]


def rendered(patterns: Sequence[Pattern], per_module: int, quiet: float) -> Floats:
    """Darkness, 1 on bars and 0 on spaces: (patterns, samples), with ``quiet`` modules of quiet zone at each end.

    All patterns must have one length. Edges lie on whole samples, so ``per_module`` is even for half modules.
    """
    edges = np.array([p.edges for p in patterns])
    at = np.rint((edges + quiet) * per_module).astype(int)
    length = round((patterns[0].modules + 2 * quiet) * per_module)
    steps = np.zeros((len(patterns), length + 1), np.float32)
    signs = np.where(np.arange(at.shape[1]) % 2 == 0, 1.0, -1.0)
    np.put_along_axis(steps, at, np.broadcast_to(signs, at.shape).astype(np.float32), axis=1)
    return np.cumsum(steps, axis=1)[:, :-1]


def blurred(rows: Floats, sigma: float) -> Floats:
    """The rows under a Gaussian point spread of ``sigma`` samples."""
    return gaussian_filter1d(rows, sigma, axis=-1, mode="nearest") if sigma > 0 else rows


def unit(rows: Floats) -> Floats:
    """The rows with mean 0 and length 1."""
    centred = rows - rows.mean(-1, keepdims=True)
    return np.asarray(centred / (np.linalg.norm(centred, axis=-1, keepdims=True) + 1e-9), np.float32)
