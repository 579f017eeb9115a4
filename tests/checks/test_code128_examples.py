"""Worked modulo-103 examples of Code 128, each with its published source."""

import json
from pathlib import Path

from receiving.reading.guided.patterns import add_check_and_stop, check_character, encodings

FILE = Path(__file__).parent / "data" / "code128_check_examples.json"


def examples():
    return json.loads(FILE.read_text(encoding="utf-8"))


def test_the_check_character_of_every_worked_example_agrees():
    rows = examples()
    assert len(rows) == 7
    for row in rows:
        assert check_character(tuple(row["symbol_values"])) == row["check"], row["text"]


def test_the_encoder_writes_every_worked_example_as_published():
    for row in examples():
        text = row["text"].removeprefix("FNC1 ")
        assert tuple(row["symbol_values"]) in encodings(text, gs1=text != row["text"]), text


def test_the_whole_symbol_of_a_worked_example_ends_with_check_and_stop():
    """ "PJJ123C" in code set A: check character 54, stop 106 (source in the file)."""
    row = next(row for row in examples() if row["text"] == "PJJ123C")
    assert add_check_and_stop(tuple(row["symbol_values"])) == (*row["symbol_values"], 54, 106)
