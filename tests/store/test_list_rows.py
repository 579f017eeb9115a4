"""Rows of lists as they are kept: which are wanted, in which order, and when one is to be made again."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import pytest

from receiving.model import EVERYTHING, DataScope, Manifest
from receiving.store import ListQuery, ListRowRecord, RowDay, Store
from receiving.store.list_rows import words_of
from receiving.store.records import as_utc_text
from tests.store.test_store import MANIFEST, NOW

HOUR = timedelta(hours=1)
STORES = {"S-1": "0417", "S-2": "0417", "S-3": "0100"}


def row(shipment: str, **more: object) -> ListRowRecord:
    """A row of this shipment in the middle of everything that is sorted by."""
    store = STORES[shipment]
    day = RowDay(shipment, "2026-03-02", "followed", "scan", "", "2026-03-09", 2, 2, 0)
    plain = ListRowRecord(
        shipment, store, words_of([shipment, f"Store {store}"]), 3, 5, 5, 5, 5, "2026-03-09", "2026-03-04", 0.5,
        "2026-03-02T09:00:00", '["Elm"]', "Tallow", as_utc_text(NOW + 9 * HOUR), f"row of {shipment}", day,
    )  # fmt: skip
    return replace(plain, **more)  # type: ignore[arg-type]


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store(tmp_path / "receiving.sqlite") as store:
        for shipment, number in STORES.items():
            programme = (("programme", "Autumn"),) if shipment == "S-2" else ()
            manifest = Manifest(shipment, number, MANIFEST.cartons, date(2026, 3, 9), references=programme)
            store.add_revisions([(manifest, 0, ())], source="m.csv", imported_at=NOW)
        yield store


def keep(store: Store, *rows: ListRowRecord, strange: tuple[str, ...] = (), **more: object) -> None:
    store.put_list_rows(((each, strange) for each in rows), store.stale_rows(100), NOW, **more)  # type: ignore[arg-type]


def wanted(store: Store, **query: object) -> list[str]:
    asked = ListQuery(**query)  # type: ignore[arg-type]
    found = [each.shipment for each in store.list_rows(asked)]
    assert store.count_list_rows(asked) == len(found)
    return found


# --- which are wanted ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("query", "shipments"),
    [
        ({}, ["S-1", "S-2", "S-3"]),
        ({"scope": DataScope(frozenset({"0100"}))}, ["S-3"]),
        ({"scope": DataScope(None, frozenset({"Autumn"}))}, ["S-2"]),
        ({"scope": DataScope(frozenset({"0417"}), frozenset())}, []),
        ({"shipment": "S-2"}, ["S-2"]),
        ({"urgencies": frozenset({1, 2})}, ["S-1", "S-3"]),
        ({"urgencies": frozenset({3})}, ["S-2"]),
        ({"visit_from": "2026-03-09"}, ["S-2", "S-3"]),
        ({"visit_to": "2026-03-09"}, ["S-1", "S-2"]),
        ({"visit_from": "2026-03-09", "visit_to": "2026-03-09"}, ["S-2"]),
        ({"section": "Oak"}, ["S-1", "S-3"]),
        ({"shipper": "Moss"}, ["S-3"]),
        ({"words": ("s-1",)}, ["S-1"]),
        ({"words": ("store", "0417")}, ["S-1", "S-2"]),
        ({"words": ("store", "nowhere")}, []),
        ({"words": ("nowhere",), "found": (("nowhere", frozenset({"S-3"})),)}, ["S-3"]),
        ({"words": ("s-1",), "found": (("s-1", frozenset({"S-3"})),)}, ["S-1", "S-3"]),
        ({"words": ("0417", "07"), "found": (("07", frozenset({"S-1", "S-3"})),)}, ["S-1"]),
        ({"words": ("store",), "shipper": "Moss", "section": "Elm"}, []),
    ],
)
def test_rows_are_chosen_by_all_that_is_asked(store: Store, query: dict[str, object], shipments: list[str]) -> None:
    keep(
        store,
        row("S-1", urgency=1, visit="2026-03-08", sections='["Elm", "Oak"]'),
        row("S-2"),
        row("S-3", urgency=2, visit="2026-03-10", sections='["Oak"]', shipper="Moss"),
    )
    assert wanted(store, **query) == shipments


@pytest.mark.parametrize("column", ["rank", "distance", "load", "missing"])
def test_the_most_pressing_are_first(store: Store, column: str) -> None:
    keep(store, row("S-1", **{column: 6}), row("S-2"), row("S-3", **{column: 4}))
    assert wanted(store) == ["S-3", "S-2", "S-1"]
    assert wanted(store, descending=True) == ["S-1", "S-2", "S-3"]


@pytest.mark.parametrize(
    ("sort", "values", "upwards", "downwards"),
    [
        ("store", {"store": ("0417", "0417", "0100")}, ["S-3", "S-1", "S-2"], ["S-2", "S-1", "S-3"]),
        ("visit", {"visit": ("2026-03-09", None, "2026-03-08")}, ["S-3", "S-1", "S-2"], ["S-1", "S-3", "S-2"]),
        ("here", {"here": (0.5, None, 0.25)}, ["S-3", "S-1", "S-2"], ["S-1", "S-3", "S-2"]),
        ("missing", {"missing": (-1, -3, -2)}, ["S-1", "S-3", "S-2"], ["S-2", "S-3", "S-1"]),
        ("order_by", {"order_by": (None, "2026-03-05", "2026-03-04")}, ["S-3", "S-2", "S-1"], ["S-2", "S-3", "S-1"]),
        ("last_read", {"last_read": ("b", "a", None)}, ["S-2", "S-1", "S-3"], ["S-1", "S-2", "S-3"]),
    ],
)
def test_rows_are_sorted_by_a_column_and_those_without_come_last(
    store: Store, sort: str, values: dict[str, tuple[object, ...]], upwards: list[str], downwards: list[str]
) -> None:
    ((column, each),) = values.items()
    keep(store, *(row(shipment, **{column: value}) for shipment, value in zip(STORES, each, strict=True)))
    assert wanted(store, sort=sort) == upwards
    assert wanted(store, sort=sort, descending=True) == downwards


def test_a_page_of_rows_begins_and_ends_where_it_was_asked(store: Store) -> None:
    keep(store, *map(row, STORES))
    pages = [store.list_rows(ListQuery(), limit=2, offset=n) for n in (0, 2)]
    assert [[each.shipment for each in page] for page in pages] == [["S-1", "S-2"], ["S-3"]]
    assert store.list_rows(ListQuery(shipment="S-1")) == (("S-1", "row of S-1", as_utc_text(NOW + 9 * HOUR)),)


def test_rows_are_counted_by_urgency_within_a_scope(store: Store) -> None:
    keep(store, row("S-1", urgency=1), row("S-2", urgency=1), row("S-3", urgency=2))
    assert store.urgencies(EVERYTHING) == {1: 2, 2: 1}
    assert store.urgencies(DataScope(frozenset({"0100"}))) == {2: 1}


def test_sections_and_shippers_are_named_once_in_order_within_a_scope(store: Store) -> None:
    keep(store, row("S-1", sections='["Oak", "Elm", "Elm"]'), row("S-2", shipper=""), row("S-3", shipper="Moss"))
    assert store.list_names(EVERYTHING, 10) == (("Elm", "Oak"), ("Moss", "Tallow"))
    assert store.list_names(EVERYTHING, 1) == (("Elm",), ("Moss",))
    assert store.list_names(DataScope(frozenset({"0417"})), 10) == (("Elm", "Oak"), ("Tallow",))
    assert store.list_names(DataScope(frozenset({"0417"})), 1) == (("Elm",), ("Tallow",))


def test_shipments_around_a_day_are_the_earliest_without_this_one(store: Store) -> None:
    later = Manifest("S-4", "0417", MANIFEST.cartons, date(2026, 3, 12))
    store.add_revisions([(later, 0, ())], source="m.csv", imported_at=NOW)
    first, last = date(2026, 3, 9), date(2026, 3, 12)
    assert store.shipments_around("S-2", first, last, most=9) == ("S-1", "S-3", "S-4")
    assert store.shipments_around("S-2", first, last, most=2) == ("S-1", "S-3")
    assert store.shipments_around("S-1", first + timedelta(1), last, most=9) == ("S-4",)
    assert store.shipments_around("S-4", first, last - timedelta(1), most=9) == ("S-1", "S-2", "S-3")


# --- when a row is made again --------------------------------------------------------------------------------------


def test_rows_are_stale_until_they_are_made(store: Store) -> None:
    assert set(store.stale_rows(100)) == set(STORES) and store.count_stale_rows() == 3
    assert len(store.stale_rows(2)) == 2
    before = store.list_version()
    keep(store, row("S-1"))
    assert set(store.stale_rows(100)) == {"S-2", "S-3"}
    assert store.list_version() == before + 1


def test_a_row_that_went_stale_again_while_it_was_made_stays_so(store: Store) -> None:
    marks = store.stale_rows(100)
    store.put_list_rows([(row("S-1"), ())], {**marks, "S-1": marks["S-1"] + 1}, NOW)
    assert "S-1" in store.stale_rows(100)
    assert wanted(store) == ["S-1"], "it is shown meanwhile"


def test_a_row_is_kept_in_place_of_the_one_before(store: Store) -> None:
    keep(store, row("S-1", sections='["Elm", "Oak"]'), row("S-2"), row("S-3"))
    store.put_list_rows([(row("S-1", rank=9, row="newer", sections='["Fir"]'), ())], {"S-1": 0}, NOW)
    assert [each.row for each in store.list_rows(ListQuery(shipment="S-1"))] == ["newer"]
    assert wanted(store) == ["S-2", "S-3", "S-1"]
    assert (wanted(store, section="Oak"), wanted(store, section="Fir")) == ([], ["S-1"])


def test_voided_shipments_have_no_row_and_unreadable_ones_stay_to_be_made(store: Store) -> None:
    keep(store, *map(row, STORES))
    marks = dict.fromkeys(STORES, 0)
    for table in ("S-1", "S-2"):
        store._db.execute("INSERT INTO stale_rows VALUES (?, 0)", [table])
    before = store.list_version()
    store.put_list_rows([], marks, NOW, voided=("S-1",), unreadable=("S-2",))
    assert wanted(store) == ["S-3"] and wanted(store, section="Elm") == ["S-3"]
    assert set(store.stale_rows(9)) == {"S-2"}
    assert store.list_version() == before + 1


@pytest.mark.parametrize("how", ["voided", "unreadable"])
def test_a_section_that_no_row_has_any_more_is_not_offered(store: Store, how: str) -> None:
    keep(store, row("S-1", sections='["Elm", "Fir"]'), row("S-2"), row("S-3"))
    assert store.list_names(EVERYTHING, 9)[0] == ("Elm", "Fir")
    store.put_list_rows([], {"S-1": 0}, NOW, **{how: ("S-1",)})  # type: ignore[arg-type]
    assert store.list_names(EVERYTHING, 9)[0] == ("Elm",)


def test_a_code_that_another_manifest_lists_makes_the_row_stale_where_it_was_read(store: Store) -> None:
    keep(store, row("S-1"), strange=("106141411234560003", "KX-7"))
    keep(store, row("S-2"), row("S-3"))
    assert store.count_stale_rows() == 0
    listed = replace(MANIFEST.cartons[1], barcode="KX-7")
    other = Manifest("S-5", "0999", (listed,))
    store.add_revisions([(other, 0, ())], source="m.csv", imported_at=NOW)
    assert set(store.stale_rows(9)) == {"S-1", "S-5"}
    keep(store, row("S-1"))
    store.add_revisions([(replace(other, cartons=(MANIFEST.cartons[0],)), 1, ())], source="m.csv", imported_at=NOW)
    assert "S-1" not in store.stale_rows(9), "the codes of the row before are forgotten"


def test_another_maker_makes_all_rows_stale_and_the_same_none(store: Store) -> None:
    store.made_by("one")
    keep(store, *map(row, STORES))
    store.made_by("one")
    assert store.count_stale_rows() == 0
    store.made_by("two")
    assert store.count_stale_rows() == 3
    keep(store, *map(row, STORES))
    store.made_by("two")
    assert store.count_stale_rows() == 0


def test_rows_whose_day_is_over_are_found_and_changed_unless_they_were_made_again(store: Store) -> None:
    keep(store, row("S-1", good_until=as_utc_text(NOW)), row("S-2", good_until=as_utc_text(NOW + HOUR)), row("S-3"))
    assert store.ended_rows(NOW - HOUR, 9) == ()
    assert store.ended_rows(NOW, 9) == ("row of S-1",)
    assert store.ended_rows(NOW + HOUR, 9) == ("row of S-1", "row of S-2")
    assert len(store.ended_rows(NOW + HOUR, 1)) == 1
    before = store.list_version()
    until = as_utc_text(NOW + 24 * HOUR)
    changed = row("S-1", urgency=0, rank=1, order_by="2026-03-03", good_until=until, words="not changed")
    store.put_days([changed, row("S-2", rank=0, row="made again")], NOW)
    assert wanted(store) == ["S-1", "S-2", "S-3"]
    assert wanted(store, urgencies=frozenset({0})) == ["S-1"] and wanted(store, words=("not",)) == []
    assert store.list_rows(ListQuery(shipment="S-1"))[0].good_until == until
    assert wanted(store, sort="order_by")[0] == "S-1"
    assert store.list_version() == before + 1


def test_words_are_looked_for_whatever_their_case() -> None:
    assert words_of(["S-1", "Straße ÄB"]) == "s-1 strasse äb"
