"""A part of a page that many phones follow: whole to whoever comes first, then what changed in it.

With the part a phone gets its mark, and asks with that mark the next time. At 400 cartons a scan changes 2 kB of
187 kB.
"""

import hashlib
import json
from collections.abc import Callable

from flask import Response, jsonify, make_response, request
from markupsafe import escape

from web.deltas import Piece, delta
from web.frame import TOKEN_HERE, Page, setting, shared_html
from web.protection import form_token

HELD, MARK = "X-Held", "X-Mark"


def render_followed(name: str, version: str, make: Callable[[], tuple[str, Page]]) -> Response:
    """The part with its mark; or, to a phone that holds an earlier one, JSON with ``mark``, ``pieces`` and ``lines``.

    ``pieces`` are those of `web.deltas`, ``lines`` how many lines they make.
    """
    html, token = shared_html(name, version, make), str(escape(form_token()))
    mark = _digest(html)
    setting().followed.put(mark, "", html)
    whole_mark = f"{mark}.{_digest(token)}"
    held, _, of_token = request.headers.get(HELD, "").partition(".")
    old = setting().followed.get(held, "") if of_token == _digest(token) else None
    if old is None:
        response = make_response(html.replace(TOKEN_HERE, token))
    else:
        pieces = [each.replace(TOKEN_HERE, token) if isinstance(each, str) else each for each in _pieces(old, html)]
        response = jsonify(mark=whole_mark, pieces=pieces, lines=html.count("\n") + 1)
    response.headers[MARK] = whole_mark
    return response


def _pieces(old: str, new: str) -> list[Piece]:
    """What changed, worked out once for all phones that hold the same."""
    name, kept = f"{_digest(old)} {_digest(new)}", setting().followed
    text = kept.get(name, "")
    if text is None:
        text = json.dumps(delta(old, new))
        kept.put(name, "", text)
    pieces: list[Piece] = json.loads(text)
    return pieces


def _digest(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()[:16]
