"""The rates that matching weighs labels by, and what a typed or printed text may look like, each from both sides.

The rates were set by hand and held against two models of back rooms: whoever moves one counts again, with
``tests/bench/match_back_room.py`` and ``match_shipments.py``, and changes the numbers here with the table in
DEVELOPERS.md.
"""

import re
from math import exp

import pytest

from receiving.matching import assignment, catalogue, overs, presence, resolve
from receiving.matching.assignment import BARE_ID, N_OF_TOTAL, PART, POSITION, over_rate


def test_the_rates_are_those_that_were_counted() -> None:
    once_in = {
        "OVER": 200,
        "OVER_AS_OTHERS": 10,
        "DUPLICATE_OF_KNOWN": 50,
        "SEEN_FROM_ASIDE": 10,
        "SAME_LABEL": 2,
        "NAMED_AS_OURS": 50,
        "WRONG_ADDRESS": 10_000,
        "WRONG_CODE": 100_000,
        "WRONG_NUMBER": 200,
        "WRONG_KIND": 100,
        "WRONG_SECTION": 500,
        "WRONG_ITEM": 20,
        "WRONG_COLUMN": 500,
        "NOT_OPEN_FIRST": 20,
        "TOO_EXPENSIVE": 10_000,
        "QUESTION_BELOW": 20,
        "CAUTION_BY_EYE": 5,
    }
    assert {name: exp(getattr(assignment, name)) for name in once_in} == pytest.approx(once_in)
    assert (assignment.OVER_RATE, assignment.LABELS_OF_PRIOR, assignment.SHORTEST_PART) == (0.005, 40.0, 4)
    assert [exp(nats) for nats in (overs.WRONG_SHIPMENT, overs.OF_ANOTHER, overs.SURE_ENOUGH)] == pytest.approx(
        [1 / 99, 19, 20]
    )
    assert (catalogue.GAP, catalogue.LONG, catalogue.SPREAD, catalogue.WRONG_TAP) == (1.25, 2.5, 0.1, 0.01)
    assert (presence.MOST_CHOICES, overs.MOST_PLACES, resolve.MOST_NATS) == (6, 3, 14.0)
    assert presence.AT_ONCE.total_seconds() == 30
    assert (catalogue.SHORTEST_WORD, catalogue.SHORTEST_SLIPPED, catalogue.LONG_PART) == (4, 5, 6)
    assert (catalogue.LONGEST_NUMBER, catalogue.MOST_PARTS) == (10, 50)


@pytest.mark.parametrize(
    ("own", "strange", "rate"), [(0, 0, 0.005), (40, 0, 0.0025), (0, 40, 0.5025), (20, 20, 0.2525), (960, 0, 0.0002)]
)
def test_a_pile_with_strange_labels_has_more_of_them(own: int, strange: int, rate: float) -> None:
    """The mean of a beta distribution: (strange + 0.005 × 40) / (labels + 40)."""
    assert over_rate(own, strange) == pytest.approx(rate)


@pytest.mark.parametrize(
    ("pattern", "text", "fits"),
    [
        (PART, "12*4", True),
        (PART, "1*4", False),
        (PART, "A" * 40, True),
        (PART, "A" * 41, False),
        (PART, "KX-01?_.4/", True),
        (PART, "12 45", False),
        (POSITION, "3-2", True),
        (POSITION, "col 3 / row 2", True),
        (POSITION, "C.3 x R.2", True),
        (POSITION, "123-999", True),
        (POSITION, "1234-1", False),
        (POSITION, "3", False),
        (POSITION, "٣-2", False),
        (N_OF_TOTAL, "6/24", True),
        (N_OF_TOTAL, "12345 / 12345", True),
        (N_OF_TOTAL, "123456/1", False),
        (N_OF_TOTAL, "6-24", False),
        (BARE_ID, "#07", True),
        (BARE_ID, "No. 7", True),
        (BARE_ID, "A" * 20, True),
        (BARE_ID, "A" * 21, False),
        (BARE_ID, "7/2", False),
    ],
)
def test_what_a_part_a_position_a_count_and_a_number_look_like(pattern: re.Pattern[str], text: str, fits: bool) -> None:
    assert bool(pattern.fullmatch(text)) is fits
