"""Matching: what was seen against what was expected, with the reason for every answer."""

from receiving.matching.allocation import settable_positions
from receiving.matching.asking import IssuedRequest, ToAsk, what_to_ask
from receiving.matching.bay_sheets import bay_sheets
from receiving.matching.blocking import blocked_positions
from receiving.matching.catalogue import Elsewhere
from receiving.matching.checking import ToCheck, things_to_check
from receiving.matching.contents import counted_lines, position_needs, stock_of
from receiving.matching.parts_editing import parts_list, parts_rows
from receiving.matching.reconcile import Reconciler, reconcile
from receiving.matching.replacing import replacement_lines
from receiving.matching.section import section_state
from receiving.matching.standing import standing_notes
from receiving.matching.strays import with_owners

__all__ = [
    "Elsewhere",
    "IssuedRequest",
    "Reconciler",
    "ToAsk",
    "ToCheck",
    "bay_sheets",
    "blocked_positions",
    "counted_lines",
    "parts_list",
    "parts_rows",
    "position_needs",
    "reconcile",
    "replacement_lines",
    "section_state",
    "settable_positions",
    "standing_notes",
    "stock_of",
    "things_to_check",
    "what_to_ask",
    "with_owners",
]
