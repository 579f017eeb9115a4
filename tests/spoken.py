"""What a person reads of a result, as text in English; and results that read as a test wants them."""

from dataclasses import fields, is_dataclass, replace
from enum import Enum
from types import NoneType, UnionType
from typing import Any, Union, get_args, get_origin, get_type_hints

from receiving.matching import Reason
from receiving.messages import Joined, Listing, Message, Opening
from receiving.model import CartonFinding, Duplicate, Explanation, Fact, Over, Question, Unclear, fact
from receiving.wording import finding_words, whose_words, words_of


def in_words(of: CartonFinding | Duplicate | Explanation | Over | Question | Unclear) -> str:
    """Its reason in words; of an over, whose it is."""
    if isinstance(of, CartonFinding):
        return str(finding_words(of))
    return str(whose_words(of) if isinstance(of, Over) else words_of(of.why))


def verbatim(text: str) -> Fact:
    """A reason that reads like this."""
    return fact(Reason.FAULTY_DATA, fault=text)


def in_english(value: Any) -> Any:
    """The value with every message in it as its English text, however deep it stands."""
    if isinstance(value, Message | Joined | Listing | Opening):
        return str(value)
    if isinstance(value, tuple):
        return tuple(map(in_english, value))
    if is_dataclass(value) and not isinstance(value, type):
        changed = {f.name: in_english(getattr(value, f.name)) for f in fields(value) if f.init}
        return replace(value, **changed)
    return value


def built(kind: Any, plain: Any) -> Any:
    """A value of dataclasses, tuples and enums from plain JSON; what may be a message is the text that stands there."""
    choices = get_args(kind) if get_origin(kind) in (Union, UnionType) else ()
    if plain is None or (isinstance(plain, str) and (str in choices or kind is str)):
        return plain
    if choices:
        return built(next(each for each in choices if each is not NoneType), plain)
    if get_origin(kind) is tuple:
        inner = get_args(kind)
        kinds = [inner[0]] * len(plain) if inner[-1] is Ellipsis else list(inner)
        return tuple(built(each, value) for each, value in zip(kinds, plain, strict=True))
    if is_dataclass(kind):
        hints = get_type_hints(kind)
        return kind(**{name: built(hints[name], value) for name, value in plain.items()})  # type: ignore[operator]
    return kind(plain) if isinstance(kind, type) and issubclass(kind, Enum) else plain
