"""Why a form was not taken, and at which field: a summary on top of the page that links to the field."""

from dataclasses import dataclass

from receiving.errors import ReceivingError
from receiving.messages import Text


@dataclass(frozen=True)
class Trouble:
    """What is wrong, what to do, and the name of the field that it is about (empty: of none alone)."""

    words: Text
    next_step: Text
    field: str


def trouble_of(fault: ReceivingError | None) -> Trouble | None:
    """A fault as the page tells it; None where there is none."""
    return Trouble(fault.message, fault.next_step, fault.field) if fault else None
