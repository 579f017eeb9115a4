"""What of all that is lacking is asked for, piece by piece: not what is settled, nothing twice, nothing for nothing."""

from dataclasses import replace
from datetime import UTC, date, datetime

import pytest

from receiving.matching import IssuedRequest, propose_request
from receiving.model import Address, CartonKind, FollowUp, ShortageFollowed
from receiving.model.replacement import Delivery, LeftOutReason, ReplacementLine, ReplacementRequest, RequestReason

NOON = datetime(2026, 3, 2, 12, 0, tzinfo=UTC)
RAIL = ReplacementLine(
    "SH-1", "Oak", Address("Oak", 1, 2), CartonKind.PARTS, "PR-1", "rail", 4, RequestReason.CONTENT_MISSING, "01"
)
TRAY = ReplacementLine(
    "SH-1", "Elm", Address("Elm", 3, 1), CartonKind.TRAY, "TR-12", "tray", 1, RequestReason.CARTON_MISSING, "02"
)


def issued(number: int, *lines: ReplacementLine, here: tuple[str, ...] = (), is_open: bool = True) -> IssuedRequest:
    request = ReplacementRequest(number, 1, "0417", NOON, "Ana", Delivery("Door", "Mia"), lines)
    return IssuedRequest(request, here, is_open)


def followed(step: FollowUp, **more: object) -> dict[tuple[str, str], ShortageFollowed]:
    note = ShortageFollowed("n1", NOON, "Ana", carton="02", step=step, **more)  # type: ignore[arg-type]
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
