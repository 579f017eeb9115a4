"""What a sealed record still proves after names were taken out, and what a request keeps over its revisions."""

import hashlib
import json
from dataclasses import replace
from datetime import date

import pytest

from receiving.closing import replacement_csv, replacement_from_json, replacement_json, replacement_manifest
from receiving.closing.record import BLOCK_BYTES, Flaw, _where, first_difference, same_but_for_names
from receiving.closing.replacement import by_section
from receiving.model import Address, CartonKind
from receiving.model.replacement import LeftOut, LeftOutReason, ReplacementLine, RequestReason
from tests.closing.test_replacement import DELIVERY, LAMP, RAIL, TRAY, request

MARK = "[name erased on 2026-03-02]"


def text(**fields: object) -> str:
    return json.dumps({"name": "Ida Berg", "role": "Manager", "signature": [[1, 2]], "reads": ["Ada", "x"], **fields})


@pytest.mark.parametrize(
    ("erased", "same"),
    [
        (text(), True),
        (text(name=MARK, signature=None), True),
        (text(name=MARK, signature=None, role="King"), False),
        (text(reads=[MARK, "x"]), True),
        (text(reads=[MARK, "y"]), False),
        (text(signature=None), False),
        (text(name=f"{MARK} and more", signature=None), False),
        (text(name=MARK, signature=[[9, 9]]), True),
        ("[1]", False),
        ("not json", False),
    ],
)
def test_only_names_and_what_was_signed_by_them_may_differ(erased: str, same: bool) -> None:
    assert same_but_for_names(text(), erased) is same


def test_a_text_that_is_no_record_is_not_the_same() -> None:
    assert not same_but_for_names("[1]", text())
    assert not same_but_for_names("not json", text())


@pytest.mark.parametrize(
    ("one", "other", "place"),
    [("abc", "abd", 2), ("abc", "xbc", 0), ("abc", "abcd", 3), ("abcd", "abc", 3), ("żab", "żac", 3), ("", "a", 0)],
)
def test_the_first_difference_is_counted_in_bytes(one: str, other: str, place: int) -> None:
    assert first_difference(one, other) == place


def digests(data: bytes) -> list[str]:
    """What a header holds of each block: the first digits of its SHA-256."""
    parts = [data[n : n + BLOCK_BYTES] for n in range(0, len(data), BLOCK_BYTES)]
    return [hashlib.sha256(part).hexdigest() for part in parts]


@pytest.mark.parametrize(
    ("changed", "first", "last"),
    [
        (b"X" + b"a" * (3 * BLOCK_BYTES - 1), 0, BLOCK_BYTES - 1),
        (b"a" * BLOCK_BYTES + b"X" + b"a" * (2 * BLOCK_BYTES - 1), BLOCK_BYTES, 2 * BLOCK_BYTES - 1),
        (b"a" * (3 * BLOCK_BYTES - 1), 2 * BLOCK_BYTES, 3 * BLOCK_BYTES - 2),
        (b"a" * (3 * BLOCK_BYTES) + b"X", 3 * BLOCK_BYTES, 3 * BLOCK_BYTES),
        (b"a" * (2 * BLOCK_BYTES), 2 * BLOCK_BYTES, 2 * BLOCK_BYTES),
    ],
)
def test_a_change_is_told_by_the_block_that_it_lies_in(changed: bytes, first: int, last: int) -> None:
    from receiving.closing.record import _blocks

    sealed = _blocks(b"a" * (3 * BLOCK_BYTES))
    assert all(whole.startswith(part) for whole, part in zip(digests(b"a" * 3 * BLOCK_BYTES), sealed, strict=True))
    found = _where(changed, sealed)
    assert (found.flaw, found.first, found.last) == (Flaw.TEXT_CHANGED, first, last)


# --- requests ------------------------------------------------------------------------------------------------------

WAITING = LeftOut(TRAY, LeftOutReason.ON_ITS_WAY, "delivery 7", date(2026, 3, 6))
NO_DAY = LeftOut(LAMP, LeftOutReason.ON_ITS_WAY, "delivery 8")


def test_what_is_left_out_stays_in_later_revisions_until_it_is_told_anew() -> None:
    first = request(RAIL, left_out=(WAITING,))
    assert first.left_out == (WAITING,)
    assert request(RAIL, LAMP, previous=first).left_out == (WAITING,)
    assert request(RAIL, LAMP, previous=first, left_out=(NO_DAY,)).left_out == (NO_DAY,)


def test_json_keeps_what_is_left_out_and_days_that_are_not_known() -> None:
    one = request(RAIL, left_out=(WAITING, NO_DAY), delivery=replace(DELIVERY, needed_by=None))
    assert replacement_from_json(replacement_json(one)) == one
    loaded = json.loads(replacement_json(one))
    named = replace(one, requested_by="Zoë Łuczak")
    assert "Zoë Łuczak" in replacement_json(named) and replacement_from_json(replacement_json(named)) == named
    assert [each["due"] for each in loaded["left_out"]] == ["2026-03-06", None]
    assert loaded["delivery"]["needed_by"] is None
    assert [line["number"] for line in loaded["lines"]] == [1]


def test_json_of_before_lines_had_numbers_is_numbered_in_its_order() -> None:
    loaded = json.loads(replacement_json(request(RAIL, TRAY)))
    for line in loaded["lines"]:
        del line["number"]
    del loaded["last_number"], loaded["left_out"]
    assert replacement_from_json(json.dumps(loaded)).numbers == (1, 2)


def test_a_line_keeps_its_number_and_no_number_is_given_twice() -> None:
    first = request(RAIL, TRAY, LAMP)
    by_line = dict(zip(first.lines, first.numbers, strict=True))
    second = request(replace(RAIL, qty=9, remark="soon"), LAMP, previous=first)
    kept = dict(zip(second.lines, second.numbers, strict=True))
    assert kept[LAMP] == by_line[LAMP]
    assert kept[replace(RAIL, qty=9, remark="soon")] == by_line[RAIL]
    assert second.last_number == 3
    third = request(RAIL, TRAY, LAMP, previous=second)
    assert dict(zip(third.lines, third.numbers, strict=True))[TRAY] == 4, "3 lines were numbered before"
    nothing = request(previous=third)
    assert (nothing.numbers, nothing.last_number) == ((), 4)


def test_lines_are_ordered_by_shipment_section_column_and_row() -> None:
    def line(shipment: str, section: str, column: int, row: int, **more: object) -> ReplacementLine:
        plain = ReplacementLine(
            shipment, section, Address(section, column, row), CartonKind.TRAY, "A", "tray", 1,
            RequestReason.CARTON_MISSING, "1",
        )  # fmt: skip
        return replace(plain, **more)  # type: ignore[arg-type]

    ordered = (
        line("S-1", "Elm", 1, 1, address=None),
        line("S-1", "Elm", 1, 2),
        line("S-1", "Elm", 2, 1),
        line("S-1", "Elm", 2, 1, item="B"),
        line("S-1", "Oak", 1, 1),
        line("S-2", "Elm", 1, 1),
        line("S-2", "Elm", 1, 1, qty=2),
    )
    one = request(*reversed(ordered))
    assert one.lines == ordered
    assert by_section(one.lines) == (
        ("Elm", ordered[:4]),
        ("Oak", ordered[4:5]),
        ("Elm", ordered[5:]),
    )


def test_the_manifest_of_a_request_has_a_carton_for_each_line_and_the_csv_a_row() -> None:
    one = request(RAIL, LAMP)
    manifest = replacement_manifest(one)
    assert (manifest.shipment, manifest.store, manifest.dispatch_date) == (one.reference, "0417", None)
    rail = next(carton for carton in manifest.cartons if carton.kind is CartonKind.PARTS)
    (content,) = rail.contents
    assert (content.section, content.address, content.item, content.qty) == ("Oak", Address("Oak", 1, 2), "PR-1", 2)
    head, first, second = replacement_csv(one).splitlines()
    assert dict(zip(head.split(","), first.split(","), strict=False))["column"] == "1"
    assert dict(zip(head.split(","), second.split(","), strict=False))["column"] == ""
