"""Which symbols on a photo stand on one physical label."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from functools import lru_cache

from receiving.model import Symbol, has_valid_check_digit
from receiving.reading.acceptance import sscc_of
from receiving.reading.decoders import Decoded, middle, reading_angle_deg
from receiving.reading.region import BarRegion

SAME_DIRECTION_DEG, SAME_CARTON_DEG = 12, 25
"""Directions of two symbols of one label differ by less: perspective turns them, and may more when one carton's number
on both tells that they belong together."""

REACH = 0.75
"""How far beside each other two symbols of one label stand, in lengths of the longer one (a logistic label is about
as high as its bars are long: GS1 General Specifications, 6.6)."""

NAMED_REACH = 0.4
"""The same for bars that are left alone because the symbol beside them was read: nothing else tells whose they are."""

_LINK_SSCC = re.compile(r"/00/([0-9]{18})(?![0-9])")
"""AI 00 in the path of a GS1 Digital Link (GS1 Digital Link Standard, URI Syntax)."""

_FORMATS = {"]C": "Code128", "]I": "ITF", "]A": "Code39", "]E": "EAN13", "]d": "DataMatrix"}


@lru_cache(maxsize=4096)
def names_carton(raw: str) -> str:
    """The SSCC that an element string or a GS1 Digital Link names, with a right check digit, else ''."""
    link = _LINK_SSCC.search(raw)
    if link and has_valid_check_digit(link[1]):
        return link[1]
    return sscc_of(raw)


def as_decoded(symbol: Symbol) -> Decoded:
    """A guided symbol as one that a decoder gave: it stands on a label like any other."""
    form = _FORMATS.get(symbol.symbology[:2], "Code128")
    return Decoded(symbol.raw, symbol.symbology, form, symbol.quad_px, symbol.reader)


def bars_of_named_labels(
    regions: Sequence[BarRegion], symbols: Sequence[Decoded], named: Sequence[bool]
) -> tuple[BarRegion, ...]:
    """The unread bars that stand beside a matrix code that names their carton: one region a label, the nearest.

    ``named`` tells which of the symbols do. A label on which bars were read has none left.
    """
    labels = label_numbers(symbols)
    taken = {label for symbol, label in zip(symbols, labels, strict=True) if symbol.linear}
    pairs = []
    for place, region in enumerate(regions):
        bars = Decoded("", "", "Code128", region.quad(), "")
        for symbol, label, names in zip(symbols, labels, named, strict=True):
            if names and not symbol.linear and _beside(symbol, bars, NAMED_REACH):
                pairs.append((_gap(symbol, bars), place, label))
    found: set[int] = set()
    for _, place, label in sorted(pairs):
        if place not in found and label not in taken:
            found.add(place)
            taken.add(label)
    return tuple(regions[place] for place in sorted(found))


def label_numbers(symbols: Sequence[Decoded]) -> tuple[int, ...]:
    """The number, from 1, of the physical label that each symbol stands on.

    Neighbours that are printed in one direction share a label, unless they name two cartons, or the same code in the
    same symbology twice: those are two labels.
    """
    labels: list[list[Decoded]] = []
    numbers = []
    for symbol in symbols:
        near = [n for n, label in enumerate(labels) if _belongs(symbol, label)]
        if near:
            nearest = min(near, key=lambda n: min(_gap(symbol, other) for other in labels[n]))
            labels[nearest].append(symbol)
            numbers.append(nearest + 1)
        else:
            labels.append([symbol])
            numbers.append(len(labels))
    return tuple(numbers)


def _belongs(symbol: Decoded, label: Sequence[Decoded]) -> bool:
    return any(_beside(symbol, other) for other in label) and not any(_apart(symbol, other) for other in label)


def _apart(a: Decoded, b: Decoded) -> bool:
    """True when the two cannot stand on one label."""
    keys = {names_carton(a.raw), names_carton(b.raw)} - {""}
    return len(keys) > 1 or (a.format == b.format and a.raw == b.raw)


def _beside(a: Decoded, b: Decoded, reach: float = REACH) -> bool:
    turn = abs((reading_angle_deg(a.quad_px) - reading_angle_deg(b.quad_px) + 180) % 360 - 180)
    # A matrix code may be printed turned by quarters; bars are read from either end.
    quarter = 180.0 if a.linear and b.linear else 90.0
    off = min(turn % quarter, quarter - turn % quarter)
    same = names_carton(a.raw) != "" and names_carton(a.raw) == names_carton(b.raw)
    return off <= (SAME_CARTON_DEG if same else SAME_DIRECTION_DEG) and _gap(a, b) <= reach * max(
        _length(a), _length(b)
    )


def _gap(a: Decoded, b: Decoded) -> float:
    """The free distance between two symbols, pixels: between their centres, less half their sizes along that line."""
    (ax, ay), (bx, by) = middle(a.quad_px), middle(b.quad_px)
    distance = math.hypot(bx - ax, by - ay)
    if distance == 0:
        return 0.0
    unit = ((bx - ax) / distance, (by - ay) / distance)
    return max(0.0, distance - _half(a, unit) - _half(b, unit))


def _half(symbol: Decoded, unit: tuple[float, float]) -> float:
    """Half the symbol's size along a direction: how far from its centre a line that way leaves it."""
    (ax, ay), (bx, by), (_, _), (dx, dy) = symbol.quad_px
    along = math.hypot(bx - ax, by - ay) or 1.0
    down = math.hypot(dx - ax, dy - ay) or 1.0
    u = abs(unit[0] * (bx - ax) + unit[1] * (by - ay)) / along
    v = abs(unit[0] * (dx - ax) + unit[1] * (dy - ay)) / down
    return min(along / 2 / max(u, 1e-9), down / 2 / max(v, 1e-9))


def _length(symbol: Decoded) -> float:
    (ax, ay), (bx, by), (cx, cy), _ = symbol.quad_px
    return max(math.hypot(bx - ax, by - ay), math.hypot(cx - bx, cy - by))
