"""What went wrong, and what to do about it; why a form was not taken, and at which field.

A summary on top of the page links to the field.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import ClassVar

from receiving.errors import FieldFault, ReceivingError
from receiving.messages import Text


@dataclass(frozen=True)
class ProblemPage:
    """A problem in our words; ``details`` lists every fault of a file, ``kept`` what was stored all the same."""

    template: ClassVar[str] = "problem.html"

    title: Text
    message: Text
    next_step: Text
    details: tuple[Text, ...] = ()
    kept: Text = ""
    back: str = ""
    field: str = ""


@dataclass(frozen=True)
class ProblemPart(ProblemPage):
    """The same as a part of a page that is already open."""

    template: ClassVar[str] = "_problem.html"


@dataclass(frozen=True)
class FieldLink:
    """What is wrong at one field; ``anchor`` is the field's id on the page, empty where it leads nowhere."""

    words: Text
    anchor: str


@dataclass(frozen=True)
class Trouble:
    """What is wrong, what to do, and the name of the field that it is about (empty: of none alone).

    ``anchor`` is that field's id on the page; ``links`` are the faults of several fields.
    """

    words: Text
    next_step: Text
    field: str
    anchor: str = ""
    links: tuple[FieldLink, ...] = ()

    def is_at(self, anchor: str) -> bool:
        """True where something is wrong with the field of this id."""
        return anchor == self.anchor or any(anchor == link.anchor for link in self.links)


def _row_of(fault: FieldFault) -> str:
    return f"{fault.field}-{fault.which}" if fault.which else fault.field


def trouble_of(
    fault: ReceivingError | None,
    *,
    anchor: Callable[[FieldFault], str] = _row_of,
) -> Trouble | None:
    """A fault as the page tells it; None where there is none. ``anchor`` gives the id of a faulty field on the page."""
    if fault is None:
        return None
    links = tuple(FieldLink(each.message, anchor(each)) for each in fault.fields)
    own = anchor(FieldFault(fault.field, fault.message)) if fault.field else ""
    return Trouble(fault.message, fault.next_step, fault.field, own, links)
