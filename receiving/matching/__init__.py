"""Matching: what was seen against what was expected, with the reason for every answer."""

from receiving.matching.allocation import settable_positions
from receiving.matching.catalogue import Elsewhere
from receiving.matching.contents import counted_lines, position_needs, stock_of
from receiving.matching.reconcile import reconcile
from receiving.matching.section import section_state

__all__ = [
    "Elsewhere",
    "counted_lines",
    "position_needs",
    "reconcile",
    "section_state",
    "settable_positions",
    "stock_of",
]
