"""A part of a page that many phones follow: whole to whoever comes first, then what changed in it.

With the part a phone gets its mark, and asks with that mark the next time. At 400 cartons a scan changes 2 kB of
187 kB.
"""

import hashlib
import json
from collections.abc import Callable
from functools import lru_cache

from flask import Response, make_response, request
from markupsafe import escape

from web.deltas import delta
from web.frame import MOST_PARTS, TOKEN_HERE, Page, setting, shared_html
from web.protection import form_token

HELD, MARK = "X-Held", "X-Mark"


def render_followed(name: str, version: str, make: Callable[[], tuple[str, Page]]) -> Response:
    """The part with its mark; or, to a phone that holds an earlier one, JSON with ``mark``, ``pieces`` and ``lines``.

    ``pieces`` are those of `web.deltas`, ``lines`` how many lines they make.
    """
    html, token = shared_html(name, version, make), str(escape(form_token()))
    mark, lines = _described(html)
    setting().followed.put(mark, "", html)
    whole_mark = f"{mark}.{_digest(token)}"
    held, _, of_token = request.headers.get(HELD, "").partition(".")
    old = setting().followed.get(held, "") if of_token == _digest(token) else None
    if old is None:
        response = make_response(html.replace(TOKEN_HERE, token))
    else:
        pieces = _pieces(held, old, mark, html).replace(TOKEN_HERE, json.dumps(token)[1:-1])
        text = f'{{"lines":{lines},"mark":"{whole_mark}","pieces":{pieces}}}\n'
        response = Response(text, mimetype="application/json")
    response.headers[MARK] = whole_mark
    return response


def _pieces(held: str, old: str, mark: str, new: str) -> str:
    """What changed, as JSON, worked out once for all phones that hold the same."""
    name, kept = f"{held} {mark}", setting().followed
    text = kept.get(name, "")
    if text is None:
        text = json.dumps(delta(old, new))
        kept.put(name, "", text)
    return text


@lru_cache(maxsize=MOST_PARTS)
def _described(html: str) -> tuple[str, int]:
    """The mark of a part and the number of its lines: of 400 cartons a third of a millisecond, once for all phones."""
    return _digest(html), html.count("\n") + 1


def _digest(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()[:16]
