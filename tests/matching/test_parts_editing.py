"""The parts list as a person edits it."""

import pytest

from receiving.errors import BadRequest
from receiving.matching import parts_list, parts_rows
from receiving.model.contents import USUAL_PARTS


def test_rows_bring_the_same_parts_list_back() -> None:
    assert parts_list(parts_rows(USUAL_PARTS)) == USUAL_PARTS


def test_every_faulty_row_is_named_and_nothing_is_changed() -> None:
    rows = [
        ("tray", "base", "1", "no"),
        ("box", "base", "1", "no"),
        ("tray", "rail", "0", "no"),
        ("tray", "rail", "½", "no"),
        ("tray", " ", "1", "no"),
        ("replacement tray", "rail", "1", "maybe"),
        ("tray", "Base", "2", ""),
    ]
    with pytest.raises(BadRequest) as fault:
        parts_list(rows)
    message = str(fault.value)
    assert message.startswith("The parts list has 6 faults. Row 2: kind 'box' is not one of tray, ")
    for said in (
        "Row 3: quantity '0' is not a whole number from 1 up",
        "Row 4: quantity '½' is not a whole number from 1 up",
        "Row 5: the part has no name",
        "Row 6: 'maybe' for 'made for one position' is neither yes nor no",
        "Row 7: part 'Base' of kind 'tray' is listed twice; add the quantities up",
    ):
        assert said in message
    assert str(fault.value.next_step) == "Correct the rows named; nothing was changed."
