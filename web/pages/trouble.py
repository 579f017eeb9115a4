"""Why a form was not taken, and at which field: a summary on top of the page that links to the field."""

from dataclasses import dataclass

from receiving.errors import ReceivingError


@dataclass(frozen=True)
class Trouble:
    """What is wrong, what to do, and the name of the field that it is about (empty: of none alone)."""

    words: str
    next_step: str
    field: str


def trouble_of(fault: ReceivingError | None) -> Trouble | None:
    """A fault as the page tells it; None where there is none."""
    return Trouble(fault.message, fault.next_step, fault.field) if fault else None
