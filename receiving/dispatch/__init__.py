"""Dispatch: what a coordinator must decide today, over many shipments.

The problem: which visits will fail for want of a carton, and what can still be done about each. A `ShipmentRow` holds
facts of one shipment that change only with what is stored; `decide` adds the day at the store, counted in working days
(weekends and public holidays left out), and each missing carton gets an outlook. The choices for a visit (`options`)
are compared by their expected cost, with the chance that a missing carton turns up in time learnt from the visits
that are over (`learn`, with Jeffreys' prior). Cartons that are extra in one store and missing in another are matched
for the whole programme (`plan_swaps`): a transport problem (Hoffman & Kruskal 1956), solved as an integer program.

Data: `ShipmentRow` + day -> `DispatchRow` -> `Option` and `Swap`; all rows together -> `Programme`.

What holds always: nothing here reads a clock, the day comes in; a row is the same whoever makes it, so that it may be
cached by the version of what it follows from. Sentences are made from these facts at the edge.
"""

from receiving.dispatch.calendar import StoreDay, StoreTerms, WorkingCalendar, store_terms
from receiving.dispatch.deciding import (
    PRESSING,
    CartonOutlook,
    CartonStatus,
    DispatchRow,
    NextStep,
    Selection,
    SortKey,
    Urgency,
    decide,
    for_today,
    select,
)
from receiving.dispatch.naming import carton_item, facts_of, kit_of, lane_of
from receiving.dispatch.options import (
    FEWEST_CASES,
    Chance,
    Costs,
    Option,
    OptionKind,
    OrderStatus,
    late_cartons,
    learn,
    options,
    order_status,
)
from receiving.dispatch.programme import Programme, ReadinessDay, Share, Week, readiness, summarise
from receiving.dispatch.rows import (
    MissingCarton,
    ShipmentRow,
    Wait,
    Weight,
    missing_cartons,
    shipment_row,
)
from receiving.dispatch.swaps import Spare, Swap, Want, plan_swaps

__all__ = [
    "FEWEST_CASES",
    "PRESSING",
    "CartonOutlook",
    "CartonStatus",
    "Chance",
    "Costs",
    "DispatchRow",
    "MissingCarton",
    "NextStep",
    "Option",
    "OptionKind",
    "OrderStatus",
    "Programme",
    "ReadinessDay",
    "Selection",
    "Share",
    "ShipmentRow",
    "SortKey",
    "Spare",
    "StoreDay",
    "StoreTerms",
    "Swap",
    "Urgency",
    "Wait",
    "Want",
    "Week",
    "Weight",
    "WorkingCalendar",
    "carton_item",
    "decide",
    "facts_of",
    "for_today",
    "kit_of",
    "lane_of",
    "late_cartons",
    "learn",
    "missing_cartons",
    "options",
    "order_status",
    "plan_swaps",
    "readiness",
    "select",
    "shipment_row",
    "store_terms",
    "summarise",
]
