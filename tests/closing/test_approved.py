"""What leaves the house looks and reads as it was approved; how a change is approved stands in `approved.py`."""

import numpy as np
import pytest

from tests.closing.approved import FOLDER, MESSAGES, PAPERS, approved, drawn, shipped_fonts
from tests.closing.printed import words

SAME_LEVELS, ODD_DOTS = 80, 12
"""Two drawings are the same where at most this many dots differ by more than this many levels of gray."""


@pytest.mark.parametrize("name", PAPERS)
def test_a_paper_looks_as_it_was_approved(name: str) -> None:
    now, then = drawn(name).astype(int), approved(name).astype(int)
    assert now.shape == then.shape
    odd = np.argwhere(np.abs(now - then) > SAME_LEVELS)
    assert len(odd) <= ODD_DOTS, f"{len(odd)} dots differ, the first at {odd[0]}: look at it, see approved.py"


@pytest.mark.parametrize("name", PAPERS)
def test_the_shipped_fonts_have_every_sign_that_a_paper_uses(name: str) -> None:
    """Where no wider font is installed; what a font lacks would stand there as a question mark."""
    with shipped_fonts():
        text = words(PAPERS[name]())
    assert text.replace("Is the torn label carton 07 or 08?", "").count("?") == 0, text
    assert name != "plan" or "91>B1" in text


@pytest.mark.parametrize("name", MESSAGES)
def test_a_message_reads_as_it_was_approved(name: str) -> None:
    assert MESSAGES[name]().encode() == (FOLDER / name).read_bytes()


def test_nothing_is_approved_that_is_not_made() -> None:
    assert {path.name for path in FOLDER.iterdir()} == {*MESSAGES, *(f"{name}.png" for name in PAPERS)}
