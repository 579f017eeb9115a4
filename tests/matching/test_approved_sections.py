"""What can be set of a section and what is asked for stays as it was found right."""

import pytest

from tests.matching.approved_sections import FOLDER, NAMES, approved


@pytest.mark.parametrize("name", NAMES)
def test_of_a_section_is_said_and_asked_for_what_was_approved(name: str) -> None:
    assert approved(name) == (FOLDER / f"{name}.txt").read_text(encoding="utf-8")


def test_no_approved_section_is_left_over() -> None:
    assert {path.stem for path in FOLDER.iterdir()} == set(NAMES)
