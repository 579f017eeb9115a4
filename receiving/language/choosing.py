"""Which language a reader wants: what was chosen, then what the browser or the environment asks for, then English."""

from collections.abc import Iterable, Mapping

LANGUAGES = ("en", "es", "fr")
"""The languages whose catalogues are whole, the one of the templates first."""


def best_language(wanted: Iterable[str], *, of: Iterable[str]) -> str:
    """The first of the tags ``wanted`` (BCP 47 or POSIX, best first) that there is a catalogue for.

    A tag is matched by its language, whatever the country: RFC 4647, section 3.4, lookup.

    >>> best_language(["de-AT", "es-MX", "en"], of=("en", "es")), best_language(["fr_CA.UTF-8"], of=("en", "fr"))
    ('es', 'fr')
    >>> best_language(["tlh"], of=("en", "es"))
    'en'
    """
    languages = tuple(of)
    for tag in wanted:
        short = tag.replace("_", "-").split(".")[0].split("-")[0].lower()
        if short in languages:
            return short
    return languages[0]


def environment_tags(environment: Mapping[str, str]) -> tuple[str, ...]:
    """The language tags of a process, best first: LANGUAGE, LC_ALL, LC_MESSAGES, LANG, as gettext(3) has it.

    >>> environment_tags({"LANG": "es_MX.UTF-8", "LANGUAGE": "fr:es"})
    ('fr', 'es', 'es_MX.UTF-8')
    """
    first = environment.get("LANGUAGE", "").split(":")
    return tuple(tag for tag in (*first, *(environment.get(n, "") for n in ("LC_ALL", "LC_MESSAGES", "LANG"))) if tag)
