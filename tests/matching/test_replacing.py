"""What must be sent again, and why: nothing twice, nothing that a spare covers, nothing that may still be inside.

What of all that is lacking is asked for, piece by piece: not what is settled, nothing twice, nothing for nothing.
"""

from dataclasses import replace
from datetime import UTC, date, datetime

import pytest

from receiving.matching import IssuedRequest, counted_lines, propose_request, reconcile, replacement_lines, stock_of
from receiving.model import (
    Address,
    Carton,
    CartonKind,
    ContentCounted,
    ContentLine,
    Damage,
    DamageNoted,
    FollowUp,
    Note,
    ShortageFollowed,
)
from receiving.model.contents import Part, PartsList
from receiving.model.replacement import Delivery, LeftOutReason, ReplacementLine, ReplacementRequest, RequestReason
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


def test_each_thing_is_asked_for_with_the_reason_that_was_noted_of_it() -> None:
    """Of two items in one carton, of one place in two sections, and where the fixture's own rail is worn as well."""
    wrong = damage("n1", Damage.WRONG_ITEM, item="TR-12", section="Oak", column=1, row=1)
    in_work = damage("n2", Damage.IN_WORK, item="TR-08", section="Oak", column=2, row=1)
    worn = damage("n3", Damage.EXISTING_WORN, of="", item="hook", section="Oak", column=1, row=1)
    assert {(words.split()[0], reason) for words, _, reason in asked(wrong, in_work, worn)} == {
        ("TR-12", RequestReason.WRONG_ITEM),
        ("TR-08", RequestReason.DAMAGED_IN_WORK),
        ("hook", RequestReason.EXISTING_WORN),
    }
    two = manifest(
        replace(carton("01"), contents=(ContentLine("Oak", at(1, 1), "TR-12", "tray", 1),)),
        replace(carton("02"), contents=(ContentLine("Elm", Address("Elm", 1, 1), "TR-30", "tray", 1),)),
    )
    oak = damage("n1", Damage.ARRIVED, of="", section="Oak", column=1, row=1)
    elm = damage("n2", Damage.WRONG_SIDE, of="", section="Elm", column=1, row=1)
    found = replacement_lines(two, reconcile(two, READS, [oak, elm]), [oak, elm])
    assert {(line.item, line.reason) for line in found} == {
        ("TR-12", RequestReason.ARRIVED_DAMAGED),
        ("TR-30", RequestReason.WRONG_SIDE),
    }


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


AT_NOON = datetime(2026, 3, 2, 12, 0, tzinfo=UTC)

RAIL = ReplacementLine(
    "SH-1", "Oak", Address("Oak", 1, 2), CartonKind.PARTS, "PR-1", "rail", 4, RequestReason.CONTENT_MISSING, "01"
)

TRAY = ReplacementLine(
    "SH-1", "Elm", Address("Elm", 3, 1), CartonKind.TRAY, "TR-12", "tray", 1, RequestReason.CARTON_MISSING, "02"
)


def issued(number: int, *lines: ReplacementLine, here: tuple[str, ...] = (), is_open: bool = True) -> IssuedRequest:
    request = ReplacementRequest(number, 1, "0417", AT_NOON, "Ana", Delivery("Door", "Mia"), lines)
    return IssuedRequest(request, here, is_open)


def followed(step: FollowUp, **more: object) -> dict[tuple[str, str], ShortageFollowed]:
    note = ShortageFollowed("n1", AT_NOON, "Ana", carton="02", step=step, **more)  # type: ignore[arg-type]
    return {("SH-1", "02"): note}


def brings(request: IssuedRequest) -> str:
    """The carton that the first line of this request comes in."""
    ((carton, _), *_) = request.request.cartons
    return carton


@pytest.mark.parametrize(
    ("lacking", "asked_before", "is_open", "asks", "waits"),
    [
        (4, 4, True, 0, 4),
        (4, 3, True, 1, 3),
        (4, 1, True, 3, 1),
        (4, 9, True, 0, 4),
        (4, 4, False, 4, 0),
    ],
)
def test_pieces_that_an_open_request_asks_for_are_not_asked_for_again(
    lacking: int, asked_before: int, is_open: bool, asks: int, waits: int
) -> None:
    before = issued(7, replace(RAIL, qty=asked_before), is_open=is_open)
    found = propose_request([replace(RAIL, qty=lacking)], [before], {})
    assert sum(line.qty for line in found.lines) == asks
    assert [(left.line.qty, left.reason, left.detail) for left in found.left_out] == (
        [(waits, LeftOutReason.IN_REQUEST, "R-0417-007")] if waits else []
    )
    assert found.needed == ({7: (replace(RAIL, qty=waits),)} if is_open else {})


@pytest.mark.parametrize(("lacking", "asks"), [(3, 0), (4, 0), (5, 1)])
def test_pieces_that_a_request_has_brought_are_not_lacking_and_need_no_reason(lacking: int, asks: int) -> None:
    before = issued(7, RAIL)
    for is_open in (True, False):
        brought = replace(before, here=(brings(before),), open=is_open)
        found = propose_request([replace(RAIL, qty=lacking)], [brought], {})
        assert sum(line.qty for line in found.lines) == asks
        assert found.left_out == ()
        assert found.needed == ({7: (RAIL,)} if is_open else {}), "what came is not withdrawn"


def test_what_is_here_is_taken_before_what_is_still_to_come() -> None:
    coming, brought = issued(7, replace(RAIL, qty=2)), issued(8, replace(RAIL, qty=3))
    brought = replace(brought, here=(brings(brought),))
    found = propose_request([RAIL], [coming, brought], {})
    assert found.lines == ()
    assert [(left.line.qty, left.detail) for left in found.left_out] == [(1, "R-0417-007")]
    assert found.needed == {7: (replace(RAIL, qty=1),), 8: (replace(RAIL, qty=3),)}


def test_what_nobody_lacks_any_more_is_no_longer_needed_of_an_open_request() -> None:
    assert propose_request([], [issued(7, RAIL, TRAY)], {}).needed == {7: ()}
    assert propose_request([TRAY], [issued(7, RAIL, TRAY)], {}).needed == {7: (TRAY,)}


@pytest.mark.parametrize(
    "other",
    [
        replace(RAIL, shipment="SH-2"),
        replace(RAIL, section="Fir"),
        replace(RAIL, address=Address("Oak", 1, 3)),
        replace(RAIL, item="PR-2"),
        replace(RAIL, description="long rail"),
    ],
)
def test_a_request_for_another_thing_or_place_covers_nothing(other: ReplacementLine) -> None:
    assert propose_request([RAIL], [issued(7, other)], {}).lines == (RAIL,)


def test_the_same_thing_for_another_reason_or_from_another_carton_is_the_same_thing() -> None:
    before = issued(7, replace(RAIL, reason=RequestReason.EXISTING_WORN, carton="", remark="soon"))
    assert propose_request([RAIL], [before], {}).lines == ()


@pytest.mark.parametrize(
    ("step", "reason"),
    [
        (FollowUp.SENT_AGAIN, LeftOutReason.SENT_AGAIN),
        (FollowUp.ON_ITS_WAY, LeftOutReason.ON_ITS_WAY),
        (FollowUp.DONE_WITHOUT, LeftOutReason.DONE_WITHOUT),
    ],
)
def test_a_carton_that_was_followed_up_is_left_out_with_what_was_said(step: FollowUp, reason: LeftOutReason) -> None:
    note = followed(step, remark="tracking 77", due=date(2026, 3, 5))
    found = propose_request([TRAY, RAIL], [], note)
    assert found.lines == (RAIL,)
    assert [(left.line, left.reason, left.detail, left.due) for left in found.left_out] == [
        (TRAY, reason, "tracking 77", date(2026, 3, 5))
    ]


@pytest.mark.parametrize(
    "step", [step for step in FollowUp if step.value not in ("sent_again", "on_its_way", "done_without")]
)
def test_any_other_step_leaves_a_carton_to_be_asked_for(step: FollowUp) -> None:
    assert propose_request([TRAY], [], followed(step)).lines == (TRAY,)


def test_a_follow_up_settles_cartons_that_are_missing_and_not_what_broke_in_them() -> None:
    broken = replace(TRAY, reason=RequestReason.ARRIVED_DAMAGED)
    assert propose_request([broken], [], followed(FollowUp.DONE_WITHOUT)).lines == (broken,)
    assert propose_request([replace(TRAY, shipment="SH-2")], [], followed(FollowUp.DONE_WITHOUT)).left_out == ()


def test_what_is_done_without_uses_nothing_up_of_a_request() -> None:
    found = propose_request([TRAY], [issued(7, TRAY)], followed(FollowUp.DONE_WITHOUT))
    assert found.needed == {7: ()}
    assert [left.reason for left in found.left_out] == [LeftOutReason.DONE_WITHOUT]
    found = propose_request([TRAY], [issued(7, TRAY)], followed(FollowUp.SENT_AGAIN))
    assert found.needed == {7: (TRAY,)}
    assert [left.reason for left in found.left_out] == [LeftOutReason.IN_REQUEST]
