"""The published list of ANSI MH10.8.2 data identifiers: each one is told from its value in an envelope."""

import json
from pathlib import Path

from receiving.reading.mh10 import licence_plate, read_envelope

FILE = Path(__file__).parent / "data" / "mh10_data_identifiers.json"


def identifiers():
    return json.loads(FILE.read_text(encoding="utf-8"))["dis"]


def test_all_478_identifiers_are_told_from_their_values():
    found = identifiers()
    assert len(found) == 478
    envelope = read_envelope("[)>\x1e06\x1d" + "\x1d".join(f"{di}VALUE7" for di in found) + "\x1e\x04")
    assert envelope.faults == ()
    assert envelope.fields == tuple((di, "VALUE7") for di in found)


def test_the_licence_plates_are_those_that_the_list_calls_so():
    """J to 6J are unique licence plates; 7J and 8J are of vehicles and ships."""
    plates = {di for di, words in identifiers().items() if words.startswith("Unique license plate")}
    assert plates == {"J", "1J", "2J", "3J", "4J", "5J", "6J"}
    for di in identifiers():
        assert licence_plate(((di, "UN123"),)) == ("UN123" if di in plates else ""), di


def test_the_piece_identifier_is_the_one_that_the_list_gives_for_n_of_x():
    assert "nth piece of x pieces" in identifiers()["13Q"]
