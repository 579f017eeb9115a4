"""Plans stay as they were found right, to the place of each carton; and what was found right keeps the rules."""

import pytest

from tests.staging.approved_plans import CASES, FOLDER, HAPPENED, approved


@pytest.mark.parametrize("name", [*CASES, *HAPPENED])
def test_a_plan_is_the_one_that_was_approved(name: str) -> None:
    assert approved(name) == (FOLDER / f"{name}.txt").read_text(encoding="utf-8")


def test_no_approved_plan_is_left_over() -> None:
    assert {path.stem for path in FOLDER.iterdir()} == {*CASES, *HAPPENED}
