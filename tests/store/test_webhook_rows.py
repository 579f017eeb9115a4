"""Webhooks, events and deliveries as they are stored, and how the days of a shipment become events."""

import json
from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from receiving.model import EVERYTHING, DataScope, Manifest
from receiving.store import RowDay, Store, Webhook
from receiving.store.webhooks import RETAINED_DAYS
from tests.store.test_store import MANIFEST, NOW

HOUR, DAY = timedelta(hours=1), timedelta(days=1)
BOTH = frozenset({"shipment_short", "advice_changed"})
HOOK = Webhook("w1", "https://a.example", BOTH, EVERYTHING, "secret", NOW, "Ada")


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store(tmp_path / "receiving.sqlite") as store:
        store.add_revisions([(MANIFEST, 0, ())], source="m.csv", imported_at=NOW)
        yield store


def queued(store: Store, webhook: str = "") -> list[tuple[str, str]]:
    """The kind and shipment of each delivery, the oldest first."""
    return [(each.kind, each.shipment) for each in reversed(store.deliveries(100, webhook))]


def test_webhooks_in_use_are_first_and_the_newest_on_top(store: Store) -> None:
    assert store.webhooks() == () and not store.wants_events()
    limited = replace(
        HOOK, webhook_id="w2", scope=DataScope(frozenset({"0417"}), frozenset({"A"})), created_at=NOW + HOUR
    )
    store.add_webhook(HOOK)
    store.add_webhook(limited)
    assert store.webhooks() == (limited, HOOK)
    assert store.end_webhook("w2", NOW + DAY)
    assert store.webhooks() == (HOOK, replace(limited, ended_at=NOW + DAY))
    assert not store.end_webhook("w2", NOW + 2 * DAY) and not store.end_webhook("w9", NOW)
    assert store.wants_events()
    store.end_webhook("w1", NOW)
    assert not store.wants_events()


def test_a_new_secret_keeps_the_old_one_for_its_time(store: Store) -> None:
    store.add_webhook(HOOK)
    assert store.change_secret("w1", "new", NOW + DAY)
    assert store.webhooks() == (replace(HOOK, secret="new", old_secret="secret", old_until=NOW + DAY),)
    assert not store.change_secret("w9", "new", NOW)
    store.end_webhook("w1", NOW)
    assert not store.change_secret("w1", "newer", NOW)


def test_an_event_goes_to_those_that_want_it_and_see_the_shipment(store: Store) -> None:
    other = replace(MANIFEST, shipment="S-2", references=(("programme", "Autumn"),))
    store.add_revisions([(other, 0, ())], source="m.csv", imported_at=NOW)
    scopes = {
        "all": EVERYTHING,
        "store": DataScope(frozenset({"0417"})),
        "elsewhere": DataScope(frozenset({"0100"})),
        "programme": DataScope(None, frozenset({"Autumn"})),
    }
    for name, scope in scopes.items():
        store.add_webhook(replace(HOOK, webhook_id=name, scope=scope))
    store.add_webhook(replace(HOOK, webhook_id="other kind", events=frozenset({"receipt_sealed"})))
    store.add_webhook(replace(HOOK, webhook_id="ended"))
    store.end_webhook("ended", NOW)
    store.add_event("e1", "shipment_short", "S-1", NOW, {"missing": 2})
    assert {each.webhook_id for each in store.deliveries(100)} == {"all", "store"}
    store.add_event("e2", "shipment_short", "S-2", NOW, {})
    assert {each.webhook_id for each in store.deliveries(100) if each.event_id == "e2"} == {"all", "store", "programme"}
    (first,) = [each for each in store.deliveries(100, "all") if each.event_id == "e1"]
    assert json.loads(first.body) == {
        "event": "shipment_short", "at": NOW.isoformat(), "shipment": "S-1", "store": "0417", "data": {"missing": 2},
    }  # fmt: skip
    assert (first.kind, first.shipment, first.at, first.next_at, first.tries) == ("shipment_short", "S-1", NOW, NOW, 0)


def test_a_trial_goes_to_one_whatever_it_wants_and_nothing_is_kept_for_nobody(store: Store) -> None:
    store.add_webhook(HOOK)
    store.add_webhook(replace(HOOK, webhook_id="w2"))
    store.add_event("e1", "trial", "", NOW, {}, only="w2")
    assert [each.webhook_id for each in store.deliveries(100)] == ["w2"]
    store.add_event("e2", "receipt_sealed", "S-1", NOW, {})
    assert len(store.deliveries(100)) == 1
    assert store.new_event_id() != store.new_event_id()


def test_deliveries_that_are_due_come_in_order_and_at_most_so_many(store: Store) -> None:
    store.add_webhook(HOOK)
    for n in (2, 0, 1):
        store.add_event(f"e{n}", "trial", "", NOW + n * HOUR, {}, only="w1")
    assert [each.event_id for each in store.due_deliveries(NOW + 2 * HOUR, 100)] == ["e0", "e1", "e2"]
    assert [each.event_id for each in store.due_deliveries(NOW + HOUR, 100)] == ["e0", "e1"]
    assert [each.event_id for each in store.due_deliveries(NOW + 2 * HOUR, 2)] == ["e0", "e1"]
    assert [each.event_id for each in store.deliveries(2)] == ["e1", "e0"], "those stored last"


def test_what_came_of_a_try_is_kept_and_ends_or_goes_on(store: Store) -> None:
    store.add_webhook(HOOK)
    store.add_event("e1", "trial", "", NOW, {}, only="w1")
    (first,) = store.deliveries(1)
    store.tried(first.delivery_id, answer=500, fault="It answered 500.", delivered_at=None, next_at=NOW + HOUR)
    (again,) = store.deliveries(1)
    assert again == replace(first, tries=1, answer=500, fault="It answered 500.", next_at=NOW + HOUR)
    store.tried(first.delivery_id, answer=204, fault="", delivered_at=NOW + HOUR, next_at=None)
    (done,) = store.deliveries(1)
    assert done == replace(first, tries=2, answer=204, delivered_at=NOW + HOUR, next_at=None)
    assert store.due_deliveries(NOW + DAY, 9) == ()
    assert store.send_again(first.delivery_id, NOW + DAY)
    (sent,) = store.due_deliveries(NOW + DAY, 9)
    assert (sent.tries, sent.fault) == (0, "")
    assert not store.send_again(99, NOW)


def test_a_webhook_that_is_ended_while_it_is_tried_is_not_tried_again(store: Store) -> None:
    store.add_webhook(HOOK)
    store.add_event("e1", "trial", "", NOW, {}, only="w1")
    (first,) = store.deliveries(1)
    store.end_webhook("w1", NOW)
    assert store.deliveries(1)[0].fault == "The webhook was ended."
    store.tried(first.delivery_id, answer=0, fault="No answer.", delivered_at=None, next_at=NOW + HOUR)
    assert store.deliveries(1)[0].next_at is None
    assert not store.send_again(first.delivery_id, NOW)


def test_what_is_over_is_listed_for_its_days_and_what_waits_stays(store: Store) -> None:
    store.add_webhook(HOOK)
    for name in ("done", "waits"):
        store.add_event(name, "trial", "", NOW, {}, only="w1")
    done = next(each for each in store.deliveries(9) if each.event_id == "done")
    store.tried(done.delivery_id, answer=204, fault="", delivered_at=NOW, next_at=None)
    assert RETAINED_DAYS == 30
    store.forget_deliveries(NOW + RETAINED_DAYS * DAY)
    assert {each.event_id for each in store.deliveries(9)} == {"done", "waits"}
    store.forget_deliveries(NOW + RETAINED_DAYS * DAY + HOUR)
    assert {each.event_id for each in store.deliveries(9)} == {"waits"}


# --- days of a shipment --------------------------------------------------------------------------------------------

FINE = RowDay("S-1", "2026-03-02", "followed", "scan", "2026-03-04", "2026-03-09", 2, 2, 0)
SHORT = replace(FINE, state="short", next_step="order", here=1, missing=1)


@pytest.mark.parametrize(
    ("before", "now", "kinds"),
    [
        (None, FINE, []),
        (None, SHORT, ["shipment_short"]),
        (None, replace(SHORT, state="overdue"), ["shipment_short"]),
        (FINE, SHORT, ["shipment_short", "advice_changed"]),
        (SHORT, replace(SHORT, state="overdue"), ["advice_changed"]),
        (SHORT, FINE, ["advice_changed"]),
        (SHORT, replace(SHORT, here=2), []),
        (SHORT, replace(SHORT, order_by="2026-03-05"), ["advice_changed"]),
        (SHORT, replace(SHORT, next_step="chase"), ["advice_changed"]),
        (SHORT, replace(SHORT, day="2026-03-03"), []),
    ],
)
def test_a_day_is_an_event_where_it_becomes_short_or_the_advice_changes(
    store: Store, before: RowDay | None, now: RowDay, kinds: list[str]
) -> None:
    if before:
        store.keep_days([before], NOW)
    store.add_webhook(HOOK)
    store.keep_days([now], NOW)
    assert [kind for kind, _ in queued(store)] == kinds
    for each in store.deliveries(9):
        data = json.loads(each.body)["data"]
        assert data["before"] == (
            {"state": before.state, "next_step": before.next_step, "order_by": before.order_by} if before else None
        )
        assert (data["state"], data["missing"], data["visit"]) == (now.state, now.missing, now.visit)
        assert "shipment" not in data


def test_where_nobody_wants_events_none_are_stored(store: Store) -> None:
    store.keep_days([SHORT], NOW)
    store.add_webhook(HOOK)
    assert queued(store) == []


def test_visits_move_between_states_by_day(store: Store) -> None:
    second = replace(MANIFEST, shipment="S-2", store="0100", references=(("programme", "Autumn"),))
    third = replace(MANIFEST, shipment="S-3")
    store.add_revisions([(second, 0, ()), (third, 0, ())], source="m.csv", imported_at=NOW)
    days = [
        replace(FINE, day="2026-03-01"),
        replace(SHORT, day="2026-03-03"),
        replace(SHORT, shipment="S-2", day="2026-03-02"),
        replace(SHORT, shipment="S-3", day="2026-03-02", replaces=1),
    ]
    store.keep_days(days, NOW)

    def moves(first: str, scope: DataScope = EVERYTHING) -> tuple[tuple[str, str, int], ...]:
        return store.moves_of_rows(first, scope)

    assert moves("2026-03-01") == (
        ("2026-03-01", "followed", 1),
        ("2026-03-02", "short", 1),
        ("2026-03-03", "followed", -1),
        ("2026-03-03", "short", 1),
    )
    assert moves("2026-03-03") == (("2026-03-03", "short", 2),), "what was before stands on the first day"
    assert moves("2026-03-02", DataScope(frozenset({"0100"}))) == (("2026-03-02", "short", 1),)
    assert moves("2026-03-02", DataScope(None, frozenset({"Autumn"}))) == (("2026-03-02", "short", 1),)
    assert moves("2026-03-02", DataScope(frozenset(), None)) == ()
    store.keep_days([replace(SHORT, day="2026-03-04")], NOW)
    assert moves("2026-03-03") == (("2026-03-03", "short", 2),), "a day on which nothing changed is not kept"


def test_a_manifest_names_its_programme() -> None:
    assert Manifest("S", "1", (), references=(("programme", "Autumn"),)).programme == "Autumn"
