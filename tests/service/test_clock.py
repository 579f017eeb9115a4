"""The clock goes back while the service is in use, by five minutes and by a day: what is said later counts."""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from receiving import service
from receiving.errors import Conflict
from receiving.model import Place, Role, Source
from receiving.model.replacement import Delivery
from tests.planned_reader import PlannedReader
from tests.receipts import confirm_with_shorts
from tests.service.conftest import MANIFEST

START = datetime(2026, 3, 5, 9, 30, tzinfo=UTC)
WORDS = "four plain words here"
BACK = pytest.mark.parametrize("back", [timedelta(minutes=5), timedelta(days=1)], ids=["5 minutes", "1 day"])


class Clock:
    """A clock that goes on by a second each time it is asked, and can be set."""

    def __init__(self) -> None:
        self.now = START

    def __call__(self) -> datetime:
        self.now += timedelta(seconds=1)
        return self.now


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def ctx(tmp_path: Path, clock: Clock) -> Iterator[service.Context]:
    with service.Context(tmp_path, PlannedReader(), now=clock) as ctx:
        service.import_manifest(ctx, "m.csv", MANIFEST.encode())
        yield ctx


@BACK
def test_what_is_said_after_the_clock_went_back_counts(ctx: service.Context, clock: Clock, back: timedelta) -> None:
    def visit() -> tuple[bool, int]:
        row = service.get_shipment(ctx, "S-1").row
        return row.held, row.here

    service.add_note(ctx, "S-1", "visit_decided", by="Ada", go=False)
    seen = service.add_note(ctx, "S-1", "carton_seen", by="Ada", carton="02", reason="label gone")
    read = service.add_scan(ctx, "S-1", "carton 01", place=Place.DOCK, by="A", source=Source.TYPED)
    assert visit() == (True, 2)
    clock.now -= back
    service.add_note(ctx, "S-1", "note_withdrawn", by="Ada", withdrawn=seen.note_id)
    assert visit() == (True, 1), "an undo has its effect"
    service.add_note(ctx, "S-1", "visit_decided", by="Ada", go=True)
    assert visit() == (False, 1), "a hold does not outlive the later sending"
    service.add_note(ctx, "S-1", "read_rejected", by="Ada", read_id=read.read_id, reason="typed wrongly")
    assert visit() == (False, 0)
    service.add_scan(ctx, "S-1", "carton 03", place=Place.DOCK, by="A", source=Source.TYPED)
    assert visit() == (False, 1)
    assert [read.raw.raw for read in service.get_shipment(ctx, "S-1").reads] == ["carton 01", "carton 03"]


@BACK
def test_orders_and_receipts_go_on_in_their_order(ctx: service.Context, clock: Clock, back: timedelta) -> None:
    first = service.issue_request(ctx, "0417", Delivery("Door", "Bo"), by="Ada")
    service.add_scan(ctx, "S-1", "carton 01", place=Place.DOCK, by="A", source=Source.TYPED)
    numbers = []
    for turn in range(2):
        receipt = confirm_with_shorts(ctx, "S-1")
        numbers.append(receipt.number)
        if not turn:
            clock.now -= back
            service.add_scan(ctx, "S-1", "carton 02", place=Place.DOCK, by="A", source=Source.TYPED)
    assert numbers == [1, 2]
    assert [each.shown.short for each in service.get_shipment(ctx, "S-1").receipts] == [2, 1]
    assert all(verdict.sound for verdict in service.verify_shipment(ctx, "S-1"))
    assert service.list_requests(ctx, "0417")[0].number == first.number
    with pytest.raises(Conflict):
        service.confirm(ctx, "S-1", "0" * 64, name="Grace", role="Manager", with_exceptions=True)


@BACK
def test_who_is_signed_in_stays_so_and_who_guessed_is_not_shut_out(
    ctx: service.Context, clock: Clock, back: timedelta
) -> None:
    service.add_person(ctx, "Ada", Role.COORDINATOR, WORDS)
    signed = service.sign_in(ctx, "Ada", WORDS, address="192.0.2.1")
    link, secret = service.make_link(ctx, "S-1", "night", days=1, by="Ada")
    token, api = service.make_api_token(ctx, "carrier", ["read"], by="Ada")
    clock.now += timedelta(minutes=4)
    assert service.get_own_account(ctx, signed.access).fresh
    for _ in range(8):
        with pytest.raises((service.SignInRefused, service.TooManyTries)):
            service.sign_in(ctx, "Ada", "wrong words entirely", address="192.0.2.1")
    clock.now -= back
    assert service.find_access(ctx, signed.token) == signed.access
    assert service.come_by_link(ctx, secret).access.shipment == "S-1"
    assert service.find_api_token(ctx, api) is not None
    assert not service.get_own_account(ctx, signed.access).fresh, (
        "how one signs in is changed by who signed in just now"
    )
    assert service.sign_in(ctx, "Ada", WORDS, address="192.0.2.1").access.name == "Ada"
    service.revoke_link(ctx, "S-1", link.link_id)
    service.revoke_api_token(ctx, token.token_id)
    clock.now -= back
    assert service.find_api_token(ctx, api) is None
    with pytest.raises(service.SignInRefused):
        service.come_by_link(ctx, secret)


@BACK
def test_an_action_that_is_sent_again_after_the_clock_went_back_is_answered_again(
    ctx: service.Context, clock: Clock, back: timedelta
) -> None:
    action, done = "6f1c2d2e-1111-4000-8000-000000000001", []

    def work() -> dict[str, int]:
        done.append(1)
        return {"n": len(done)}

    for _ in range(2):
        assert service.run_once(ctx, action, {"a": 1}, work, dict[str, int]) == {"n": 1}
        clock.now -= back
    assert len(done) == 1
