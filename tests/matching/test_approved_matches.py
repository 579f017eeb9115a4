"""Each read is judged as it was found right: to the reason, the odds and the question that a person is asked."""

import pytest

from tests.matching.approved_matches import CASES, FOLDER, approved_text


@pytest.mark.parametrize("name", CASES)
def test_a_scene_is_judged_as_was_approved(name: str) -> None:
    assert approved_text(name) == (FOLDER / f"{name}.txt").read_text(encoding="utf-8")


def test_no_approved_scene_is_left_over() -> None:
    assert {path.stem for path in FOLDER.iterdir()} == set(CASES)
