"""The language of a page: the one that its reader chose, or that the browser asks for; templates say messages in it."""

from flask import Flask, g, has_request_context, request

from receiving.language import LANGUAGES, best_language, language_of
from receiving.messages import ENGLISH, Joined, Listing, Message, Opening, Speaker, Text

LANGUAGE_COOKIE = "language"
_TOLD = (Message, Joined, Listing, Opening)


def set_up(app: Flask) -> None:
    """Let templates say messages, and name the language of the page."""
    app.jinja_env.finalize = spoken
    app.jinja_env.globals["speaker"] = speaker
    app.jinja_env.filters["first_up"] = Opening


def speaker() -> Speaker:
    """The language of this request; English outside of one."""
    if not has_request_context():
        return ENGLISH
    if "speaker" not in g:
        wanted = (request.cookies.get(LANGUAGE_COOKIE, ""), *(tag for tag, _ in request.accept_languages))
        g.speaker = language_of(best_language(wanted, of=LANGUAGES))
    found: Speaker = g.speaker
    return found


def spoken(value: object) -> object:
    """A message in the language of the page; anything else as it is."""
    return speaker().say(value) if isinstance(value, _TOLD) else value


def say(told: Text) -> str:
    """A message in the language of this request, for what is no template's."""
    return speaker().say(told)
