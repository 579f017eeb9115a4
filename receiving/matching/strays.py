"""Strays looked up once more: whether the shipment that they belong to is short of them."""

from collections.abc import Iterable
from dataclasses import replace

from receiving.model import CartonState, Over, Reconciliation

WORDS = {
    CartonState.SHORT: ", which is short of it",
    CartonState.INSIDE: ", where it is not seen yet",
    CartonState.RECEIVED: ", where a carton with this code is here as well",
}


def with_owners(result: Reconciliation, others: Iterable[Reconciliation]) -> Reconciliation:
    """``result`` whose strays also say how their own shipment, one of ``others``, stands without them."""
    states = {
        (other.shipment, other.store, finding.carton.carton): finding.state
        for other in others
        for finding in other.cartons
    }
    return replace(result, over=tuple(_with_owner(over, states) for over in result.over))


def _with_owner(over: Over, states: dict[tuple[str, str, str], CartonState]) -> Over:
    state = states.get((over.shipment, over.store, over.carton))
    return over if state is None else replace(over, belongs_to=over.belongs_to + WORDS[state])
