"""Guided reading: a blurred, dim, crumpled or partly torn symbol, read by comparing it with the codes expected.

The doors are handed on when first used: they load OpenCV and SciPy.
"""

from typing import TYPE_CHECKING

from receiving.doors import hand_on

if TYPE_CHECKING:
    from receiving.reading.guided.matrix import guided_matrix
    from receiving.reading.guided.reader import guided_symbols
    from receiving.reading.guided.regions import candidate_regions

__all__ = ["candidate_regions", "guided_matrix", "guided_symbols"]

__getattr__ = hand_on(
    __name__,
    {"matrix": ("guided_matrix",), "reader": ("guided_symbols",), "regions": ("candidate_regions",)},
)
