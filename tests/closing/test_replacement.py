"""One request for a store: numbered, revised rather than duplicated, the same in every format."""

import csv
import json
from dataclasses import replace
from datetime import UTC, date, datetime
from io import StringIO

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from receiving.closing import (
    replacement_csv,
    replacement_from_json,
    replacement_json,
    replacement_manifest,
    replacement_pdf,
    replacement_request,
    request_changes,
)
from receiving.errors import BadRequest
from receiving.matching import reconcile
from receiving.model import Address, CartonKind, Claim, LabelRead, RawRead, Source
from receiving.model.replacement import Delivery, ReplacementLine, ReplacementRequest, RequestReason

NOON = datetime(2026, 3, 2, 12, 0, tzinfo=UTC)
DELIVERY = Delivery("Store 0417, back door", "Mia Berg", "555 0100", date(2026, 3, 9), "ring the bell")
RAIL = ReplacementLine(
    "SH-1", "Oak", Address("Oak", 1, 2), CartonKind.PARTS, "PR-1", "price rail", 2, RequestReason.CONTENT_MISSING, "01"
)
TRAY = ReplacementLine(
    "SH-1", "Elm", Address("Elm", 3, 1), CartonKind.TRAY, "TR-12", "tray", 1, RequestReason.CARTON_MISSING, "02"
)
LAMP = ReplacementLine(
    "SH-2", "Fir", None, CartonKind.LIGHTING, "LED-60", "lamp", 4, RequestReason.EXISTING_WORN, "", "=left end"
)


def request(*lines: ReplacementLine, previous: ReplacementRequest | None = None, **more: object) -> ReplacementRequest:
    delivery = more.pop("delivery", DELIVERY)
    return replacement_request(
        "0417", lines, delivery, number=3, requested_at=NOON, requested_by="Ana", previous=previous, **more
    )  # type: ignore[arg-type]


def test_one_request_covers_all_sections_and_says_how_many_it_replaces() -> None:
    one = request(RAIL, TRAY, LAMP)
    assert (one.reference, one.revision, one.separate, one.pieces) == ("R-0417-003", 1, 3, 7)
    assert one == request(LAMP, RAIL, TRAY, RAIL)


def test_the_same_content_is_no_new_revision_and_other_content_is_the_next() -> None:
    first = request(RAIL, TRAY)
    assert request(TRAY, RAIL, previous=first) is first
    second = request(replace(RAIL, qty=3), LAMP, previous=first)
    assert (second.number, second.revision) == (3, 2)
    assert tuple(map(str, request_changes(first, second))) == (
        "No longer asked for: 1 × TR-12 tray for Elm, column 3, row 1 (carton did not arrive)",
        "3 × PR-1 price rail for Oak, column 1, row 2 (not in the carton), before 2",
        "New: 4 × LED-60 lamp for Fir (worn on the fixture)",
    )
    later = request(RAIL, TRAY, previous=first, delivery=replace(DELIVERY, contact="Leo"))
    assert tuple(map(str, request_changes(first, later))) == ("Delivery or contact changed",)
    for_no_place = request(RAIL, TRAY, replace(LAMP, section=""), previous=first)
    assert tuple(map(str, request_changes(first, for_no_place))) == ("New: 4 × LED-60 lamp (worn on the fixture)",)


def test_a_request_is_withdrawn_by_an_empty_revision_and_cannot_start_empty() -> None:
    assert request(previous=request(RAIL)).lines == ()
    with pytest.raises(BadRequest, match="Store 0417 lacks nothing") as fault:
        request()
    assert str(fault.value.next_step) == "Note what is missing or damaged first."


@pytest.mark.parametrize(
    ("name", "expected"), [("deliver_to", "does not say where to deliver to."), ("contact", "has no contact.")]
)
def test_a_request_needs_someone_to_send_it_to(name: str, expected: str) -> None:
    with pytest.raises(BadRequest, match=f"The request {expected}"):
        request(RAIL, delivery=replace(DELIVERY, **{name: " "}))


def test_a_request_is_not_revised_for_another_store() -> None:
    with pytest.raises(BadRequest, match="is for store 0417, not 0422"):
        replacement_request(
            "0422", [RAIL], DELIVERY, number=4, requested_at=NOON, requested_by="Ana", previous=request(RAIL)
        )


def test_json_brings_the_same_request_back() -> None:
    one = request(RAIL, TRAY, LAMP)
    assert replacement_from_json(replacement_json(one)) == one
    assert json.loads(replacement_json(one))["replaces_requests"] == 3


@pytest.mark.parametrize(
    "text",
    [
        "",
        "[]",
        "null",
        "{}",
        '{"delivery": 3}',
        "[" * 100_000,
        replacement_json(request(RAIL)).replace(": 2,", ": 1e999,"),
    ],
)
def test_json_that_is_no_request_is_refused(text: str) -> None:
    with pytest.raises(BadRequest, match="This is not a replacement request"):
        replacement_from_json(text)


def test_csv_has_one_row_for_each_line_and_no_formula() -> None:
    rows = list(csv.DictReader(StringIO(replacement_csv(request(RAIL, TRAY, LAMP)))))
    assert [(r["line"], r["section"], r["column"], r["row"], r["qty"], r["reason"]) for r in rows] == [
        ("1", "Elm", "3", "1", "1", "carton_missing"),
        ("2", "Oak", "1", "2", "2", "content_missing"),
        ("3", "Fir", "", "", "4", "existing_worn"),
    ]
    assert {(r["request"], r["deliver_to"], r["needed_by"]) for r in rows} == {
        ("R-0417-003", "Store 0417, back door", "2026-03-09")
    }
    assert rows[2]["remark"] == "'=left end"


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_paper_is_a_pdf_with_every_line_and_the_same_each_time(paper: str) -> None:
    many = [replace(RAIL, item=f"PR-{n} <&>", qty=n + 1) for n in range(90)]
    pdf = replacement_pdf(request(*many, TRAY, LAMP), paper=paper)
    assert pdf.startswith(b"%PDF-")
    assert pdf.count(b"/Type /Page\n") >= 3
    assert pdf == replacement_pdf(request(*many, TRAY, LAMP), paper=paper)
    assert replacement_pdf(request(previous=request(RAIL))).startswith(b"%PDF-")


def test_what_arrives_is_reconciled_against_the_request_like_any_shipment() -> None:
    expected = replacement_manifest(request(RAIL, TRAY, LAMP))
    assert (expected.shipment, expected.store) == ("R-0417-003", "0417")
    label = RawRead("r1", NOON, Source.SCANNER, "OAK 1 2")
    result = reconcile(expected, [LabelRead(label, Claim(address=Address("Oak", 1, 2)))])
    assert [f.carton.contents[0].item for f in result.received] == ["PR-1"]
    assert [f.carton.contents[0].item for f in result.short] == ["TR-12", "LED-60"]


values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
    max_leaves=5,
)


@settings(max_examples=200, deadline=None)
@given(st.sampled_from(["number", "revision", "store", "requested_at", "requested_by", "delivery", "lines"]), values)
def test_a_request_with_any_one_value_spoilt_is_refused_or_still_a_request(name: str, value: object) -> None:
    content = json.loads(replacement_json(request(RAIL, LAMP)))
    content[name] = value
    try:
        assert isinstance(replacement_from_json(json.dumps(content)), ReplacementRequest)
    except BadRequest as fault:
        assert str(str(fault.message)).startswith("This is not a replacement request: ")
