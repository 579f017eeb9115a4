"""The language of a page: the one that its reader chose, or that the browser asks for; templates say messages in it."""

from dataclasses import dataclass
from datetime import date
from functools import lru_cache

from flask import Flask, Response, g, has_request_context, request
from markupsafe import Markup

from receiving.language import LANGUAGES, best_language, language_name, language_of
from receiving.messages import ENGLISH, Day, Figure, Joined, Listing, Message, Opening, Speaker, Text, TimeOfDay
from web.access import cookie_name

LANGUAGE_COOKIE = "language"
MOST_TEXTS = 8_000
"""Texts of templates that are held ready, of all languages together."""

OF_PROGRAMS = "/api/"
"""Under this address other programs ask."""

_SPOKEN = (Message, Joined, Listing, Opening, Figure, Day, TimeOfDay, date)


def set_up(app: Flask) -> None:
    """Let templates say messages, have words of their own in `{% trans %}` and `_()`, and name the page's language."""
    app.jinja_env.add_extension("jinja2.ext.i18n")
    app.jinja_env.policies["ext.i18n.trimmed"] = True
    app.jinja_env.newstyle_gettext = True  # type: ignore[attr-defined]
    app.jinja_env.globals.update(gettext=_translated, ngettext=_counted, _=_translated)
    app.jinja_env.finalize = spoken
    app.jinja_env.globals.update(speaker=speaker, languages=languages)
    app.after_request(_add_headers)
    app.jinja_env.filters["first_up"] = Opening


def speaker() -> Speaker:
    """The language of this request; English outside of one and for other programs, whose answers are to be stable."""
    if not has_request_context() or request.path.startswith(OF_PROGRAMS):
        return ENGLISH
    found: Speaker | None = g.get("speaker")
    if found is None:
        wanted = (request.cookies.get(cookie_name(LANGUAGE_COOKIE), ""), *(tag for tag, _ in request.accept_languages))
        found = g.speaker = language_of(best_language(wanted, of=LANGUAGES))
    return found


@dataclass(frozen=True)
class Offered:
    """A language that a reader may choose, with what it calls itself."""

    code: str
    name: str


def languages() -> tuple[Offered, ...]:
    """The languages that a reader may choose; none where there is one alone."""
    return tuple(Offered(code, language_name(code)) for code in LANGUAGES) if len(LANGUAGES) > 1 else ()


def _add_headers(response: Response) -> Response:
    """Which language this is in, and that another reader may get another one (RFC 9110, 8.5 and 12.5.5)."""
    if "speaker" in g:
        response.content_language.add(g.speaker.code)
        response.vary.update(("Accept-Language", "Cookie"))
    return response


def _translated(text: str, /, **values: object) -> Markup:
    """A template's text in the language of the page. It may hold marks of HTML; its values are escaped."""
    return _filled(speaker().template(Message(text)), values) if values else _without_values(speaker(), text)


def _counted(one: str, several: str, number: int, /, **values: object) -> Markup:
    """The same in the plural that the number asks for."""
    return _filled(speaker().template(Message(one, several=several, number=number)), {"num": number, **values})


@lru_cache(MOST_TEXTS)
def _without_values(language: Speaker, text: str) -> Markup:
    """Most texts of a page have no values: each is looked up and marked as HTML once for its language."""
    return _filled(language.template(Message(text)), {})


def _filled(text: str, values: dict[str, object]) -> Markup:
    return Markup(text) % {name: spoken(value) for name, value in values.items()}  # nosec B704: a template or its translation


def spoken(value: object) -> object:
    """A message in the language of the page; anything else as it is."""
    return speaker().say(value) if isinstance(value, _SPOKEN) else value


def say(words: Text) -> str:
    """A message in the language of this request, for what is not a template's."""
    return speaker().say(words)
