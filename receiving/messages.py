"""What a person is told, before it is in any language: a template of the catalogues and the values that stand in it.

Templates are written in English and are the keys of the catalogues, as gettext has it (GNU gettext manual, chapter 4);
the values keep their types until a page, a command or a paper says them, so that plurals, lists, numbers and dates
follow the reader's language and not the writer's. Who makes a message knows no language; `receiving.language` does.

>>> str(message("Carton {carton} is at {place}.", carton="07", place=message("the dock")))
'Carton 07 is at the dock.'
>>> str(plural(2, "{number} carton", "{number} cartons"))
'2 cartons'
>>> str(message("Cartons {cartons} fit.", cartons=Listing(("01", "02", "03"))))
'Cartons 01, 02 and 03 fit.'
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime


@dataclass(frozen=True, slots=True)
class Message:
    """A template and its values by name; ``several`` is the template for any ``number`` but one."""

    text: str
    values: tuple[tuple[str, object], ...] = ()
    several: str = ""
    number: int = 1

    def filled(self, **values: object) -> "Message":
        """The same template with these values, for one that stands in a table of templates."""
        return Message(self.text, tuple(values.items()), self.several, self.number)

    def __str__(self) -> str:
        return ENGLISH.say(self)


@dataclass(frozen=True, slots=True)
class Listing:
    """Things that a sentence lists, in order; with ``choice`` one of them is meant."""

    items: tuple[object, ...]
    choice: bool = False

    def __bool__(self) -> bool:
        return bool(self.items)

    def __str__(self) -> str:
        return ENGLISH.say(self)


@dataclass(frozen=True, slots=True)
class Joined:
    """Whole messages side by side, as sentences are; what says nothing is left out."""

    parts: tuple[object, ...]
    separator: str = " "

    def __bool__(self) -> bool:
        return any(self.parts)

    def __str__(self) -> str:
        return ENGLISH.say(self)


@dataclass(frozen=True, slots=True)
class Opening:
    """A message as the beginning of a sentence or of a line: its first letter is a capital."""

    of: object

    def __bool__(self) -> bool:
        return bool(self.of)

    def __str__(self) -> str:
        return ENGLISH.say(self)


@dataclass(frozen=True, slots=True)
class Figure:
    """A number that is written with its thousands set apart, and with this many decimals."""

    value: float
    decimals: int = 0

    def __str__(self) -> str:
        return ENGLISH.say(self)


@dataclass(frozen=True, slots=True)
class Day:
    """A day of the calendar with its weekday; the year is left out where it is the reader's own."""

    value: date
    year: bool = False

    def __str__(self) -> str:
        return ENGLISH.say(self)


@dataclass(frozen=True, slots=True)
class TimeOfDay:
    """A time of the day with its zone."""

    value: datetime

    def __str__(self) -> str:
        return ENGLISH.say(self)


Text = str | Message | Joined | Opening | Listing | Figure | Day | TimeOfDay
"""What a page, a command or a paper can say: data as it is, or a message."""


def message(text: str, /, **values: object) -> Message:
    """The template ``text`` with its values; the extraction of the catalogues looks for this name."""
    return Message(text, tuple(values.items()))


def plural(number: int, one: str, several: str, /, **values: object) -> Message:
    """The template for this number, which is the value ``number``; languages with more plurals have theirs."""
    return Message(one, (("number", number), *values.items()), several, number)


def joined(*parts: object, separator: str = " ") -> Joined:
    """Messages side by side."""
    return Joined(parts, separator)


def opening(of: object) -> Opening:
    """A message as the beginning of a sentence or of a line."""
    return Opening(of)


def listing(items: Iterable[object], *, choice: bool = False) -> Listing:
    """Things as a sentence lists them: all of them, or with ``choice`` one of them."""
    return Listing(tuple(items), choice)


def figure(value: float, decimals: int = 0) -> Figure:
    """A number as a reader's language writes it: thousands set apart, this many decimals.

    >>> str(figure(12500)), str(figure(1.25, 1))
    ('12,500', '1.2')
    """
    return Figure(value, decimals)


def day_seen(day: date, today: date) -> Day:
    """A day as it is said on another one: with its year where that is not the same.

    >>> str(day_seen(date(2026, 3, 4), date(2026, 3, 1))), str(day_seen(date(2027, 3, 4), date(2026, 3, 1)))
    ('Wed 4 Mar', 'Thu 4 Mar 2027')
    """
    return Day(day, year=day.year != today.year)


def time_seen(at: datetime, now: datetime) -> TimeOfDay | Joined:
    """A time as it is said at another one, in whose zone it is given: with its day where that is not the same.

    >>> from datetime import UTC
    >>> str(time_seen(datetime(2026, 3, 4, 14, 5, tzinfo=UTC), datetime(2026, 3, 5, 9, 0, tzinfo=UTC)))
    'Wed 4 Mar, 14:05 UTC'
    """
    local = at.astimezone(now.tzinfo)
    if local.date() == now.date():
        return TimeOfDay(local)
    return Joined((day_seen(local.date(), now.date()), TimeOfDay(local)), ", ")


def first_up(text: str) -> str:
    """The text with its first letter as a capital; the rest stays.

    >>> first_up("SSCC 1"), first_up("it fits")
    ('SSCC 1', 'It fits')
    """
    return text[:1].upper() + text[1:]


class Speaker:
    """Says messages in English, the language that their templates are written in; other languages build on it.

    ``code`` is the language's tag (BCP 47), ``name`` what it calls itself.
    """

    code = "en"
    name = "English"

    def say(self, wording: object) -> str:
        """The text of a message or of one value in it."""
        match wording:
            case Message():
                return self.template(wording).format(**{name: self.say(value) for name, value in wording.values})
            case Listing(items, choice):
                return self.listing([self.say(item) for item in items], choice=choice)
            case Joined(parts, separator):
                return self.separator(separator).join(filter(None, map(self.say, parts)))
            case Opening(of):
                return first_up(self.say(of))
            case Figure(value, decimals):
                return self.figure(value, decimals)
            case Day(value, year):
                return self.day(value, year=year)
            case TimeOfDay(value):
                return self.time(value)
            case datetime():
                return self.moment(wording)
            case date():
                return self.day(wording)
            case float():
                return self.number(wording)
            case Exception():
                words = getattr(wording, "words", None)  # an error of ours says itself, inside of others too
                return str(wording) if words is None else self.say(words)
        return str(wording)

    def template(self, wording: Message) -> str:
        """The template in this language, for the message's number."""
        return wording.several if wording.several and wording.number != 1 else wording.text

    def listing(self, items: list[str], *, choice: bool) -> str:
        """Texts as a sentence lists them."""
        if len(items) < 2:
            return "".join(items)
        return f"{', '.join(items[:-1])} {'or' if choice else 'and'} {items[-1]}"

    def separator(self, between: str) -> str:
        """What stands between texts side by side, as this language sets it."""
        return between

    def number(self, value: float) -> str:
        """A number as it is, without zeros that say nothing."""
        return f"{value:g}"

    def figure(self, value: float, decimals: int) -> str:
        """A number with its thousands set apart."""
        return f"{value:,.{decimals}f}"

    def day(self, value: date, *, year: bool = True) -> str:
        """A day of the calendar with its weekday."""
        return f"{value:%a} {value.day} {value:%b}" + (f" {value.year}" if year else "")

    def time(self, value: datetime) -> str:
        """A time of the day with its zone."""
        return f"{value:%H:%M %Z}".rstrip()

    def moment(self, value: datetime) -> str:
        """A day and a time with its zone."""
        return f"{self.day(value)}, {self.time(value)}"


ENGLISH = Speaker()
