"""What is read of notices, whole and broken, stays as it was found right."""

import pytest

from tests.expected.approved_notices import CASES, FOLDER, approved


@pytest.mark.parametrize("name", CASES)
def test_of_a_notice_is_read_what_was_approved(name: str) -> None:
    assert approved(name) == (FOLDER / f"{name}.txt").read_text(encoding="utf-8")


def test_no_approved_notice_is_left_over() -> None:
    assert {path.stem for path in FOLDER.iterdir()} == set(CASES)
