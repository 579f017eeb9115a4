"""Matching: what was seen against what was expected, with the reason for every answer."""

from receiving.matching.catalogue import Elsewhere
from receiving.matching.reconcile import reconcile

__all__ = ["Elsewhere", "reconcile"]
