"""A reason as a fact: which one, and its parameters. The words for it are made at the edge (`receiving.wording`)."""

from dataclasses import dataclass
from enum import StrEnum
from typing import Any


@dataclass(frozen=True, slots=True)
class Fact:
    """A reason, a value of its room's enum, with its parameters by name; each reason has its own."""

    reason: str
    values: tuple[tuple[str, Any], ...] = ()

    def __getitem__(self, name: str) -> Any:
        return dict(self.values)[name]

    def adding(self, **values: Any) -> "Fact":
        """The same with more parameters."""
        return Fact(self.reason, (*self.values, *values.items()))


def fact(reason: StrEnum, **values: Any) -> Fact:
    """The fact of this reason with these parameters."""
    return Fact(reason, tuple(values.items()))
