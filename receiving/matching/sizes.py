"""What a glance at a carton tells: small, medium, large or long among the cartons of its own manifest.

The classes are cut where the manifest's own sizes leave the widest gaps, so that they tell its cartons apart; a
manifest of like cartons has none. How often a glance goes wrong is our choice, no source.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise
from math import erf, log, sqrt

from receiving.model import Carton, SizeClass

GAP = 1.25
"""Cartons whose edges differ by less than a quarter are not told apart by eye."""
LONG = 2.5
"""A carton is long when its longest edge is at least this many times the next."""
SPREAD = 0.1
"""A glance is wrong by about a tenth of the edge (the standard deviation of its logarithm)."""
WRONG_TAP = 0.01
"""One tap in a hundred is not what was meant."""

BY_CUTS = {
    0: (SizeClass.MEDIUM,),
    1: (SizeClass.SMALL, SizeClass.LARGE),
    2: (SizeClass.SMALL, SizeClass.MEDIUM, SizeClass.LARGE),
}


@dataclass(frozen=True)
class Sizes:
    """The size classes of one manifest; ``cuts_cm`` are the edges between them, of a cube as large as the carton."""

    cuts_cm: tuple[float, ...]
    some_long: bool

    @classmethod
    def of(cls, cartons: Iterable[Carton]) -> "Sizes":
        """The classes that these cartons fall into."""
        sized = [carton for carton in cartons if _edges_cm(carton)]
        compact = sorted({_edge_cm(carton) for carton in sized if _slimness(carton) < LONG})
        gaps = sorted((two / one, sqrt(one * two)) for one, two in pairwise(compact) if two / one >= GAP)
        return cls(tuple(sorted(cut for _, cut in gaps[-2:])), any(_slimness(carton) >= LONG for carton in sized))

    @property
    def classes(self) -> tuple[SizeClass, ...]:
        """What a person may say, smallest first; nothing where all cartons look alike."""
        named = (*BY_CUTS[len(self.cuts_cm)], *((SizeClass.LONG,) if self.some_long else ()))
        return named if len(named) > 1 else ()

    def chance(self, stated: SizeClass, carton: Carton) -> float:
        """How likely a person says ``stated`` of this carton."""
        if stated not in self.classes or not _edges_cm(carton):
            return self.chance_unknown(stated)
        return (1 - WRONG_TAP) * self._seen(stated, carton) + WRONG_TAP / len(self.classes)

    def chance_unknown(self, stated: SizeClass) -> float:
        """How likely a person says ``stated`` of a carton whose size is not known: the same for every class."""
        return 1 / len(self.classes) if stated in self.classes else 1.0

    def telling(self, cartons: Iterable[Carton]) -> tuple[SizeClass, ...]:
        """What a person may say to tell these cartons apart; nothing where all of them look alike."""
        looks = {
            max(self.classes, key=lambda stated: self.chance(stated, carton)) for carton in cartons if self.classes
        }
        return self.classes if len(looks) > 1 else ()

    def _seen(self, stated: SizeClass, carton: Carton) -> float:
        long = _above(_slimness(carton), LONG) if self.some_long else 0.0
        if stated is SizeClass.LONG:
            return long
        n = BY_CUTS[len(self.cuts_cm)].index(stated)
        edge = _edge_cm(carton)
        above = [1.0, *(_above(edge, cut) for cut in self.cuts_cm), 0.0]
        return (1 - long) * (above[n] - above[n + 1])


def _above(value: float, cut: float) -> float:
    """How likely a glance puts ``value`` above ``cut``."""
    return (1 + erf(log(value / cut) / SPREAD / sqrt(2))) / 2


def _edges_cm(carton: Carton) -> tuple[float, ...]:
    edges = (carton.length_cm, carton.width_cm, carton.height_cm)
    return tuple(sorted(edge for edge in edges if edge is not None)) if None not in edges else ()


def _edge_cm(carton: Carton) -> float:
    """The edge of a cube of the carton's volume."""
    one, two, three = _edges_cm(carton)
    return float((one * two * three) ** (1 / 3))


def _slimness(carton: Carton) -> float:
    _, next_longest, longest = _edges_cm(carton)
    return longest / next_longest
