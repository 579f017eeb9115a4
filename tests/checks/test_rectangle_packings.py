"""The 2-D packing of floors against rectangles that are known to hold what is packed.

The cut rectangles follow E. Hopper & B. C. H. Turton, European J. of Operational Research 128 (2001) 34–57 (recipe from
memory): one rectangle is cut edge to edge, again and again, so that its pieces are known to fill it without waste.
Perfect squared rectangles and least boxes of consecutive squares are in `test_bin_packing`.
"""

import random
from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from receiving.staging.rectangles import Packing, Sides, Verdict, pack_rectangles

PATIENT = 200_000


def assert_packed(packing: Packing, sides: list[Sides], length: int, width: int) -> None:
    """Every rectangle once, with its own sides, inside, and none over another."""
    assert packing.verdict is Verdict.PACKED
    assert [p.index for p in packing.placed] == list(range(len(sides)))
    for placed, own in zip(packing.placed, sides, strict=True):
        assert sorted((placed.length, placed.width)) == sorted(own)
        assert 0 <= placed.x <= length - placed.length
        assert 0 <= placed.y <= width - placed.width
    for a, b in combinations(packing.placed, 2):
        beside = a.x + a.length <= b.x or b.x + b.length <= a.x
        assert beside or a.y + a.width <= b.y or b.y + b.width <= a.y


def cut(rng: random.Random, length: int, width: int, pieces: int) -> list[Sides]:
    """One rectangle cut edge to edge until there are this many pieces; the largest piece is cut next."""
    parts = [(length, width)]
    while len(parts) < pieces:
        largest = max(range(len(parts)), key=lambda at: parts[at][0] * parts[at][1])
        a, b = parts.pop(largest)
        at = rng.uniform(0.25, 0.75)
        along = rng.random() < a / (a + b)
        parts += [(round(a * at), b), (a - round(a * at), b)] if along else [(a, round(b * at)), (a, b - round(b * at))]
    rng.shuffle(parts)
    return [(b, a) if rng.random() < 0.5 else (a, b) for a, b in parts]


@pytest.mark.parametrize("pieces", [4, 6, 8, 10, 12])
def test_the_pieces_of_a_cut_floor_are_put_back_without_a_gap(pieces: int) -> None:
    for seed in range(8):
        sides = cut(random.Random(1000 * pieces + seed), 1220, 600, pieces)
        assert sum(a * b for a, b in sides) == 1220 * 600
        assert_packed(pack_rectangles(sides, 1220, 600, steps=PATIENT), sides, 1220, 600)


@settings(max_examples=150, deadline=None)
@given(
    st.lists(st.tuples(st.integers(1, 60), st.integers(1, 60)), max_size=9), st.integers(1, 120), st.integers(1, 120)
)
def test_what_is_packed_never_overlaps_and_is_always_inside(sides: list[Sides], length: int, width: int) -> None:
    packing = pack_rectangles(sides, length, width)
    if packing.verdict is Verdict.PACKED:
        assert_packed(packing, sides, length, width)
    else:
        assert packing.placed == ()


@pytest.mark.parametrize(
    ("sides", "length", "width"),
    [
        ([(4, 52), (47, 37), (38, 2), (59, 16), (59, 52)], 75, 93),
        (
            [
                (5, 53),
                (23, 47),
                (40, 43),
                (54, 37),
                (3, 53),
                (10, 3),
                (60, 17),
                (2, 54),
                (56, 10),
                (40, 46),
                (6, 59),
                (50, 49),
            ],
            118,
            119,
        ),
    ],
)
def test_a_long_chain_of_waste_does_not_exhaust_the_stack(sides: list[Sides], length: int, width: int) -> None:
    """These go deeper than Python lets functions call themselves."""
    assert_packed(pack_rectangles(sides, length, width), sides, length, width)


@settings(max_examples=100, deadline=None)
@given(st.integers(0, 10_000), st.integers(2, 7))
def test_what_is_known_to_fit_is_never_called_impossible(seed: int, pieces: int) -> None:
    sides = cut(random.Random(seed), 90, 60, pieces)
    assert pack_rectangles(sides, 90, 60).verdict is not Verdict.IMPOSSIBLE
