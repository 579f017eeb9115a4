"""While these tests run, every fault, warning and reason that the room finds is a message and no finished sentence."""

import re
from collections.abc import Iterator
from typing import Any

import pytest

from receiving.errors import Fault
from receiving.expected.results import NotUnderstood
from receiving.messages import Figure, Joined, Listing, Message, Opening

SENTENCE = re.compile(r"[a-z]{2,} [a-z]{2,} [a-z]{2,}")
"""Three words of small letters: a value that is data of these tests has no such thing."""


def bare(shown: object) -> Iterator[str]:
    """The texts in a message that no catalogue can translate."""
    match shown:
        case Message(_, values):
            for name, value in values:
                if name != LIBRARY or not isinstance(value, str):
                    yield from bare(value)
        case Listing(parts) | Joined(parts):
            for part in parts:
                yield from bare(part)
        case Opening(of):
            yield from bare(of)
        case Figure():
            return
        case str() if SENTENCE.search(shown):
            yield shown


LIBRARY = "fault"
"""What a library says of a file that it cannot open stands in a message under this name, in the library's words."""


def is_translatable(value: object) -> bool:
    """A message, and nothing in it is a sentence of its own."""
    return isinstance(value, Message | Joined | Opening) and not list(bare(value))


@pytest.fixture(scope="module", autouse=True)
def everything_is_translatable() -> Iterator[None]:
    with pytest.MonkeyPatch.context() as patch:
        for kind, name in ((Fault, "message"), (NotUnderstood, "why")):
            _watch(patch, kind, name)
        yield


def _watch(patch: pytest.MonkeyPatch, kind: Any, name: str) -> None:
    def checked(self: Any, *values: Any, **more: Any) -> None:
        made(self, *values, **more)
        value = getattr(self, name)
        assert is_translatable(value), f"bare words: {value!r}"

    made = kind.__init__
    patch.setattr(kind, "__init__", checked)
