"""Where the bars of an upright patch end, above and below: two lines that tell from which side a label is seen."""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from receiving.reading.guided.profile import Band, Floats

Doubles = NDArray[np.float64]
Line = tuple[float, float]
SLABS = 12
"""Groups of neighbouring bars whose ends are looked for one by one."""

SCATTER = 0.03
"""Median distance of ends from their line, as a share of the bars' length, above which they are not a line."""

SQUARE = 0.04
"""Difference of length, and slant over the whole symbol, as a share of the bars' length, that is left alone."""

SHORTEST = 0.5
"""Least length of the farthest bars as a share of the nearest ones: less is not a label but a fan."""


@dataclass(frozen=True)
class BarEnds:
    """The lines on which bars end: height at column 0 and slope, above and below, and how far they run."""

    above: Line
    below: Line
    left: float
    right: float

    def corners(self, left: float, right: float) -> list[tuple[float, float]]:
        """Upper left, upper right, lower right and lower left end of the bars between two columns."""
        places = ((self.above, left), (self.above, right), (self.below, right), (self.below, left))
        return [(x, start + slope * x) for (start, slope), x in places]

    def lengths(self) -> tuple[float, float]:
        """Length of the leftmost and of the rightmost bar."""
        (_, a), (_, b), (_, c), (_, d) = self.corners(self.left, self.right)
        return d - a, c - b

    def is_square(self) -> bool:
        """True when the bars are equally long and end at right angles."""
        (_, a), (_, b), (_, c), (_, d) = self.corners(self.left, self.right)
        return max(abs(a - b), abs(c - d)) < SQUARE * max(self.lengths())


def bar_ends(grey: Floats, band: Band) -> BarEnds | None:
    """The lines on which the bars of a patch end; None where they do not end in the patch or not on lines."""
    columns, above, below = _ends(grey, band)
    length = float(np.median(below - above))
    # Bars that run out of the picture end at its edge, a straight line that says nothing about perspective.
    inside = (above > 0).mean() > 0.5 and (below < len(grey)).mean() > 0.5
    lines = [_line(columns, ends) for ends in (above, below)]
    if not inside or any(scatter > SCATTER * length for _, scatter in lines):
        return None
    found = BarEnds(lines[0][0], lines[1][0], band.left, band.right)
    short, long = sorted(found.lengths())
    return found if short > SHORTEST * long > 0 else None


def _ends(grey: Floats, band: Band) -> tuple[Doubles, Doubles, Doubles]:
    """Middle column of each slab, and the rows where its stripes begin and end around the middle of the band."""
    smooth = gaussian_filter1d(grey, 2.0, axis=1)
    striped = np.abs(np.diff(smooth, axis=1))
    # What changes down the column as well is print or an edge across the bars, not bars.
    striped -= np.abs(np.diff(smooth, axis=0, append=smooth[-1:]))[:, :-1]
    edges = np.linspace(band.left, min(band.right, striped.shape[1]), SLABS + 1).astype(int)
    middle = (band.top + band.bottom) // 2
    found = []
    for left, right in pairwise(edges):
        score = gaussian_filter1d(striped[:, left:right].mean(1), max(1.0, len(grey) / 100))
        # By slabs and not over the whole width: on a label seen from the side each group of bars ends at another
        # height.
        low = np.flatnonzero(score < 0.5 * np.median(score[band.top : band.bottom]))
        above, below = max(low[low < middle], default=-1) + 1, min(low[low > middle], default=len(score))
        found.append(((left + right) / 2, above, below))
    columns, above, below = np.array(found, np.float64).T
    return columns, above, below


def _line(x: Doubles, y: Doubles) -> tuple[Line, float]:
    """The line of median slope through points (Theil & Sen), and their median distance from it."""
    # Theil (1950) and Sen (1968): up to 29 of 100 slabs may end at a crease or a finger, and the line stays.
    first, second = np.triu_indices(len(x), 1)
    slope = float(np.median((y[second] - y[first]) / (x[second] - x[first])))
    start = float(np.median(y - slope * x))
    return (start, slope), float(np.median(np.abs(y - start - slope * x)))
