"""What changed between two texts, as lines to copy and lines that are new.

The receiver holds the old text, and copies runs of its lines by number; a run begins at a line that stands once in the
old text, and takes in the equal lines on both sides of it (as the block matching of rsync does: Tridgell, "Efficient
Algorithms for Sorting and Synchronization", 1999, chapter 3). Time grows with the number of lines.
"""

from collections import Counter
from itertools import pairwise

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


def patched(old: str, pieces: list[Piece]) -> str:
    r"""The new text; what a receiver does.

    >>> patched("a\nb\nc", [[0, 1], "x", [2, 1]])
    'a\nx\nc'
    """
    lines = old.split("\n")
    parts = [each if isinstance(each, str) else "\n".join(lines[each[0] : each[0] + each[1]]) for each in pieces]
    return "\n".join(parts)
