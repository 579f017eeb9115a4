"""What searches found worth keeping is answered properly, and quickly, at every edge."""

import time

import pytest

from tests.fuzz.corpus import HERE, inputs
from tests.fuzz.forms import FORM_TARGETS
from tests.fuzz.targets import TARGETS

ALL = {**TARGETS, **FORM_TARGETS}


@pytest.mark.parametrize("name", sorted(ALL))
def test_every_kept_input_is_answered_properly(name: str) -> None:
    kept = [*ALL[name].seeds, *inputs(name)]
    for data in kept:
        began = time.process_time()
        ALL[name].check(data)
        assert time.process_time() - began < 10, f"{len(data)} bytes took long: {data[:200]!r}"


def test_no_archive_is_without_its_edge() -> None:
    assert {path.stem for path in HERE.glob("*.zip")} <= set(ALL)
