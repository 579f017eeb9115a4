"""The second model of a back room, in a few shipments: what tests/bench/match_back_room.py counts in thousands."""

import random

import pytest

from tests.bench.back_room_model import Rates, build_scene
from tests.bench.match_back_room import CHANGES, answered, fingerprint, judge, match


@pytest.mark.parametrize("seed", range(12))
def test_neither_order_nor_hashes_nor_rows_decide_anything(seed: int) -> None:
    scene, rng = build_scene(seed, Rates(torn=0.15)), random.Random(seed)
    before = fingerprint(match(scene))
    for change in CHANGES:
        assert fingerprint(match(change(scene, rng))) == before, change.__name__


@pytest.mark.parametrize("seed", range(12))
def test_nothing_is_received_that_is_not_here_and_no_question_mixes_labels(seed: int) -> None:
    scene = build_scene(seed, Rates(torn=0.15))
    found = match(scene)
    wrong = judge(scene, found)
    assert (wrong["false receipts"], wrong["mixed"], wrong["without answer"], wrong["over 6 choices"]) == (0, 0, 0, 0)
    after = judge(scene, answered(scene, found))
    assert (after["false receipts"], after["questions"]) == (0, 0)


@pytest.mark.parametrize("seed", range(6))
def test_the_pile_of_a_sibling_shipment_is_told_and_receives_nothing(seed: int) -> None:
    scene = build_scene(seed, Rates(), wrong_manifest=True)
    found = match(scene)
    assert found.received == ()
    assert found.looks_like is not None
    assert found.looks_like.shipment == scene.wrong_manifest
