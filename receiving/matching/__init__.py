"""Matching: what was seen against what was expected, with the reason for every answer.

Reads of one physical label are one `Observation`. `identify` says what each says by itself: a whole code names its
carton, and all else that a torn label or a typed text says has a cost for each carton, minus the logarithm of how
often that goes wrong (`likelihood`). `resolve` then puts all of them together by the linear assignment of least cost
(Crouse 2016, doi:10.1109/TAES.2016.140952): what is not 20 times likelier than the next best is a question.
`presence` gives each carton its one state.

Data: `Manifest`, `LabelRead`, notes -> `Observation` -> `Judgement` -> `Reconciliation`; `Reconciler` keeps what the
next read does not change.

What holds always: every carton is in one state and every read explained once; nothing is received that nothing shows;
the order of reads, notes and rows and the names of photos decide nothing; one more read gives the state that a new
start gives. Reasons are facts; `receiving.wording` has the words. The rest of the room counts contents: what can be
set, what is lacking.
"""

from receiving.matching.allocation import settable_positions
from receiving.matching.catalogue import Elsewhere
from receiving.matching.contents import (
    bay_sheets,
    blocked_positions,
    counted_lines,
    parts_list,
    parts_rows,
    position_needs,
    section_state,
    stock_of,
)
from receiving.matching.identify import CertainNames, certain_names
from receiving.matching.observations import Reason
from receiving.matching.overs import with_owners
from receiving.matching.presence import notes_in_force
from receiving.matching.reconcile import (
    NOT_SEARCHED,
    SEARCHED,
    Reconciler,
    SearchState,
    ToCheck,
    reconcile,
    search_states,
    things_to_check,
)
from receiving.matching.replacing import IssuedRequest, RequestProposal, propose_request, replacement_lines

__all__ = [
    "NOT_SEARCHED",
    "SEARCHED",
    "CertainNames",
    "Elsewhere",
    "IssuedRequest",
    "Reason",
    "Reconciler",
    "RequestProposal",
    "SearchState",
    "ToCheck",
    "bay_sheets",
    "blocked_positions",
    "certain_names",
    "counted_lines",
    "notes_in_force",
    "parts_list",
    "parts_rows",
    "position_needs",
    "propose_request",
    "reconcile",
    "replacement_lines",
    "search_states",
    "section_state",
    "settable_positions",
    "stock_of",
    "things_to_check",
    "with_owners",
]
