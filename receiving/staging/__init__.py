"""Received cartons to a staging plan: what opens first, what rides together, where it stands. Pure."""

from receiving.staging.aisles import aisle_before
from receiving.staging.at_once import bay_by_rule, before_planning
from receiving.staging.changes import plan_change_cost
from receiving.staging.checking import ASSUMED_CART
from receiving.staging.destinations import Destination, destination
from receiving.staging.overrides import rode_along
from receiving.staging.planner import plan_staging

__all__ = [
    "ASSUMED_CART",
    "Destination",
    "aisle_before",
    "bay_by_rule",
    "before_planning",
    "destination",
    "plan_change_cost",
    "plan_staging",
    "rode_along",
]
