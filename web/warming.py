"""What the first requests would wait for, done before the service listens to anybody.

A first scan took 130 ms of CPU for libraries and templates that are loaded when they are first used, and a search of
the collector through all of them 40 ms: thirteen phones that scan once a second wait behind each.
"""

import gc
from datetime import UTC, datetime

from flask import Flask

from receiving import service
from receiving.language import language_of
from receiving.messages import joined, listing, plural
from web.speech import languages

A_BIT_OF_ALL = joined(
    plural(2, "{number} carton", "{number} cartons"), listing((1.5, 2.5, datetime(2026, 1, 1, tzinfo=UTC)))
)
"""What a language looks up when it first says a message, a list, a number, a day and a time."""

COLLECT_AFTER = (10_000, 20, 20)
"""New objects before the young are searched, and how often that is done before the older ones are (module gc)."""


def warm(app: Flask) -> None:
    """Compile every template, load every use case, what interprets a label, and what says pages in each language."""
    for name in vars(service)["__all__"]:  # each is imported when it is first used
        getattr(service, name)
    for name in app.jinja_env.list_templates():
        app.jinja_env.get_template(name)
    for each in languages():
        language_of(each.code).say(A_BIT_OF_ALL)
    service.load_interpreters()


def set_apart_what_stays() -> None:
    """Let the collector search only what comes from now on, and less often.

    What is loaded by now stays until the end, and requests leave hardly any cycles.
    """
    gc.collect()
    gc.freeze()
    gc.set_threshold(*COLLECT_AFTER)
