"""Lists a page at a time: rows kept in the store are what a full computation gives, whatever was done before."""

from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from itertools import count
from pathlib import Path
from random import Random
from threading import Event

import pytest
from flask.testing import FlaskClient

from receiving import service
from receiving.dispatch import DispatchRow, Selection, SortKey, Urgency, decide, select
from receiving.errors import NotYet, ReceivingError
from receiving.model import Place, Source, Units, mod10_check_digit
from receiving.model.replacement import Delivery
from receiving.service import list_pages
from receiving.service.list_pages import LIST_PAGE_SIZE, find_shipments_with, get_list_page, list_key
from receiving.service.listing import row
from receiving.service.pools import RowsHere
from receiving.service.snapshot import snapshot
from receiving.service.stores import StoreDays
from receiving.store import Store
from tests.planned_reader import PlannedReader
from tests.receipts import confirm_with_shorts
from web import create_app

START = datetime(2026, 3, 5, 9, 30, tzinfo=UTC)
STORES = ("0417", "0422", "0500")
STEPS = 60
PATTERN_TEXTS = (
    "",
    "[[pattern]]\nname = 'turned'\nregex = 'C(?P<row>[0-9]+) R(?P<column>[0-9]+)'\n",
    "[[pattern]]\nname = 'own number'\nregex = '(?P<sscc>[0-9]{18})'\nelement = '91'\n",
)
HEADER = "shipment,store,carton,sscc,kind,section,column,row,item,qty,weight_kg,dispatch_date"


def sscc(serial: int) -> str:
    body = f"3952{serial:013d}"
    return body + mod10_check_digit(body)


class Clock:
    """A clock that a test moves on."""

    def __init__(self) -> None:
        self.now = START

    def __call__(self) -> datetime:
        self.now += timedelta(seconds=1)
        return self.now


class History:
    """Random things that people do, at a context whose lists are looked at now and then."""

    def __init__(self, folder: Path, seed: int) -> None:
        self.random, self.clock, ids = Random(seed), Clock(), count()
        self.folder = folder
        self.ctx = self.context_here()
        self.ctx.new_id = lambda: f"00000000-0000-4000-8000-{next(ids):012d}"
        self.serials = 0
        self.shipments: list[str] = []
        for _ in range(4):
            self.import_new()

    def context_here(self) -> service.Context:
        return service.Context(self.folder, PlannedReader(), now=self.clock)

    def import_manifest(self, shipment: str, store: str, serials: list[int]) -> None:
        day = (self.clock.now + timedelta(days=self.random.randint(-5, 20))).date()
        lines = [
            f"{shipment},{store},{n:02d},{sscc(serial)},{'tags' if n == 1 else 'tray'},Sol,{n},1,IT-{n},1,6,{day}"
            for n, serial in enumerate(serials, 1)
        ]
        service.import_manifest(self.ctx, "m.csv", "\n".join([HEADER, *lines]).encode())

    def import_new(self) -> None:
        cartons = self.random.randint(1, 4)
        # A new manifest may list what was read elsewhere before: serials come from a small pool.
        serials = [self.random.randint(1, 60) for _ in range(cartons)]
        self.shipments.append(f"S-{len(self.shipments)}")
        self.import_manifest(self.shipments[-1], self.random.choice(STORES), list(dict.fromkeys(serials)))

    def revise(self) -> None:
        serials = [self.random.randint(1, 60) for _ in range(self.random.randint(1, 4))]
        self.import_manifest(self.some(), self.random.choice(STORES), list(dict.fromkeys(serials)))

    def some(self) -> str:
        return self.random.choice(self.shipments)

    def carton(self, shipment: str) -> str:
        return self.random.choice(service.get_shipment(self.ctx, shipment).manifest.cartons).carton

    def scan(self) -> None:
        serial = sscc(self.random.randint(1, 60))
        text = self.random.choices((f"]C100{serial}", "C1 R1", f"]C191{serial}"), (8, 1, 1))[0]
        service.add_scan(self.ctx, self.some(), text, place=Place.DOCK, by="Ana", source=Source.SCANNER)

    def note(self) -> None:
        shipment = self.some()
        carton = self.carton(shipment)
        day = (self.clock.now + timedelta(days=self.random.randint(-2, 9))).date().isoformat()
        kind, fields = self.random.choice(
            [
                ("carton_seen", {"carton": carton}),
                ("shortage_followed", {"carton": carton, "step": "on_its_way", "due": day}),
                ("shortage_followed", {"carton": carton, "step": "done_without"}),
                ("visit_decided", {"go": False, "until": day}),
                ("visit_decided", {"go": True, "cartons": [carton]}),
                ("damage_noted", {"carton": carton, "reason": "arrived", "usable": False}),
            ]
        )
        service.add_note(self.ctx, shipment, kind, by="Ana", **fields)

    def withdraw(self) -> None:
        shipment = self.some()
        notes = service.get_shipment(self.ctx, shipment).notes
        if notes:
            chosen = self.random.choice(notes).note_id
            service.add_note(self.ctx, shipment, "note_withdrawn", by="Ana", withdrawn=chosen)

    def lay_out(self) -> None:
        store, name = self.random.choice(STORES), self.random.choice(("North", "South"))
        zone = self.random.choice(("America/Chicago", "Europe/Berlin"))
        text = (
            f'[store]\nid = "{store}"\nname = "{name}"\ntime_zone = "{zone}"\nwalk_m = 60\n[cart]\nmax_load_kg = 110\n'
            "deck_length_cm = 120\ndeck_width_cm = 60\nstack_height_cm = 100\n"
            '[[bay]]\nid = "B1"\nsection = "Sol"\ncolumns = [1, 2, 3, 4]\nwidth_cm = 122\n'
            "staging_length_cm = 122\nstaging_depth_cm = 60\norder = 1\n"
        )
        service.import_layout(self.ctx, "layout.toml", text.encode())

    def list_stores(self) -> None:
        store, name = self.random.choice(STORES), self.random.choice(("East", "West", ""))
        row = f"{store},{name},{self.random.choice(('Asia/Tokyo', ''))},{self.random.choice(('JP', ''))},"
        service.import_stores(self.ctx, "stores.csv", f"store,name,time_zone,country,lead_days\n{row}2\n".encode())

    def ask_for_replacements(self) -> None:
        service.issue_request(self.ctx, self.random.choice(STORES), Delivery("Dock 1", "Ana"), by="Ana")

    def confirm(self) -> None:
        shipment = self.some()
        confirm_with_shorts(self.ctx, shipment)

    def change_patterns(self) -> None:
        text = self.random.choice(PATTERN_TEXTS)
        follows = len(service.list_text_versions(self.ctx, service.PATTERNS))
        if text:
            service.save_text(self.ctx, service.PATTERNS, "p.toml", text, follows=follows)
        else:
            service.reset_text(self.ctx, service.PATTERNS, follows=follows)

    def change_parts(self) -> None:
        rows = [("tray", "base", "1", ""), ("tray", self.random.choice(("rail", "lamp")), "2", "")]
        follows = service.get_parts_table(self.ctx).version
        service.save_parts_table(self.ctx, rows[: self.random.randint(1, 2)], follows=follows)

    def void(self) -> None:
        service.void_shipment(self.ctx, self.some(), by="Ana")

    def restore(self) -> None:
        service.restore_shipment(self.ctx, self.some(), by="Ana")

    def wait(self) -> None:
        self.clock.now += timedelta(hours=self.random.choice((1, 5, 30)))

    def step(self) -> None:
        chances: list[tuple[Callable[[], None], int]] = [
            (self.scan, 12),
            (self.note, 6),
            (self.withdraw, 2),
            (self.import_new, 2),
            (self.revise, 2),
            (self.lay_out, 1),
            (self.list_stores, 1),
            (self.ask_for_replacements, 1),
            (self.confirm, 1),
            (self.change_patterns, 2),
            (self.change_parts, 1),
            (self.void, 1),
            (self.restore, 1),
            (self.wait, 2),
        ]
        done = self.random.choices([each for each, _ in chances], [weight for _, weight in chances])[0]
        with suppress(ReceivingError):  # nothing to ask for, a bay that is not there: refused, and nothing is stored
            done()

    def computed(self) -> tuple[DispatchRow, ...]:
        """Every row from all that is stored, by a context that knows nothing."""
        days = StoreDays(self.clock.now)
        with self.context_here() as fresh, fresh.store() as store:
            made = [row(fresh, store, snapshot(fresh, store, record)) for record in store.shipments()]
        return tuple(decide(each, days(each.terms)) for each in made)

    def selection(self) -> Selection:
        pick = self.random.choice
        return Selection(
            words=pick(("", "", "s-1", "north", "04 s-")),
            states=pick((frozenset(), frozenset({Urgency.SHORT, Urgency.UNSEEN}), frozenset({Urgency.CLOSED}))),
            visit_from=pick((None, date(2026, 3, 6))),
            visit_to=pick((None, date(2026, 3, 16))),
            section=pick(("", "Sol", "Luna")),
            sort=pick(list(SortKey)),
            descending=pick((False, True)),
        )


def carrying(ctx: service.Context, carton: str) -> frozenset[str]:
    with ctx.store() as store:
        records = [store.revision(record.shipment).manifest for record in store.shipments(voided=None)]
    return frozenset(each.shipment for each in records if each.find(carton))


@pytest.mark.parametrize("seed", range(4))
def test_after_any_history_lists_are_what_a_full_computation_gives(tmp_path: Path, seed: int) -> None:
    history = History(tmp_path, seed)
    ctx = history.ctx
    with ctx:
        for number in range(STEPS):
            history.step()
            if number % 6:
                continue
            ctx.now = lambda: history.clock.now
            every = history.computed()
            for _ in range(4):
                wanted = history.selection()
                with ctx.store() as store:
                    found = find_shipments_with(store, wanted.words)
                assert found.get("04", carrying(ctx, "04")) == carrying(ctx, "04")
                assert list(get_list_page(ctx, wanted).rows) == list(select(every, wanted, found)), wanted
            listed = get_list_page(ctx, Selection())
            assert listed.all == len(every) and listed.in_work == 0
            assert listed.urgencies == {each: n for each in Urgency if (n := _count(every, each))}
            assert {each.shipment for each in service.list_shipments(ctx)} == {each.row.shipment for each in every}
            assert service.get_overview(ctx) == tuple(select(every, Selection()))
            ctx.now = history.clock


def _count(rows: tuple[DispatchRow, ...], urgency: Urgency) -> int:
    return sum(each.urgency is urgency for each in rows)


def few(folder: Path) -> History:
    history = History(folder, 1)
    history.ctx.now = lambda: history.clock.now
    get_list_page(history.ctx, Selection())
    return history


def made_rows(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The shipments whose rows are made from now on."""
    made: list[str] = []
    make = list_pages.row

    def noted(ctx: service.Context, store: Store, found: object) -> object:
        made.append(found.record.shipment)  # type: ignore[attr-defined]
        return make(ctx, store, found)  # type: ignore[arg-type]

    monkeypatch.setattr(list_pages, "row", noted)
    return made


def test_a_restart_makes_no_row_anew(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    few(tmp_path).ctx.close()
    made = made_rows(monkeypatch)
    with service.Context(tmp_path, PlannedReader(), now=lambda: START + timedelta(minutes=5)) as again:
        assert get_list_page(again, Selection()).all == 4
    assert made == []


def test_another_version_of_the_program_makes_all_rows_anew(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    few(tmp_path).ctx.close()
    made = made_rows(monkeypatch)
    monkeypatch.setattr(list_pages, "_maker", lambda: "another version")
    with service.Context(tmp_path, PlannedReader(), now=lambda: START) as again:
        get_list_page(again, Selection())
    assert len(made) == 4


def test_a_layout_of_another_store_and_an_unrelated_manifest_make_no_other_row(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    history = few(tmp_path)
    with history.ctx as ctx:
        made = made_rows(monkeypatch)
        service.import_layout(ctx, "l.toml", _layout("9999"))
        service.import_stores(ctx, "stores.csv", b"store,time_zone\n9999,Asia/Tokyo\n")
        history.import_manifest("S-new", "9998", [900, 901])
        get_list_page(ctx, Selection())
        assert made == ["S-new"]


def test_what_no_row_shows_makes_none_anew(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    history = few(tmp_path)
    with history.ctx as ctx:
        made = made_rows(monkeypatch)
        service.save_settings(ctx, replace(service.get_settings(ctx), units=Units.US, sender=("A depot",)))
        heads = {"Load": "shipment", "Door": "store", "Box": "carton", "What": "kind"}
        service.save_mapping(ctx, service.ColumnMapping("A shipper", tuple(heads.items())))
        service.save_costs(ctx, service.Costs(2.0, 0.2, 0.5))
        service.save_lanes(ctx, "lanes.csv", b"from,to,cost,days\n0417,0422,0.2,1\n")
        get_list_page(ctx, Selection())
        assert made == []


def scanned(ctx: service.Context, shipment: str, text: str) -> None:
    service.add_scan(ctx, shipment, text, place=Place.DOCK, by="Ana", source=Source.SCANNER)


def saved_patterns(ctx: service.Context, text: str) -> None:
    follows = len(service.list_text_versions(ctx, service.PATTERNS))
    service.save_text(ctx, service.PATTERNS, "p.toml", text, follows=follows)


def test_patterns_make_the_rows_anew_where_something_was_read_that_they_are_tried_on(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with service.Context(tmp_path, PlannedReader(), now=Clock()) as ctx:
        lines = [f"S-{n},00{n},01,{sscc(n + 1)},tray,Sol,1,1,IT,1,6,2026-03-20" for n in range(4)]
        service.import_manifest(ctx, "m.csv", "\n".join([HEADER, *lines]).encode())
        scanned(ctx, "S-0", f"]C100{sscc(1)}")
        scanned(ctx, "S-1", "C1 R1")
        scanned(ctx, "S-2", f"]C191{sscc(3)}")
        get_list_page(ctx, Selection())
        made = made_rows(monkeypatch)
        saved_patterns(ctx, PATTERN_TEXTS[1])
        get_list_page(ctx, Selection())
        assert made == ["S-1"]
        saved_patterns(ctx, PATTERN_TEXTS[2])
        found = {each.row.shipment: each.row.here for each in get_list_page(ctx, Selection()).rows}
        assert sorted(made[1:]) == ["S-0", "S-1", "S-2"], "S-0 holds an element too, the SSCC's own"
        assert found["S-2"] == 1


def test_a_parts_list_makes_the_rows_anew_where_cartons_are_missing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with service.Context(tmp_path, PlannedReader(), now=Clock()) as ctx:
        lines = [
            f"S-{n},00{n},{k:02d},{sscc(10 * n + k)},tray,Sol,{k},1,IT,1,6,2026-03-20" for n in range(3) for k in (1, 2)
        ]
        service.import_manifest(ctx, "m.csv", "\n".join([HEADER, *lines]).encode())
        for text in (sscc(1), sscc(2)):
            scanned(ctx, "S-0", f"]C100{text}")
        scanned(ctx, "S-1", f"]C100{sscc(11)}")
        get_list_page(ctx, Selection())
        made = made_rows(monkeypatch)
        service.save_parts_table(ctx, [("tray", "base", "1", "")], follows=0)
        get_list_page(ctx, Selection())
        assert made == ["S-1"]


def test_a_row_that_is_to_be_made_when_patterns_change_stays_so(tmp_path: Path) -> None:
    with service.Context(tmp_path, PlannedReader(), now=Clock()) as ctx:
        service.import_manifest(ctx, "m.csv", f"{HEADER}\nS-0,000,01,{sscc(1)},tray,Sol,1,1,IT,1,6,2026-03-20".encode())
        get_list_page(ctx, Selection())
        scanned(ctx, "S-0", "C1 R1")  # the row does not know of it yet
        with ctx.store() as store:
            marks = store.stale_rows(9)
            saved_patterns(ctx, PATTERN_TEXTS[1])
            assert store.stale_rows(9) != marks


def _layout(store: str) -> bytes:
    return (
        f'[store]\nid = "{store}"\nwalk_m = 60\n[cart]\nmax_load_kg = 110\ndeck_length_cm = 120\ndeck_width_cm = 60\n'
        'stack_height_cm = 100\n[[bay]]\nid = "B1"\nsection = "Sol"\ncolumns = [1]\nwidth_cm = 122\n'
        "staging_length_cm = 122\nstaging_depth_cm = 60\norder = 1\n"
    ).encode()


def test_a_manifest_that_lists_what_was_read_elsewhere_makes_that_row_anew(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    history = few(tmp_path)
    with history.ctx as ctx:
        service.add_scan(ctx, "S-0", f"]C100{sscc(950)}", place=Place.DOCK, by="Ana", source=Source.SCANNER)
        get_list_page(ctx, Selection())
        made = made_rows(monkeypatch)
        history.import_manifest("S-new", "9998", [950])
        get_list_page(ctx, Selection())
        assert sorted(made) == ["S-0", "S-new"]


def test_a_new_day_sorts_rows_anew_and_makes_none(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    history = few(tmp_path)
    with history.ctx as ctx:
        made = made_rows(monkeypatch)
        before = {each.row.shipment: each.days_to_visit for each in get_list_page(ctx, Selection()).rows}
        history.clock.now += timedelta(days=1)
        after = {each.row.shipment: each.days_to_visit for each in get_list_page(ctx, Selection()).rows}
        assert after == {name: days - 1 for name, days in before.items() if days is not None}
        assert made == []


def test_what_is_long_over_stands_last_by_its_day(tmp_path: Path) -> None:
    history = few(tmp_path)
    with history.ctx as ctx:
        for name, days in (("S-old", 400), ("S-older", 500), ("S-lately", 20)):
            day = (history.clock.now - timedelta(days=days)).date()
            text = f"{HEADER}\n{name},7000,01,{sscc(800 + days)},tray,Sol,1,1,IT,1,6,{day}"
            service.import_manifest(ctx, "m.csv", text.encode())
        rows = get_list_page(ctx, Selection()).rows
        assert [each.row.shipment for each in rows][-3:] == ["S-lately", "S-old", "S-older"]
        assert [list_key(each) for each in rows] == sorted(list_key(each) for each in rows)


def test_a_page_takes_few_statements_whatever_the_number_of_shipments(tmp_path: Path) -> None:
    """As the overview is asked for, by 50 and by 5,000 shipments, its first page and its last."""
    with service.Context(tmp_path, PlannedReader(), now=lambda: START) as ctx:
        client = create_app(ctx).test_client()
        counted = [_count_statements(ctx, client, number) for number in (50, 5_000)]
    assert max(map(max, counted)) <= 20, counted
    assert len(set(map(max, counted))) == 1, counted


def _count_statements(ctx: service.Context, client: FlaskClient, number: int) -> tuple[int, int]:
    """How many SQL statements the first and the last page of this many shipments take."""
    lines = [f"S-{n},{n:04d},01,{sscc(n)},tray,Sol,1,1,IT,1,6,2026-03-{n % 20 + 5:02d}" for n in range(number)]
    service.import_manifest(ctx, "m.csv", "\n".join([HEADER, *lines]).encode())
    pages, counted = -(-number // LIST_PAGE_SIZE), []
    assert len(get_list_page(ctx, Selection(), page=pages).rows) in (50, LIST_PAGE_SIZE)
    for page in (1, pages):
        client.get(f"/overview?page={page}")
        statements: list[str] = []
        with ctx.store() as store:
            store._db.conn.set_trace_callback(statements.append)
            response = client.get(f"/overview?page={page}")
            store._db.conn.set_trace_callback(None)
        assert (response.status_code, statements != []) == (200, True)
        counted.append(len(statements))
    return counted[0], counted[1]


def test_a_long_list_comes_as_csv_in_parts_with_each_shipment_once_in_its_order(tmp_path: Path) -> None:
    """Which ones it has is known at the start; each is as it is when its part is made, left out where it is gone."""
    clock = Clock()
    with service.Context(tmp_path, PlannedReader(), now=clock) as ctx:
        lines = [f"S-{n},{n:04d},01,{sscc(n)},tray,Sol,1,1,IT,1,6,2026-03-{n % 20 + 5:02d}" for n in range(450)]
        service.import_manifest(ctx, "m.csv", "\n".join([HEADER, *lines]).encode())
        pages = [get_list_page(ctx, Selection(), page=number).rows for number in range(1, 6)]
        order = [each.row.shipment for page in pages for each in page]
        statements: list[str] = []
        with ctx.store() as store:
            store._db.conn.set_trace_callback(statements.append)
            parts = service.make_overview_csv_parts(ctx)
            first = next(parts)
            assert len(statements) < 15, "it did not wait for all rows"
            store._db.conn.set_trace_callback(None)
        seen, gone = order[0], order[-1]
        service.add_note(ctx, seen, "carton_seen", by="Bo", carton="01")
        service.void_shipment(ctx, gone, by="Bo")
        assert get_list_page(ctx, Selection()).rows
        text = first + "".join(parts)
    assert [line.partition(",")[0] for line in text.splitlines()] == ["shipment", *order[:-1]]


class FewAtOnce(RowsHere):
    """Makes as few rows on the path of a request as the served app does."""

    at_once = 2


def test_rows_that_a_request_does_not_wait_for_are_made_beside_it(tmp_path: Path) -> None:
    with service.Context(tmp_path, PlannedReader(), now=Clock(), row_maker=FewAtOnce()) as ctx:
        lines = [f"S-{n},0417,01,{sscc(n + 1)},tray,Sol,1,1,IT,1,6,2026-03-20" for n in range(6)]
        service.import_manifest(ctx, "m.csv", "\n".join([HEADER, *lines]).encode())
        while list_pages.make_rows(ctx, 100):
            pass
        before = service.get_list_version(ctx)
        for n in range(6):
            text = f"]C100{sscc(n + 1)}"
            service.add_scan(ctx, f"S-{n}", text, place=Place.DOCK, by="A", source=Source.SCANNER)
        listed = get_list_page(ctx, Selection())
        assert (len(listed.rows), sum(row.row.here for row in listed.rows)) == (6, 2)
        service.keep_rows(ctx)
        for _ in range(400):
            if sum(row.row.here for row in get_list_page(ctx, Selection()).rows) == 6:
                break
            Event().wait(0.05)
        assert sum(row.row.here for row in get_list_page(ctx, Selection()).rows) == 6
        assert service.get_list_version(ctx) > before


def test_a_shipment_that_is_scanned_all_the_time_has_its_row_made_once_a_while(tmp_path: Path) -> None:
    with service.Context(tmp_path, PlannedReader(), now=Clock(), row_maker=FewAtOnce()) as ctx:
        lines = [f"S-{n},{STORES[n]},01,{sscc(n + 1)},tray,Sol,1,1,IT,1,6,2026-03-20" for n in range(3)]
        service.import_manifest(ctx, "m.csv", "\n".join([HEADER, *lines]).encode())
        assert list_pages.look_after_rows(ctx) < list_pages.KEEP_EVERY_S  # one of three is left
        assert list_pages.look_after_rows(ctx) >= list_pages.KEEP_EVERY_S
        service.add_scan(ctx, "S-1", f"]C100{sscc(2)}", place=Place.DOCK, by="A", source=Source.SCANNER)
        assert list_pages.look_after_rows(ctx) >= list_pages.KEEP_EVERY_S  # the next scan does not call it back
        with ctx.store() as store:
            assert store.count_stale_rows() == 0


def test_nothing_is_said_of_all_while_many_are_worked_out_and_one_visit_is_still_decided(tmp_path: Path) -> None:
    class Away(RowsHere):
        """Begins, and is not done yet."""

        at_once = 5

        def make_all(self, data: Path, make_some: Callable[[], bool]) -> None: ...

    with service.Context(tmp_path, PlannedReader(), now=Clock(), row_maker=Away()) as ctx:
        lines = [f"S-{n},0417,01,{sscc(n + 1)},tray,Sol,1,1,IT,1,6,2026-03-20" for n in range(150)]
        service.import_manifest(ctx, "m.csv", "\n".join([HEADER, *lines]).encode())
        for ask in (service.get_overview, service.get_programme, service.list_to_call, service.get_swap_plan):
            with pytest.raises(NotYet, match="150 shipments are being worked out"):
                ask(ctx)
        service.add_scan(ctx, "S-7", f"]C100{sscc(8)}", place=Place.DOCK, by="A", source=Source.SCANNER)
        assert service.get_decision(ctx, "S-7").decided.row.here == 1
        while list_pages.make_rows(ctx, 100):
            pass
        assert len(service.get_overview(ctx)) == 150


def test_work_beside_the_requests_goes_on_after_a_fault(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("receiving.service.context.AFTER_A_FAULT_S", 0.0)
    done = Event()

    def work() -> float:
        if not seen:
            seen.append(1)
            raise ValueError("once")
        done.set()
        return 60.0

    seen: list[int] = []
    with service.Context(tmp_path, PlannedReader()) as ctx:
        ctx.repeat(work, name="test")
        assert done.wait(30)
