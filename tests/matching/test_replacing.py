"""What must be sent again, and why: nothing twice, nothing that a spare covers, nothing that may still be inside."""

from dataclasses import replace

import pytest

from receiving.matching import counted_lines, reconcile, replacement_lines, stock_of
from receiving.model import (
    Carton,
    CartonKind,
    ContentCounted,
    ContentLine,
    Damage,
    DamageNoted,
    Note,
)
from receiving.model.contents import Part, PartsList
from receiving.model.replacement import RequestReason
from receiving.wording import asked_words
from tests.matching.scenes import NOON, at, carton, manifest, read, sscc
from tests.matching.test_contents import EXPECTED, READS, TRAYS, count, damage

Asked = list[tuple[str, int, RequestReason]]


def asked(*notes: Note, seen: int = 2) -> Asked:
    found = replacement_lines(EXPECTED, reconcile(EXPECTED, READS[:seen], notes), notes)
    return [(str(asked_words(line)), line.qty, line.reason) for line in found]


def test_a_complete_shipment_asks_for_nothing() -> None:
    assert asked() == []


def test_a_missing_carton_is_asked_for_by_its_items() -> None:
    found = asked(seen=0)
    assert found == [
        ("PR-1 Price rails", 2, RequestReason.CARTON_MISSING),
        ("TR-12 tray", 1, RequestReason.CARTON_MISSING),
        ("TR-12 tray", 1, RequestReason.CARTON_MISSING),
        ("TR-08 tray", 1, RequestReason.CARTON_MISSING),
    ]


def test_a_part_that_a_spare_covers_is_not_asked_for() -> None:
    broken = damage("n1", item="price rail", section="Oak", column=2, row=1)
    assert asked(broken) == []
    three = count("n2", "price rail", 0)
    assert asked(three) == [("TR-08 price rail only", 1, RequestReason.CONTENT_MISSING)]


def test_a_lost_graphic_is_asked_for_alone_and_for_its_position() -> None:
    lost = count("n1", "graphic", 0, section="Oak", column=1, row=2)
    found = replacement_lines(EXPECTED, reconcile(EXPECTED, READS, [lost]), [lost])
    assert [(f.kind, f.item, f.description, f.address, f.qty) for f in found] == [
        (CartonKind.GRAPHIC, "TR-12", "graphic only", at(1, 2), 1)
    ]


def test_each_reason_is_carried_to_the_request() -> None:
    for reason, wanted in (
        (Damage.ARRIVED, RequestReason.ARRIVED_DAMAGED),
        (Damage.IN_WORK, RequestReason.DAMAGED_IN_WORK),
        (Damage.WRONG_ITEM, RequestReason.WRONG_ITEM),
        (Damage.WRONG_SIDE, RequestReason.WRONG_SIDE),
    ):
        note = damage("n1", reason, item="base", section="Oak", column=2, row=1)
        assert asked(note) == [("TR-08 base only", 1, wanted)]


def test_parts_of_the_fixture_that_are_worn_or_gone_are_asked_for() -> None:
    for reason, wanted in (
        (Damage.EXISTING_WORN, RequestReason.EXISTING_WORN),
        (Damage.EXISTING_MISSING, RequestReason.EXISTING_MISSING),
    ):
        note = damage("n1", reason, of="", item="LED strip", section="Oak", column=1, row=1, qty=2, remark="left end")
        found = replacement_lines(EXPECTED, reconcile(EXPECTED, READS, [note]), [note])
        assert [(str(asked_words(f)), f.qty, f.reason, f.remark) for f in found] == [
            ("LED strip", 2, wanted, "left end")
        ]


def test_damage_that_can_be_hung_all_the_same_asks_for_nothing() -> None:
    assert asked(damage("n1", usable=True)) == []


def test_a_carton_inside_an_unopened_box_is_not_asked_for() -> None:
    box = Carton("09", CartonKind.OUTER, sscc(1009))
    expected = manifest(box, replace(TRAYS, outer="09"))
    inside = reconcile(expected, [read(9, sscc=sscc(1009))])
    assert replacement_lines(expected, inside) == ()
    assert len(replacement_lines(expected, reconcile(expected, []))) == 3


def test_a_carton_without_listed_contents_is_asked_for_as_a_carton() -> None:
    expected = manifest(carton("01", kind=CartonKind.LIGHTING))
    missing = replacement_lines(expected, reconcile(expected, []))
    assert [(str(asked_words(f)), f.reason) for f in missing] == [("carton 01: lighting", RequestReason.CARTON_MISSING)]
    crushed = [DamageNoted("n1", NOON, "Ana", "01", Damage.ARRIVED, usable=False)]
    result = reconcile(expected, [read(1, sscc=sscc(1001))], crushed)
    assert [f.reason for f in replacement_lines(expected, result, crushed)] == [RequestReason.ARRIVED_DAMAGED]


def test_lighting_parts_for_a_whole_section_are_asked_for_by_count() -> None:
    lamps = replace(carton("01"), kind=CartonKind.LIGHTING, contents=(ContentLine("Oak", item="LED-60", qty=12),))
    expected = manifest(lamps)
    ten = [ContentCounted("n1", NOON, "Ana", "01", "LED-60", 10)]
    result = reconcile(expected, [read(1, sscc=sscc(1001))], ten)
    assert [(str(asked_words(f)), f.qty) for f in replacement_lines(expected, result, ten)] == [("LED-60 lighting", 2)]


def test_a_missing_carton_that_an_open_question_may_find_says_so() -> None:
    expected = manifest(
        replace(carton("01"), contents=(ContentLine("Oak", at(1, 1), "A"),)),
        replace(carton("02"), contents=(ContentLine("Oak", at(1, 1), "B"),)),
    )
    found = replacement_lines(expected, reconcile(expected, [read(1, address=at(1, 1))]))
    assert {f.remark for f in found} == {"a label that may be this carton waits for an answer"}


def test_covers_that_come_in_packs_are_counted_and_asked_for_by_the_pack() -> None:
    covers = ContentLine("Oak", item="CC-1", description="clear cover", qty=3, unit="pack of 12")
    expected = manifest(replace(carton("01"), kind=CartonKind.PARTS, contents=(covers,)))
    one_pack = [ContentCounted("n1", NOON, "Ana", "01", "CC-1", 1)]
    result = reconcile(expected, [read(1, sscc=sscc(1001))], one_pack)
    assert dict(stock_of(counted_lines(expected, result, one_pack))) == {"CC-1": 12}
    asked_for = replacement_lines(expected, result, one_pack)
    assert [(str(asked_words(f)), f.qty) for f in asked_for] == [("CC-1 clear cover, pack of 12", 2)]


@pytest.mark.parametrize(("qty", "wanted"), [(None, 1), (1, 1), (2, 2), (24, 24)])
def test_as_many_are_asked_for_as_the_manifest_says_and_one_where_it_says_nothing(qty: int | None, wanted: int) -> None:
    missing = replace(carton("01"), contents=(ContentLine("Oak", at(1, 1), "TR-12", "tray", qty),))
    expected = manifest(missing, carton("02", (2, 1)))
    found = replacement_lines(expected, reconcile(expected, [READS[1]]), ())
    assert [(line.item, line.qty, line.reason) for line in found] == [("TR-12", wanted, RequestReason.CARTON_MISSING)]


@pytest.mark.parametrize(
    ("made_of", "words"),
    [(("base", "rail"), "TR-12 tray"), (("base", "rail", "pusher"), "TR-12 tray"), (("rail",), "TR-12 rail only")],
)
def test_an_item_of_which_all_parts_are_lacking_is_one_and_its_only_listed_part_is_that_part(
    made_of: tuple[str, ...], words: str
) -> None:
    missing = replace(carton("01"), contents=(ContentLine("Oak", at(1, 1), "TR-12", "tray", 2),))
    parts = PartsList(kinds=((CartonKind.TRAY, tuple(map(Part, made_of))),))
    expected = manifest(missing)
    found = replacement_lines(expected, reconcile(expected, []), (), parts)
    assert [(str(asked_words(line)), line.qty) for line in found] == [(words, 2)]


def test_of_two_cartons_for_one_position_the_one_that_lacks_something_is_named() -> None:
    """Both hang at one place; the carton that is here has nothing to do with what the other should have brought."""
    line = ContentLine("Oak", at(1, 1), "TR-90", "tray", 2)
    both = manifest(TRAYS, replace(TRAYS, carton="03", sscc=sscc(1003), contents=(line,)))
    found = replacement_lines(both, reconcile(both, READS))
    assert [(f.item, f.qty, f.carton, f.reason) for f in found] == [("TR-90", 2, "03", RequestReason.CARTON_MISSING)]
    again = replace(both, cartons=both.cartons[::-1])
    assert replacement_lines(again, reconcile(again, READS)) == found, "whichever is listed first"


def test_a_carton_of_which_the_manifest_names_no_contents_is_asked_for_once() -> None:
    bare = Carton("07", CartonKind.OTHER, sscc(1007))
    of = manifest(TRAYS, bare)
    (line,) = replacement_lines(of, reconcile(of, READS[:1]))
    assert (line.qty, line.carton, line.description) == (1, "07", "carton 07: other")
    assert (line.kind, line.address, line.item) == (CartonKind.OTHER, None, "")
