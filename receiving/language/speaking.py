"""A language says messages: templates from its catalogue, lists, numbers and times by its locale (CLDR, by Babel)."""

from datetime import date, datetime
from functools import cache
from gettext import GNUTranslations, NullTranslations
from importlib.resources import files
from io import BytesIO

from babel import Locale
from babel.dates import format_skeleton, format_time
from babel.lists import format_list
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po
from babel.numbers import format_decimal

from receiving.errors import NotFound
from receiving.language.choosing import LANGUAGES
from receiving.messages import ENGLISH, Message, Speaker, first_up


class Language(Speaker):
    """One language beside English: its catalogue, and its locale."""

    def __init__(self, code: str, catalogue: NullTranslations) -> None:
        self.code = code
        self.locale = Locale.parse(code)
        self.name = language_name(code)
        self._catalogue = catalogue

    def template(self, words: Message) -> str:
        """The template in this language; in English where the catalogue has none."""
        if words.several:
            return self._catalogue.ngettext(words.text, words.several, words.number)
        return self._catalogue.gettext(words.text)

    def listing(self, items: list[str], *, choice: bool) -> str:
        """Texts as this language lists them."""
        return format_list(items, "or" if choice else "standard", self.locale)

    def separator(self, between: str) -> str:
        """What stands between texts; in French a space that does not break goes before a colon and a semicolon."""
        return f"\u00a0{between}" if self.code == "fr" and between[:1] in (":", ";") else between

    def number(self, value: float) -> str:
        """A number with this language's decimal sign."""
        return format_decimal(value, "#.###", self.locale)

    def figure(self, value: float, decimals: int) -> str:
        """A number as this language groups it."""
        pattern = "#,##0" + (f".{'0' * decimals}" if decimals else "")
        return format_decimal(value, pattern, self.locale)

    def day(self, value: date, *, year: bool = True) -> str:
        """A day of the calendar with its weekday."""
        skeleton = "yMMMEd" if year else "MMMEd"
        return format_skeleton(skeleton, datetime(value.year, value.month, value.day), locale=self.locale)

    def time(self, value: datetime) -> str:
        """A time of the day with its zone."""
        return f"{format_time(value, 'HH:mm', locale=self.locale)} {value:%Z}".rstrip()


@cache
def language_name(code: str) -> str:
    """What the language with this tag calls itself.

    >>> language_name("es"), language_name("en")
    ('Español', 'English')
    """
    return first_up(Locale.parse(code).language_name or code)


@cache
def language_of(code: str) -> Speaker:
    """The language with this tag.

    Raises NotFound where it has no catalogue.
    """
    if code not in LANGUAGES:
        choice = f"Choose one of these: {', '.join(LANGUAGES)}."
        raise NotFound(f"There is no language {code!r} here.", next_step=choice)
    return Language(code, _catalogue(code)) if code != LANGUAGES[0] else ENGLISH


def _catalogue(code: str) -> NullTranslations:
    """The catalogue of this language, compiled in memory; templates that are unsure ("fuzzy") are left in English."""
    compiled = BytesIO()
    with (files(__package__) / "catalogues" / f"{code}.po").open("rb") as written:
        write_mo(compiled, read_po(written, locale=code))
    compiled.seek(0)
    return GNUTranslations(compiled)
