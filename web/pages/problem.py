"""What went wrong, and what to do about it."""

from dataclasses import dataclass
from typing import ClassVar

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
