"""A part of a page that many phones follow: whole to whoever comes first, then what changed in it.

With the part a phone gets its mark, and asks with that mark the next time. At 400 cartons a scan changes 2 kB of
187 kB.
"""

import hashlib
import json
from collections import Counter
from collections.abc import Callable
from functools import lru_cache
from itertools import pairwise

from flask import Response, make_response, request
from markupsafe import escape

from web.frame import MOST_PARTS, TOKEN_HERE, Page, setting, shared_html
from web.protection import form_token

HELD, MARK = "X-Held", "X-Mark"


def render_followed(name: str, version: str, make: Callable[[], tuple[str, Page]]) -> Response:
    """The part with its mark; or, to a phone that holds an earlier one, JSON with ``mark``, ``pieces`` and ``lines``.

    ``pieces`` are those of `delta`, ``lines`` how many lines they make.
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


# What changed between two texts, as lines to copy and lines that are new.
#
# The receiver holds the old text, and copies runs of its lines by number; a run begins at a line that stands once in
# the old text, and takes in the equal lines on both sides of it (as the block matching of rsync does: Tridgell,
# "Efficient Algorithms for Sorting and Synchronization", 1999, chapter 3). Time grows with the number of lines.

Piece = list[int] | str
"""``[first, count]`` lines of the old text, counted from 0; or new lines, joined by line feeds."""


def delta(old: str, new: str) -> list[Piece]:
    r"""The pieces that make the new text of the old one.

    >>> delta("a\nb\nc", "a\nx\nc")
    [[0, 1], 'x', [2, 1]]
    """
    before, after = old.split("\n"), new.split("\n")
    return _joined(_runs(before, after), before, after)


def _runs(before: list[str], after: list[str]) -> list[tuple[int, int, int]]:
    """Runs of equal lines: place in the old ones, place in the new ones, count; in the new order, none overlapping."""
    counts = Counter(before)
    place = {line: number for number, line in enumerate(before) if counts[line] == 1}
    runs: list[tuple[int, int, int]] = []
    at = taken = 0
    while at < len(after):
        found = place.get(after[at])
        if found is None:
            at += 1
            continue
        start, first = at, found
        while start > taken and first > 0 and before[first - 1] == after[start - 1]:
            start, first = start - 1, first - 1
        end, last = at, found
        while end < len(after) and last < len(before) and before[last] == after[end]:
            end, last = end + 1, last + 1
        runs.append((first, start, end - start))
        at = taken = end
    return runs


def _joined(runs: list[tuple[int, int, int]], before: list[str], after: list[str]) -> list[Piece]:
    """The runs with the new lines between them."""
    edges = [(0, 0, 0), *runs, (len(before), len(after), 0)]
    pieces: list[Piece] = []
    for (_, start, count), (first, begin, length) in pairwise(edges):
        if start + count < begin:
            pieces.append("\n".join(after[start + count : begin]))
        if length:
            pieces.append([first, length])
    return pieces


def apply_delta(old: str, pieces: list[Piece]) -> str:
    r"""The new text; what a receiver does.

    >>> apply_delta("a\nb\nc", [[0, 1], "x", [2, 1]])
    'a\nx\nc'
    """
    lines = old.split("\n")
    parts = [each if isinstance(each, str) else "\n".join(lines[each[0] : each[0] + each[1]]) for each in pieces]
    return "\n".join(parts)
