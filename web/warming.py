"""What the first requests would wait for, done before the service listens to anybody.

A first scan took 130 ms of CPU for libraries and templates that are loaded when they are first used, and a search of
the collector through all of them 40 ms: thirteen phones that scan once a second wait behind each.
"""

import gc

from flask import Flask

from receiving import service

COLLECT_AFTER = (10_000, 20, 20)
"""New objects before the young are searched, and how often that is done before the older ones are (module gc)."""


def warm(app: Flask) -> None:
    """Compile every template, and load what interprets a label."""
    for name in app.jinja_env.list_templates():
        app.jinja_env.get_template(name)
    service.load_interpreters()


def set_apart_what_stays() -> None:
    """Let the collector search only what comes from now on, and less often.

    What is loaded by now stays until the end, and requests leave hardly any cycles.
    """
    gc.collect()
    gc.freeze()
    gc.set_threshold(*COLLECT_AFTER)
