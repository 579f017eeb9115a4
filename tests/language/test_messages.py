"""Messages in a language: its own templates, plurals, lists, numbers and days; English where a template is missing."""

from datetime import UTC, date, datetime
from enum import Enum
from gettext import GNUTranslations
from io import BytesIO

import pytest
from babel.messages.catalog import Catalog
from babel.messages.mofile import write_mo

from receiving.errors import NotFound
from receiving.language.choosing import best_language, environment_tags
from receiving.language.speaking import Language, language_of
from receiving.messages import ENGLISH, joined, listing, message, opening, plural
from receiving.model import CartonKind, CartonState, FollowUp, HandOver, OverReason, Place, RequestReason, SizeClass
from receiving.wording import term


def language(code: str, **translations: str) -> Language:
    """A language that knows these templates, with `plural(n, "{number} box", "{number} boxes")` in all its forms."""
    catalogue = Catalog(locale=code)
    for text, translated in translations.items():
        catalogue.add(text, translated)
    boxes = {"es": ("{number} caja", "{number} cajas"), "pl": ("{number} pudło", "{number} pudła", "{number} pudeł")}
    catalogue.add(("{number} box", "{number} boxes"), boxes[code])
    compiled = BytesIO()
    write_mo(compiled, catalogue)
    compiled.seek(0)
    return Language(code, GNUTranslations(compiled))


@pytest.mark.parametrize(
    ("number", "expected"), [(1, "1 pudło"), (2, "2 pudła"), (5, "5 pudeł"), (22, "22 pudła"), (0, "0 pudeł")]
)
def test_a_language_with_three_plurals_has_all_three(number: int, expected: str) -> None:
    # The plural rule of Polish: Unicode CLDR, Language Plural Rules, one / few / many.
    assert language("pl").say(plural(number, "{number} box", "{number} boxes")) == expected


def test_lists_numbers_and_days_follow_the_language() -> None:
    spanish = language("es")
    assert spanish.say(listing(("01", "02", "03"))) == "01, 02 y 03"
    assert spanish.say(listing(("01", "02"), choice=True)) == "01 o 02"
    assert spanish.say(12.5) == "12,5"
    assert spanish.say(date(2026, 3, 4)) == "mié, 4 mar 2026"
    assert spanish.say(datetime(2026, 3, 4, 14, 5, tzinfo=UTC)) == "mié, 4 mar 2026, 14:05 UTC"


def test_messages_within_messages_are_said_in_the_same_language() -> None:
    spanish = language("es", **{"at {place}": "en {place}", "the dock": "el muelle"})
    sentence = message("at {place}", place=message("the dock"))
    assert spanish.say(sentence) == "en el muelle"
    assert spanish.say(joined(opening(sentence), message("Seen."))) == "En el muelle Seen."


def test_what_a_person_wrote_is_data_and_no_template() -> None:
    assert ENGLISH.say(message("Remark: {remark}", remark="{oops} 100 %")) == "Remark: {oops} 100 %"


def test_english_counts_one_and_any_other_number() -> None:
    sentences = [str(plural(number, "{number} box", "{number} boxes")) for number in (0, 1, 2)]
    assert sentences == ["0 boxes", "1 box", "2 boxes"]


def test_a_language_without_a_catalogue_is_refused_with_those_there_are() -> None:
    with pytest.raises(NotFound, match=r"There is no language 'tlh' here\. Choose one of these: en"):
        language_of("tlh")


@pytest.mark.parametrize(
    ("wanted", "best"),
    [(["es-MX", "en"], "es"), (["", "fr-CA"], "fr"), (["de", "fr"], "fr"), ([], "en"), (["C.UTF-8"], "en")],
)
def test_the_first_language_that_there_is_of_those_wanted(wanted: list[str], best: str) -> None:
    assert best_language(wanted, of=("en", "es", "fr")) == best


def test_the_environment_names_languages_in_the_order_of_gettext() -> None:
    # gettext(3): LANGUAGE, then LC_ALL, LC_MESSAGES, LANG.
    given = {"LANG": "en_GB.UTF-8", "LC_MESSAGES": "fr_FR", "LANGUAGE": "es:pt"}
    assert environment_tags(given) == ("es", "pt", "fr_FR", "en_GB.UTF-8")


@pytest.mark.parametrize(
    "terms", [CartonKind, CartonState, FollowUp, HandOver, OverReason, Place, RequestReason, SizeClass]
)
def test_every_value_that_a_person_reads_has_a_term(terms: type[Enum]) -> None:
    words = [str(term(value)) for value in terms]
    assert all(words) and len(set(words)) == len(words)
