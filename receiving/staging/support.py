"""Where a weight on a carton goes down to the deck, and how much of it each carton below bears.

A weight at one point of a carton is carried when upward forces at points that carry it themselves hold it: when the
point lies in the convex hull of the parts of what it touches that carry (statics of a rigid body on unilateral
supports). So the carrying part of each carton is a convex polygon, worked out from those below it: the whole base on
the deck, elsewhere the hull of the shared parts. A carton with its middle over that polygon stands by itself: no
counterweight is needed, and by superposition the load stays in equilibrium while it is taken off from the top.
"""

from collections.abc import Iterable, Sequence

Point = tuple[float, float]
Polygon = tuple[Point, ...]
"""Corners counterclockwise, in millimetres."""

Rect = tuple[float, float, float, float]
"""Near corner and far corner: x, y, x1, y1 in millimetres."""

DUST = 1e-6
"""What rounding may leave, in millimetres or square millimetres."""


def corners(rect: Rect) -> Polygon:
    """A rectangle as a polygon."""
    x, y, x1, y1 = rect
    return ((x, y), (x1, y), (x1, y1), (x, y1))


def clip_polygon(polygon: Polygon, rect: Rect) -> Polygon:
    """The part of the polygon within the rectangle (Sutherland & Hodgman, Communications of the ACM 17 (1974) 32–42).

    >>> clip_polygon(((0, 0), (4, 0), (0, 4)), (0, 0, 2, 1))
    ((0.0, 1), (0, 0), (2, 0.0), (2.0, 1))
    """
    x, y, x1, y1 = rect
    points = list(polygon)
    for axis, limit, sign in ((0, x, 1), (0, x1, -1), (1, y, 1), (1, y1, -1)):
        ends = [point[axis] for point in points]
        if not ends:
            break
        if (min(ends) >= limit) if sign > 0 else (max(ends) <= limit):
            continue
        kept: list[Point] = []
        before = points[-1]
        for point in points:
            inside, was_inside = sign * point[axis] >= sign * limit, sign * before[axis] >= sign * limit
            if inside is not was_inside:
                kept.append(_crossing(before, point, axis, limit))
            if inside:
                kept.append(point)
            before = point
        points = kept
    return tuple(points)


def _crossing(one: Point, other: Point, axis: int, limit: float) -> Point:
    part = (limit - one[axis]) / (other[axis] - one[axis])
    along = one[1 - axis] + part * (other[1 - axis] - one[1 - axis])
    return (along, limit) if axis else (limit, along)


def hull(points: Iterable[Point]) -> Polygon:
    """The convex hull, counterclockwise (monotone chain: Andrew, Information Processing Letters 9 (1979) 216–219).

    >>> hull([(0, 0), (2, 0), (1, 1), (2, 2), (0, 2)])
    ((0, 0), (2, 0), (2, 2), (0, 2))
    """
    ordered = sorted(set(points))
    if len(ordered) < 3:
        return tuple(ordered)
    return (*_chain(ordered), *_chain(ordered[::-1]))


def _chain(points: Sequence[Point]) -> list[Point]:
    found: list[Point] = []
    for point in points:
        while len(found) > 1 and _turn(found[-2], found[-1], point) <= 0:
            found.pop()
        found.append(point)
    return found[:-1]


def covers(polygon: Polygon, point: Point) -> bool:
    """The point lies in the convex polygon or on its edge; nothing lies in less than three corners.

    >>> covers(((0, 0), (2, 0), (0, 2)), (1, 1)), covers(((0, 0), (2, 0), (0, 2)), (1.1, 1))
    (True, False)
    """
    if len(polygon) < 3:
        return False
    return all(_turn(polygon[i - 1], polygon[i], point) >= -DUST for i in range(len(polygon)))


def _turn(a: Point, b: Point, c: Point) -> float:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
