"""The values of the notices in a file, counted by a plain split that knows nothing of the reader."""

import re


def values_in_notices(text: str) -> int:
    """How many values stand between ST*856 and SE, or UNH of a DESADV and UNT; tags are not values."""
    return sum(1 for _ in _values(text.lstrip("\ufeff \r\n")))


def _values(text: str):  # type: ignore[no-untyped-def]
    x12 = text.startswith("ISA")
    if x12:
        element = text[3]
        tail = text.split(element, 16)[16]
        component, end = None, tail[1]
    elif text.startswith("UNA"):
        component, element, end = text[3], text[4], "'"
    else:
        component, element, end = ":", "+", "'"
    opens, closes = ("ST", "SE") if x12 else ("UNH", "UNT")
    kind = "856" if x12 else "DESADV"
    inside = False
    # A line break before a tag ends a segment too, where the terminator was lost.
    cut = re.compile(rf"(?<!\?){re.escape(end)}|[’]\n") if not x12 else re.compile(re.escape(end))
    for raw in cut.split(text):
        segment = raw.strip().replace("\n", "")
        tag, *rest = segment.split(element)
        if tag == opens:
            inside = kind in segment
        elif tag == closes:
            inside = False
        elif inside:
            for part in rest:
                yield from (value for value in (part.split(component) if component else [part]) if value.strip())
