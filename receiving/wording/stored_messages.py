"""A message that is stored: template and values as JSON can hold them, so that it is said later in any language.

What was said once in one language cannot be said in another; what it was made of can. Values keep what decides how a
language writes them (days, moments, numbers, lists, messages); any other value is kept as its text.

>>> from receiving.messages import message
>>> kept = to_stored(message("Carton {carton} is at {place}.", carton="07", place=message("the dock")))
>>> kept.plain
{'text': 'Carton {carton} is at {place}.', 'values': {'carton': '07', 'place': {'text': 'the dock'}}}
>>> str(from_stored(kept))
'Carton 07 is at the dock.'
"""

import json
from datetime import date, datetime
from typing import Any

from receiving.messages import Day, Figure, Joined, Listing, Message, Opening, Text, TimeOfDay
from receiving.model import ShownLine, StoredMessage
from receiving.model.facts import Plain


def to_stored(wording: Text) -> StoredMessage:
    """The message as it is stored."""
    return StoredMessage(as_plain(wording))


def from_stored(kept: StoredMessage) -> Text:
    """The message that was stored. Raises ValueError for what is not one."""
    stated = from_plain(kept.plain)
    if isinstance(stated, Text):
        return stated
    raise ValueError(f"{kept.plain!r} is not a stored message")


def to_stored_text(wording: Text) -> str:
    """The message as a column of text holds it; data stays as it is."""
    return wording if isinstance(wording, str) else json.dumps(as_plain(wording), ensure_ascii=False)


def stored_words(stored: str) -> Text:
    """What `to_stored_text` wrote, or a sentence that was stored in English, which is its own template.

    >>> from receiving.messages import message
    >>> str(stored_words(to_stored_text(message("{number} s", number=3)))), str(stored_words("The photo is too dark."))
    ('3 s', 'The photo is too dark.')
    >>> str(stored_words("A bracket } alone."))
    'A bracket } alone.'
    """
    if "{" not in stored and "}" not in stored:
        return Message(stored) if stored else ""
    try:
        return from_stored(StoredMessage(json.loads(stored)))
    except ValueError:
        return stored


def line_words(line: ShownLine) -> Text:
    """A line of a receipt for whoever says it in a language; in English alone where an earlier version stored it."""
    return from_stored(line.said) if line.said else line.words


def as_plain(wording: object) -> Plain:
    """A message or one value in it as JSON can hold it."""
    match wording:
        case Message(text, values, several, number):
            plain: dict[str, Any] = {"text": text}
            if values:
                plain["values"] = {name: as_plain(value) for name, value in values}
            return {**plain, "several": several, "number": number} if several else plain
        case Listing(items, choice):
            return {"choice" if choice else "list": [as_plain(item) for item in items]}
        case Joined(parts, separator):
            return {"joined": [as_plain(part) for part in parts], "separator": separator}
        case Opening(of):
            return {"opening": as_plain(of)}
        case Figure(value, decimals):
            return {"figure": value, "decimals": decimals}
        case Day(value, year):
            return {"weekday": value.isoformat(), "year": year}
        case TimeOfDay(value):
            return {"time": value.isoformat()}
        case datetime():  # before `date`, which it is as well
            return {"moment": wording.isoformat()}
        case date():
            return {"day": wording.isoformat()}
        case Exception():
            words = getattr(wording, "words", None)
            return str(wording) if words is None else as_plain(words)
        case bool() | int() | float() | None:
            return wording
    return str(wording)


def from_plain(plain: Any) -> object:
    """What `as_plain` wrote. Raises ValueError for what it did not."""
    match plain:
        case {"text": str(text)}:
            values = tuple((name, from_plain(value)) for name, value in plain.get("values", {}).items())
            return Message(text, values, plain.get("several", ""), plain.get("number", 1))
        case {"list": list(items)}:
            return Listing(tuple(map(from_plain, items)))
        case {"choice": list(items)}:
            return Listing(tuple(map(from_plain, items)), choice=True)
        case {"joined": list(parts), "separator": str(separator)}:
            return Joined(tuple(map(from_plain, parts)), separator)
        case {"opening": of}:
            return Opening(from_plain(of))
        case {"figure": int(value) | float(value), "decimals": int(decimals)}:
            return Figure(value, decimals)
        case {"weekday": str(text), "year": bool(year)}:
            return Day(date.fromisoformat(text), year)
        case {"time": str(text)}:
            return TimeOfDay(datetime.fromisoformat(text))
        case {"moment": str(text)}:
            return datetime.fromisoformat(text)
        case {"day": str(text)}:
            return date.fromisoformat(text)
        case str() | bool() | int() | float() | None:
            return plain
    raise ValueError(f"{plain!r} is not a stored message")
