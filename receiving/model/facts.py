"""A reason as a fact: which one, and its parameters. The words for it are made at the edge (`receiving.wording`)."""

import json
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


Plain = dict[str, Any] | list[Any] | str | int | float | bool | None
"""What JSON can hold."""


class StoredMessage:
    """What a person was told, as it is stored: made by `receiving.wording.to_stored`, read by `from_stored`.

    Not a dataclass, so that the store takes its value as it is.
    """

    __slots__ = ("_text", "plain")

    def __init__(self, plain: Plain) -> None:
        self.plain = plain
        self._text = json.dumps(plain, ensure_ascii=False)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, StoredMessage) and self._text == other._text

    def __hash__(self) -> int:
        return hash(self._text)

    def __repr__(self) -> str:
        return f"StoredMessage({self._text})"
