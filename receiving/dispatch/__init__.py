"""Dispatch: what a coordinator must decide today, over many shipments.

The problem: which visits will fail for want of a carton, and what can still be done about each.
The rows are facts of one shipment that change only with what is stored; `decide` adds the day at the store, in working
days (weekends and public holidays left out). Sentences are made from these facts at the edge.
"""

from receiving.dispatch.calendar import StoreDay, StoreTerms, WorkingCalendar, store_terms
from receiving.dispatch.deciding import (
    PRESSING,
    CartonOutlook,
    CartonStatus,
    DispatchRow,
    NextStep,
    Urgency,
    decide,
    for_today,
)
from receiving.dispatch.rows import MissingCarton, ShipmentRow, Weight, missing_cartons, shipment_row
from receiving.dispatch.selecting import Selection, SortKey, select

__all__ = [
    "PRESSING",
    "CartonOutlook",
    "CartonStatus",
    "DispatchRow",
    "MissingCarton",
    "NextStep",
    "Selection",
    "ShipmentRow",
    "SortKey",
    "StoreDay",
    "StoreTerms",
    "Urgency",
    "Weight",
    "WorkingCalendar",
    "decide",
    "for_today",
    "missing_cartons",
    "select",
    "shipment_row",
    "store_terms",
]
