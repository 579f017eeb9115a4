"""What went wrong, and what to do about it."""

from dataclasses import dataclass
from typing import ClassVar


@dataclass(frozen=True)
class ProblemPage:
    """A problem in our words; ``details`` lists every fault of a file, ``kept`` what was stored all the same."""

    template: ClassVar[str] = "problem.html"

    title: str
    message: str
    next_step: str
    details: tuple[str, ...] = ()
    kept: str = ""
    back: str = ""
    field: str = ""


@dataclass(frozen=True)
class ProblemPart(ProblemPage):
    """The same as a part of a page that is already open."""

    template: ClassVar[str] = "_problem.html"
