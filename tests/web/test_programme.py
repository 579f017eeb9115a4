"""The pages over all stores: the programme by week, the list to call, swaps and what choices cost."""

import csv
import io
from datetime import UTC, datetime

import pytest

from receiving import service
from receiving.errors import BadRequest
from receiving.model import Place, Source
from tests.web.conftest import Browser
from tests.web.page_text import read
from tests.web.scenario import SHIPMENT, sscc


def scan(ctx: service.Context, shipment: str, *serials: int) -> None:
    for serial in serials:
        service.add_scan(ctx, shipment, f"]C100{sscc(serial)}", place=Place.DOCK, by="A", source=Source.SCANNER)


def test_stores_that_have_not_counted_shortly_before_the_visit_are_called(
    browser: Browser, ctx: service.Context
) -> None:
    page = read(browser.get("/call-list?days=1").text)  # Thursday; S-2041/A is visited on Friday, S-2055 on Monday
    assert "1 shipment not counted yet, with the visit in 1 working day or less." in page.text
    assert ["Store 0417" in e.text for e in page.all("li")] == [True]
    links = [e.attributes["href"] for e in page.all("a") if e.text == "Link for counting"]
    assert browser.get(links[0]).status_code == 200
    rows = list(csv.DictReader(io.StringIO(browser.get("/call-list.csv?days=2").text)))
    assert [row["shipment"] for row in rows] == [SHIPMENT, "S-2055"]
    scan(ctx, SHIPMENT, 1)
    assert "0 shipments" in read(browser.get("/call-list?days=1").text).text


def test_the_programme_shows_its_weeks_and_what_is_missing(browser: Browser, ctx: service.Context) -> None:
    scan(ctx, "S-2055", 101, 102, 103)
    page = read(browser.get("/programme").text)
    (week, later) = [row for row in page.all("tr") if row.inside and row.text.split()[0] in ("Mon",)]
    assert [e.text for e in week.inside if e.name == "td"][:5] == ["1", "0", "0", "0", "1"]
    assert [e.text for e in later.inside if e.name == "td"][:5] == ["1", "0", "0", "1", "0"]
    assert "25.0%: 1 of 4 cartons in 1 shipment" in page.text
    rows = list(csv.DictReader(io.StringIO(browser.get("/programme.csv").text)))
    assert [(r["part"], r["name"]) for r in rows][:2] == [("week", "2026-03-02"), ("week", "2026-03-09")]
    assert ("item", "tray: 1 × TRAY-H41 for Harbor Lane, column 4, row 1") in [(r["part"], r["name"]) for r in rows]


def test_readiness_is_kept_from_day_to_day_and_drawn(browser: Browser, ctx: service.Context) -> None:
    service.get_overview(ctx)  # both are not counted on the 5th
    ctx.now = lambda: datetime(2026, 3, 6, 9, 30, tzinfo=UTC)
    scan(ctx, "S-2055", 101, 102, 103, 104)
    service.get_overview(ctx)
    ctx.now = lambda: datetime(2026, 3, 7, 9, 30, tzinfo=UTC)
    service.get_overview(ctx)  # the visit of S-2041/A was on the 6th
    service.import_manifest(ctx, "late.csv", b"shipment,store,carton,kind,dispatch_date\nS-9,0500,01,tray,2026-03-20\n")
    service.void_shipment(ctx, "S-9", reason="by mistake", by="Ada")
    rows = list(csv.reader(io.StringIO(browser.get("/readiness.csv").text)))
    assert rows == [
        ["day", "visits_to_come", "ready", "followed_up", "short", "not_counted"],
        ["2026-03-05", "2", "0", "0", "0", "2"],
        ["2026-03-06", "2", "1", "0", "0", "1"],
        ["2026-03-07", "1", "1", "0", "0", "0"],
    ]
    html = browser.get("/programme").text
    page = read(html)
    assert "Fri 6 Mar: 1 ready, 0 followed up, 0 short, 1 not counted" in html
    assert len([e for e in page.all("rect", class_="frame") if e.attributes["height"] == "100"]) == 2


def test_kits_and_lanes_are_told_apart_by_what_is_missing(browser: Browser, ctx: service.Context) -> None:
    head = "shipment,store,carton,kind,section,item,qty,dispatch_date,references"
    rows = [
        f'K-{n},70{n},0{c},tray,{section},IT-{c},1,2026-03-20,"shipper=Works\ncarrier=Oxen"'
        for n, section in enumerate(("Oak", "Oak", "Elm"))
        for c in (1, 2)
    ]
    service.import_manifest(ctx, "kits.csv", "\n".join([head, *rows]).encode())
    service.add_scan(ctx, "K-0", "01", place=Place.DOCK, by="A", source=Source.TYPED)
    service.add_scan(ctx, "K-2", "01", place=Place.DOCK, by="A", source=Source.TYPED)
    found = service.get_programme(ctx)
    assert [
        (str(service.name_words(share.name)).split(",")[0], share.shipments, share.missing) for share in found.kits
    ] == [
        ("Elm", 1, 1),
        ("Oak", 1, 1),
    ]
    assert [(str(service.name_words(share.name)), share.missing) for share in found.lanes] == [
        ("Works to region not known by Oxen", 2)
    ]
    page = read(browser.get("/programme").text)
    assert ("Missing by kit" in page.text, "Missing by lane" in page.text) == (True, True)
    parts = {row["part"] for row in csv.DictReader(io.StringIO(browser.get("/programme.csv").text))}
    assert {"kit", "lane"} <= parts


def test_what_choices_cost_is_kept_and_checked(browser: Browser, ctx: service.Context) -> None:
    assert browser.post("/swaps/costs", {"second_visit": "2", "day": "0.5", "swap": "0.1"}).status_code == 303
    assert service.get_costs(ctx) == service.Costs(2, 0.5, 0.1)
    for bad in ("two", "-1", "nan", "inf"):
        assert browser.post("/swaps/costs", {"second_visit": bad, "day": "0.5", "swap": "0.1"}).status_code == 400
    assert service.get_costs(ctx) == service.Costs(2, 0.5, 0.1)
    page = read(browser.get("/swaps").text)
    assert "No extra carton of one store would help the visit of another." in page.text
    assert page.all("input", id="second_visit")[0].attributes["value"] == "2"


@pytest.mark.parametrize(
    ("table", "fault"),
    [
        (b"from,to,cost\n1,2,3\n", "The table of lanes has no column 'days'"),
        (b"from,to,cost,days\n1,2,0.5,2\n1,3,cheap,2\n", "Line 3 of the table of lanes is '1,3,cheap,2'"),
        (b"from,to,cost,days\n1,2,0.5,0\n", "Line 2 of the table of lanes"),
        (b"from,to,cost,days\n1,2,0.5\n", "Line 2 of the table of lanes"),
        (b"from,to,cost,days\n1,2,nan,1\n", "Line 2 of the table of lanes"),
        (b"\xff\xfe", "lanes.csv is not UTF-8 text"),
        (b"", "The table of lanes has no column 'from'"),
    ],
)
def test_a_faulty_table_of_lanes_is_refused_whole(ctx: service.Context, table: bytes, fault: str) -> None:
    with pytest.raises(BadRequest, match=fault):
        service.save_lanes(ctx, "lanes.csv", table)
    assert service.get_lanes(ctx) == {}


def test_a_table_of_lanes_is_taken_from_the_page(browser: Browser, ctx: service.Context) -> None:
    fields = {"file": (io.BytesIO(b"from,to,cost,days\n0433,0422,0.1,1\n"), "lanes.csv")}
    assert browser.post("/swaps/lanes", fields, content_type="multipart/form-data").status_code == 303
    assert service.get_lanes(ctx) == {("0433", "0422"): (0.1, 1)}
    assert "1 lane known." in read(browser.get("/swaps").text).text


def deliver(browser: Browser, text: str) -> int:
    fields = {"file": (io.BytesIO(text.encode()), "delivered.csv")}
    return browser.post("/deliveries", fields, content_type="multipart/form-data").status_code


def test_what_was_delivered_and_is_not_counted_says_so(browser: Browser, ctx: service.Context) -> None:
    assert deliver(browser, "shipment,delivered_on\nS-2041/A,2026-03-03\nS-2055,\n") == 303
    assert "Delivered on Tue 3 Mar and not counted yet; ask the store" in read(browser.get("/overview").text).text
    assert "delivered Tue 3 Mar" in read(browser.get("/call-list").text).text
    scan(ctx, SHIPMENT, 1)
    page = read(browser.get("/programme").text)
    assert "2 days" in page.text.split("From delivery to the first count")[1]  # scanned on Thursday 5


@pytest.mark.parametrize(
    "text",
    [
        "shipment,day\nS-2055,2026-03-03\n",
        "shipment,delivered_on\nS-2055,2026-03-03\nS-2041/A,3 March\n",
        "shipment,delivered_on\nS-2055,2026-03-03\nS-9999,2026-03-03\n",
    ],
)
def test_a_faulty_list_of_deliveries_is_refused_whole(browser: Browser, ctx: service.Context, text: str) -> None:
    assert deliver(browser, text) == 400
    assert service.get_shipment(ctx, "S-2055").notes == ()


def test_what_choices_cost_makes_no_row_of_the_lists_anew(ctx: service.Context) -> None:
    service.get_overview(ctx)
    service.save_costs(ctx, service.Costs(2, 0.5, 0.1))
    service.save_lanes(ctx, "lanes.csv", b"from,to,cost,days\n0433,0422,0.1,1\n")
    with ctx.store() as store:
        assert store.count_stale_rows() == 0
