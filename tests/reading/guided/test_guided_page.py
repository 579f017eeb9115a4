"""docs/guided-reading.md says what the code does."""

import re
from math import exp
from pathlib import Path

from receiving.reading.guided import decision

ROOT = Path(__file__).parents[3]
PAGE = (ROOT / "docs" / "guided-reading.md").read_text()
ROOM = ROOT / "receiving" / "reading" / "guided"


def test_the_page_names_every_file_of_the_room_and_no_other() -> None:
    named = set(re.findall(r"`(\w+\.py)`", PAGE))

    assert named == {file.name for file in ROOM.glob("*.py")} - {"__init__.py", "reader.py"}


def test_the_page_gives_the_limits_in_force() -> None:
    assert (
        f"residual variance ≤ {decision.WORST_FIT}, at least {decision.LEAST_SEEN:.0%} of the symbol seen".replace(
            "%", " %"
        )
        in PAGE
    )
    assert f"leaves e^{decision.LEAST_LOG_RATIO} = {exp(decision.LEAST_LOG_RATIO):.1f} times as much" in PAGE
