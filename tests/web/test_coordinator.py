"""The coordinator's pages: the overview, its CSV, and files coming in."""

import csv
import io
from datetime import UTC, date, datetime
from pathlib import Path

import openpyxl
import pypdfium2 as pdfium
from werkzeug.test import TestResponse

from receiving import service
from receiving.model import Place, Source
from receiving.model.replacement import Delivery
from tests.planned_reader import PlannedReader
from tests.receipts import confirm_with_shorts
from tests.web.conftest import Browser
from tests.web.page_text import read
from tests.web.scenario import LAYOUT, MANIFEST, SHIPMENT, open_context, sscc


def send(browser: Browser, kind: str, name: str, data: bytes) -> TestResponse:
    fields = {"kind": kind, "file": (io.BytesIO(data), name)}
    return browser.post("/import", fields, content_type="multipart/form-data")


def test_the_nearest_visit_that_is_short_stands_first(browser: Browser, ctx: service.Context) -> None:
    page = read(browser.get("/overview").text)
    stores = [e.text for e in page.all("a") if e.text.startswith("Store ")]
    assert stores == ["Store 0417", "Store 0422"]
    for serial in range(101, 105):
        service.add_scan(ctx, "S-2055", f"]C100{sscc(serial)}", place=Place.DOCK, by="A", source=Source.SCANNER)
    assert "1 shipment that nobody has looked at yet" in read(browser.get("/overview").text).text
    service.add_scan(ctx, SHIPMENT, f"]C100{sscc(1)}", place=Place.DOCK, by="A", source=Source.SCANNER)
    assert "1 shipment short with the visit still to come" in read(browser.get("/overview").text).text


def follow(browser: Browser, **fields: str | list[str]) -> TestResponse:
    back = "/s/S-2055/before-the-visit"
    return browser.post("/s/S-2055/notes", {"kind": "shortage_followed", "back": back, "by": "Ada", **fields})


def test_what_is_done_about_missing_cartons_settles_the_visit(browser: Browser, ctx: service.Context) -> None:
    for serial in (101, 102):
        service.add_scan(ctx, "S-2055", f"]C100{sscc(serial)}", place=Place.DOCK, by="A", source=Source.SCANNER)
    page = read(browser.get("/s/S-2055/before-the-visit").text)
    assert "2 missing, and 2 of 4 positions cannot be set: order or trace before sending the rep." in page.text
    assert [box.attributes["value"] for box in page.all("input", type="checkbox")] == ["03", "04"]
    sent = follow(browser, carton=["03", "04"], step="sent_again", due="2026-03-06", remark="tracking 77")
    assert sent.headers["Location"] == "/s/S-2055/before-the-visit"
    resolved = read(browser.get("/s/S-2055/before-the-visit").text)
    assert "2 missing (2 due by Fri 6 Mar): nothing that must hold the visit." in resolved.text
    assert "Carton 03: sent again, due Fri 6 Mar: tracking 77." in resolved.text
    assert "Followed up" in read(browser.get("/overview").text).text
    assert "Sent again, due Fri 6 Mar (tracking 77)" in read(browser.get("/s/S-2055").text).text
    (row,) = [r for r in csv.DictReader(io.StringIO(browser.get("/overview.csv").text)) if r["shipment"] == "S-2055"]
    assert (row["missing"], row["settled"], row["held"]) == ("2", "2", "no")


def test_a_step_that_is_undone_no_longer_counts(browser: Browser, ctx: service.Context) -> None:
    follow(browser, carton=["01", "02", "03", "04"], step="done_without")
    (note, *_) = service.get_shipment(ctx, "S-2055").notes
    browser.post("/s/S-2055/notes", {"kind": "note_withdrawn", "withdrawn": note.note_id, "by": "Ada"})
    decided = service.decide_shipment(ctx, "S-2055")
    assert sum(each.resolved for each in decided.outlooks) == 3


def test_a_visit_that_is_held_says_so_to_the_rep(browser: Browser) -> None:
    decided = {"kind": "visit_decided", "go": "false", "until": "2026-03-16", "remark": "header is late", "by": "Ada"}
    browser.post("/s/S-2055/notes", decided)
    assert "The visit is held until Mon 16 Mar: header is late." in read(browser.get("/s/S-2055").text).text
    assert "Visit on Mon 16 Mar" in read(browser.get("/s/S-2055/before-the-visit").text).text
    browser.post("/s/S-2055/notes", {"kind": "visit_decided", "go": "true", "by": "Ada"})
    assert "The visit is held" not in read(browser.get("/s/S-2055").text).text
    assert "the rep goes all the same" in read(browser.get("/overview").text).text


def test_a_step_without_a_carton_or_with_a_bad_day_changes_nothing(browser: Browser, ctx: service.Context) -> None:
    nobody = follow(browser, step="sent_again")
    assert (nobody.status_code, "No carton was chosen." in read(nobody.text).text) == (400, True)
    assert follow(browser, carton="01", step="sent_again", due="31.2.2026").status_code == 400
    assert follow(browser, carton="99", step="sent_again").status_code == 400
    assert service.get_shipment(ctx, "S-2055").notes == ()


def test_a_long_list_is_narrowed_by_words_and_turned_page_by_page(browser: Browser, ctx: service.Context) -> None:
    head = "shipment,store,carton,kind"
    rows = "\n".join(f"X-{n:03d},{900 + n % 3},01,tray" for n in range(230))
    service.import_manifest(ctx, "many.csv", f"{head}\n{rows}".encode())
    page = read(browser.get("/overview").text)
    assert "1 to 100 of 232" in page.text
    (after,) = page.all("a", rel="next")
    assert "101 to 200 of 232" in read(browser.get("/overview" + after.attributes["href"]).text).text
    assert "201 to 232 of 232" in read(browser.get("/overview?page=99").text).text
    for path in ("/", "/overview"):
        narrowed = read(browser.get(f"{path}?q=x-0+901").text)
        assert "33 shipments found" in narrowed.text
        assert "X-001" in narrowed.text
        assert "X-002" not in narrowed.text
    assert "0 shipments found" in read(browser.get("/?q=nothing+like+it").text).text


def test_a_notice_leads_to_the_shipments_that_it_counts(browser: Browser, ctx: service.Context) -> None:
    for serial in range(101, 104):
        service.add_scan(ctx, "S-2055", f"]C100{sscc(serial)}", place=Place.DOCK, by="A", source=Source.SCANNER)
    page = read(browser.get("/overview").text)
    (notice,) = [e for e in page.all("a") if "short with the visit still to come" in e.text]
    assert notice.attributes["href"] == "/overview?state=short"
    short = read(browser.get(notice.attributes["href"]).text)
    assert [e.text for e in short.all("a") if e.text.startswith("Store ")] == ["Store 0422"]
    assert "1 shipment found" in short.text


def test_a_shipment_is_found_by_a_code_a_carton_or_the_name_of_its_store(
    browser: Browser, ctx: service.Context
) -> None:
    service.import_layout(ctx, "layout.toml", LAYOUT.replace("walk_m", 'name = "Elm Street"\nwalk_m').encode())
    for words, store in (
        (sscc(103), "0422"),
        (sscc(103)[-6:], "0422"),
        ("elm", "0417"),
        ("13", "0417"),
        ("elm 03", "0417"),
    ):
        for path in ("/", "/overview"):
            found = read(browser.get(f"{path}?q={words}").text)
            assert ("1 shipment found" in found.text, f"Store {store}" in found.text) == (True, True), words
    assert "0 shipments found" in read(browser.get("/overview?q=99999999").text).text


def test_a_file_that_changes_one_shipment_of_many_shows_that_one_first(browser: Browser, ctx: service.Context) -> None:
    head = "shipment,store,carton,kind,weight_kg"
    rows = [f"X-{n:03d},{900 + n},01,tray,6" for n in range(300)]
    service.import_manifest(ctx, "many.csv", "\n".join([head, *rows]).encode())
    changed = [row.replace(",6", ",7") if row.startswith("X-207") else row for row in rows]
    page = read(send(browser, "manifest", "again.csv", "\n".join([head, *changed, "Y-1,77,01,tray,6"]).encode()).text)
    assert [e.text.split()[0] for e in page.all("h2")] == ["Changed", "New", "Unchanged", "Warnings"]
    assert "1 changed, 1 new and 299 unchanged." in page.text
    (folded,) = [e for e in page.all("details") if "299 shipments" in e.text]
    assert "open" not in folded.attributes
    before_the_fold = page.text.split("Show 299 shipments")[0]
    assert ("X-207" in before_the_fold, "X-206" in before_the_fold) == (True, False)
    assert before_the_fold.index("Import 2 shipments") < before_the_fold.index("X-207")


def test_every_time_is_that_of_the_store_and_names_its_zone(browser: Browser, ctx: service.Context) -> None:
    zoned = LAYOUT.replace("walk_m", 'time_zone = "America/Chicago"\nwalk_m')
    service.import_layout(ctx, "layout.toml", zoned.encode())
    far = zoned.replace("0417", "0422").replace("America/Chicago", "Asia/Tokyo")
    service.import_layout(ctx, "far.toml", far.encode())
    for shipment, serial in ((SHIPMENT, 1), ("S-2055", 101)):
        service.add_scan(ctx, shipment, f"]C100{sscc(serial)}", place=Place.DOCK, by="A", source=Source.SCANNER)
    assert "03:30 CST" in read(browser.get("/s/S-2041~2FA").text).text  # 09:30 UTC
    assert "18:30 JST" in read(browser.get("/s/S-2055").text).text
    overview = read(browser.get("/overview").text).text
    assert ("03:30 CST" in overview, "18:30 JST" in overview) == (True, True)


def test_the_day_of_a_visit_is_that_of_the_store(tmp_path: Path, reader: PlannedReader) -> None:
    with open_context(tmp_path, reader) as ctx:
        ctx.now = lambda: datetime(2026, 3, 6, 4, 30, tzinfo=UTC)  # still the 5th in Chicago, the visit is on the 6th
        zoned = LAYOUT.replace("walk_m", 'time_zone = "America/Chicago"\nwalk_m')
        assert {row.row.shipment: row.days_to_visit for row in service.get_overview(ctx)}[SHIPMENT] == 0
        service.import_layout(ctx, "layout.toml", zoned.encode())
        assert {row.row.shipment: row.days_to_visit for row in service.get_overview(ctx)}[SHIPMENT] == 1


def test_paper_names_the_zone_of_the_store(ctx: service.Context) -> None:
    zoned = LAYOUT.replace("walk_m", 'time_zone = "America/Chicago"\nwalk_m')
    service.import_layout(ctx, "layout.toml", zoned.encode())
    service.add_scan(ctx, SHIPMENT, f"]C100{sscc(1)}", place=Place.DOCK, by="A", source=Source.SCANNER)
    confirm_with_shorts(ctx, SHIPMENT, name="Bo")
    service.issue_request(ctx, "0417", Delivery("Store", "Bo"), by="Ada")
    assert "Thu 5 Mar 2026, 03:30 CST" in words_of(service.make_receipt_pdf(ctx, SHIPMENT, 1))
    assert "Thu 5 Mar 2026, 03:30 CST" in words_of(service.make_request_pdf(ctx, "0417", 1))


def words_of(pdf: bytes) -> str:
    document = pdfium.PdfDocument(pdf)
    try:
        return " ".join(" ".join(page.get_textpage().get_text_range().split()) for page in document)
    finally:
        document.close()


def test_a_line_of_a_request_is_left_out_with_its_reason(browser: Browser, ctx: service.Context) -> None:
    service.add_scan(ctx, "S-2055", f"]C100{sscc(101)}", place=Place.DOCK, by="A", source=Source.SCANNER)
    follow(browser, carton=["02"], step="sent_again", due="2026-03-06")
    page = read(browser.get("/stores/0422/request").text)
    boxes = [(box.attributes["value"], "checked" in box.attributes) for box in page.all("input", name="ask")]
    assert [ticked for _, ticked in boxes] == [True, True, False]
    assert "Sent again, due Fri 6 Mar" in page.text
    fields = {"deliver_to": "Store", "contact": "Bo", "chosen": "yes", "ask": [boxes[0][0]]}
    sent = browser.post("/stores/0422/request", {**fields, f"reason-{boxes[1][0]}": "there is a spare"})
    issued = read(browser.get(sent.headers["Location"]).text)
    assert "1 line, 1 piece." in issued.text
    assert "Left out: there is a spare" in issued.text.replace("left out", "Left out")


def test_the_choices_for_a_visit_stand_with_their_cost_and_are_taken_in_a_tap(
    browser: Browser, ctx: service.Context
) -> None:
    for serial in (101, 102):
        service.add_scan(ctx, "S-2055", f"]C100{sscc(serial)}", place=Place.DOCK, by="A", source=Source.SCANNER)
    page = read(browser.get("/s/S-2055/before-the-visit").text)
    choices = [e.text for e in page.all("section", id="choices")]
    assert "Hold the visit until Fri 13 Mar" in choices[0]  # Thursday 5, five working days: Thursday 12
    assert "Waiting costs about 0.4 of a visit (assumed, can be changed)" in choices[0]
    assert "4 working days × 0.1 visits a day = 0.4 visits" in choices[0]
    assert "Go and set 2 of 4 positions" in choices[0]
    assert "how often one turns up is not known" in page.text
    assert "assumed as neither its layout nor the list of stores says; no public holidays known" in page.text
    assert "too late to order for the visit: it had to be ordered by Fri 27 Feb" in page.text
    (hold,) = [form for form in page.all("form") if any(e.text == "Hold it" for e in form.inside)]
    fields = {e.attributes["name"]: e.attributes.get("value", "") for e in hold.inside if e.name == "input"}
    browser.post("/s/S-2055/notes", {**fields, "by": "Ada"})
    assert "The visit is held until Fri 13 Mar." in read(browser.get("/s/S-2055").text).text


def test_a_carton_that_another_store_has_too_many_of_is_offered(browser: Browser, ctx: service.Context) -> None:
    head, _, rest = MANIFEST.partition("\n")
    twin = [
        row.replace("S-2055,0422", "S-2066,0433").replace(sscc(100 + n), sscc(200 + n)).replace("-03-09", "-03-20")
        for n, row in enumerate((r for r in rest.splitlines() if r.startswith("S-2055")), start=1)
    ]
    service.import_manifest(ctx, "twin.csv", "\n".join([head, *twin]).encode())
    for serial in (201, 202, 103):  # 103 belongs to store 0422, and 0433 lacks the same tray
        service.add_scan(ctx, "S-2066", f"]C100{sscc(serial)}", place=Place.DOCK, by="A", source=Source.SCANNER)
    for serial in (101, 102, 104):
        service.add_scan(ctx, "S-2055", f"]C100{sscc(serial)}", place=Place.DOCK, by="A", source=Source.SCANNER)
    service.save_lanes(ctx, "lanes.csv", b"from,to,cost,days\n0433,0422,0.1,1\n")
    page = read(browser.get("/s/S-2055/before-the-visit").text)
    assert "Swap: bring carton 03 from another store" in page.text
    assert (
        "Carton 03: store 0433 has one too many; it would be here Fri 6 Mar and costs about a tenth of a visit."
        in page.text
    )
    (form,) = [form for form in page.all("form") if "Bring 03 from store 0433" in form.text]
    fields = {e.attributes["name"]: e.attributes.get("value", "") for e in form.inside if e.name == "input"}
    assert browser.post("/swaps/take", {**fields, "by": "Ada"}).status_code == 303
    assert browser.post("/swaps/take", {**fields, "by": "Bo"}).status_code == 409, "somebody else took it"
    assert "1 due by Fri 6 Mar" in read(browser.get("/s/S-2055/before-the-visit").text).text
    assert service.get_swap_plan(ctx) == ()  # what is on its way in time is wanted no more


def twin_store(ctx: service.Context, shipment: str, store: str, first: int, day: str) -> None:
    """A store that gets what store 0422 gets, under numbers of its own."""
    head, _, rest = MANIFEST.partition("\n")
    own = (row for row in rest.splitlines() if row.startswith("S-2055"))
    rows = [
        row.replace("S-2055,0422", f"{shipment},{store}").replace(sscc(100 + n), sscc(first + n)).replace("-03-09", day)
        for n, row in enumerate(own, start=1)
    ]
    service.import_manifest(ctx, "twin.csv", "\n".join([head, *rows]).encode())


def test_a_carton_is_promised_once_and_what_an_order_brings_is_no_swap(browser: Browser, ctx: service.Context) -> None:
    twin_store(ctx, "S-2066", "0433", 200, "-03-20")
    twin_store(ctx, "S-2077", "0444", 300, "-03-10")
    for shipment, serials in (("S-2066", (201, 202, 103)), ("S-2055", (101, 102, 104)), ("S-2077", (301, 302, 304))):
        for serial in serials:
            text = f"]C100{sscc(serial)}"
            service.add_scan(ctx, shipment, text, place=Place.DOCK, by="A", source=Source.SCANNER)
    service.save_lanes(ctx, "lanes.csv", b"from,to,cost,days\n0433,0422,0.2,1\n0433,0444,0.1,1\n")
    planned = service.get_swap_plan(ctx)
    assert [(s.want.shipment, s.want.carton, s.spare.shipment) for s in planned] == [("S-2077", "03", "S-2066")]
    page = read(browser.get("/swaps").text)
    assert "from store 0433 to store 0444 for carton 03" in page.text
    (choice,) = [e for e in page.all("input") if e.attributes.get("name") == "chosen"]
    taken = {"chosen": choice.attributes["value"], "by": "Ada"}
    assert browser.post("/swaps/take", taken).headers["Location"].endswith("/swaps?taken=1")
    # S-2055 wants the same carton: the only spare is on its way to S-2077, so that nothing is left to plan,
    assert service.get_swap_plan(ctx) == ()
    # also once it came and was read there; S-2066 itself lacks cartons that an order still brings in time.
    service.add_scan(ctx, "S-2077", f"]C100{sscc(303)}", place=Place.DOCK, by="A", source=Source.SCANNER)
    assert service.get_swap_plan(ctx) == ()
    note = {"kind": "shortage_followed", "carton": "03", "step": "on_its_way", "spare_of": "S-2066", "by": "Bo"}
    browser.post("/s/S-2055/notes", note)
    assert service.get_shipment(ctx, "S-2055").notes[-1].spare_of == ""  # type: ignore[attr-defined]
    for bad in ("", "S-2055", "S-2055\t03\tS-9999"):
        assert browser.post("/swaps/take", {"chosen": bad, "by": "Bo"}).status_code in (400, 409)
    assert browser.post("/swaps/take", {"by": "Bo"}).status_code == 400


def stores_of(page: str) -> list[str]:
    return [e.text for e in read(page).all("a") if e.text.startswith("Store ") and e.text[6:].isdigit()]


def test_the_board_is_sorted_and_narrowed_and_its_address_is_the_view(browser: Browser, ctx: service.Context) -> None:
    head = "shipment,store,carton,kind,section,dispatch_date"
    rows = [f"X-{n},90{n},01,tray,{'Oak' if n % 2 else 'Elm'},2026-03-{10 + n}" for n in range(8)]
    service.import_manifest(ctx, "more.csv", "\n".join([head, *rows]).encode())
    page = read(browser.get("/overview").text)
    (by_visit,) = [e for e in page.all("a") if e.text.strip() == "Visit"]
    up = browser.get("/overview" + by_visit.attributes["href"]).text
    assert stores_of(up)[:3] == ["Store 0417", "Store 0422", "Store 900"]
    (turn,) = [e for e in read(up).all("a") if e.text.strip().startswith("Visit ")]
    assert stores_of(browser.get("/overview" + turn.attributes["href"]).text)[:2] == ["Store 907", "Store 906"]
    within = browser.get("/overview?from=2026-03-11&to=2026-03-13").text
    assert stores_of(within) == ["Store 901", "Store 902", "Store 903"]
    oak = browser.get("/overview?section=Oak&sort=-store").text
    assert stores_of(oak) == ["Store 907", "Store 905", "Store 903", "Store 901"]
    assert {e.text for e in read(oak).all("option") if "selected" in e.attributes} == {
        "Any state",
        "Oak",
        "Any shipper",
    }
    offered = [e.text for e in read(oak).all("option")]
    assert offered[offered.index("Any section") :][:5] == ["Any section", "Elm", "Harbor Lane", "Moss & Fern", "Oak"]
    narrowed = list(csv.DictReader(io.StringIO(browser.get("/overview.csv?section=Oak&sort=-store").text)))
    assert [row["store"] for row in narrowed] == ["907", "905", "903", "901"]
    book = openpyxl.load_workbook(io.BytesIO(browser.get("/overview.xlsx?section=Oak&sort=-store").data))
    assert [row[1] for row in book.active.iter_rows(min_row=2, values_only=True)] == ["907", "905", "903", "901"]
    assert browser.get("/overview?from=yesterday").status_code == 400


def test_several_visits_are_held_at_once_or_none(browser: Browser, ctx: service.Context) -> None:
    fields = {"shipment": [SHIPMENT, "S-2055"], "go": "false", "until": "2026-03-20", "by": "Ada", "back": "?q=x"}
    done = browser.post("/overview/decide", fields)
    assert (done.status_code, done.headers["Location"]) == (303, "/overview?q=x")
    assert [row.row.visit_date for row in service.get_overview(ctx)] == [date(2026, 3, 20)] * 2
    notes = [service.get_shipment(ctx, each).notes[-1] for each in (SHIPMENT, "S-2055")]
    assert notes[0].action_id == notes[1].action_id != ""
    assert browser.post("/overview/decide", {**fields, "shipment": [SHIPMENT, "S-9"], "go": "true"}).status_code == 404
    assert browser.post("/overview/decide", {**fields, "shipment": []}).status_code == 400
    assert [len(service.get_shipment(ctx, each).notes) for each in (SHIPMENT, "S-2055")] == [1, 1]


def test_an_open_board_is_told_when_something_changes(browser: Browser, ctx: service.Context) -> None:
    part = {"X-Part": "board"}
    before = browser.get("/overview", headers=part)
    assert "<h1>" not in before.text
    mark = {**part, "If-None-Match": before.headers["ETag"]}
    unchanged = browser.get("/overview", headers=mark)
    assert (unchanged.status_code, unchanged.data) == (304, b"")
    service.add_scan(ctx, "S-2055", f"]C100{sscc(101)}", place=Place.DOCK, by="A", source=Source.SCANNER)
    after = browser.get("/overview", headers=mark)
    assert (after.status_code, "1 of 4" in read(after.text).text) == (200, True)


def test_a_row_of_the_board_is_drawn_anew_when_its_day_ends(browser: Browser, ctx: service.Context) -> None:
    assert "Visit tomorrow" in read(browser.get("/overview").text).text
    ctx.now = lambda: datetime(2026, 3, 6, 9, 30, tzinfo=UTC)
    page = read(browser.get("/overview").text)
    assert ("Visit today" in page.text, "Visit tomorrow" in page.text) == (True, False)


def test_the_overview_comes_as_csv(browser: Browser) -> None:
    response = browser.get("/overview.csv")
    rows = list(csv.DictReader(io.StringIO(response.text)))
    assert response.headers["Content-Disposition"] == 'attachment; filename="overview-2026-03-05.csv"'
    assert [(row["shipment"], row["missing"]) for row in rows] == [(SHIPMENT, "16"), ("S-2055", "4")]


def test_a_manifest_is_previewed_and_stored_only_after_a_yes(browser: Browser, ctx: service.Context) -> None:
    rows = [row for row in MANIFEST.splitlines() if not row.startswith("S-2055")]
    new = f"S-2056,0422,01,{sscc(501)},,tray,Harbor Lane,1,1,no,T,tray,1,ea,6,60,40,30,2026-03-09"
    changed = "\n".join([*rows, new]).replace(",24.5,", ",25.5,")
    preview = read(send(browser, "manifest", "new.csv", changed.encode()).text)
    assert "Changed" in preview.text
    assert "New" in preview.text
    assert service.get_shipment(ctx, SHIPMENT).revision == 1
    (form,) = preview.all("form")
    done = read(browser.post(form.attributes["action"]).text)
    assert "2 shipments stored" in done.text
    assert service.get_shipment(ctx, SHIPMENT).revision == 2


def test_the_same_file_again_changes_nothing(browser: Browser) -> None:
    page = read(send(browser, "manifest", "again.csv", MANIFEST.encode()).text)
    assert "Nothing would change" in page.text
    assert page.all("form") == []


def test_a_preview_that_is_too_old_imports_nothing(browser: Browser) -> None:
    response = browser.post("/import/of-yesterday")
    assert response.status_code == 409
    assert "Choose the file again." in read(response.text).text


def test_a_faulty_manifest_lists_every_fault_and_loads_nothing(browser: Browser, ctx: service.Context) -> None:
    broken = MANIFEST.replace("S-2055", "S-3000").replace(",tray,", ",troy,")
    response = send(browser, "manifest", "broken.csv", broken.encode())
    page = read(response.text)
    assert response.status_code == 422
    assert len([e for e in page.all("li") if "troy" in e.text]) > 3
    assert "nothing was loaded" in page.text
    assert "S-3000" not in {row.shipment for row in service.list_shipments(ctx)}


def test_a_layout_is_stored(browser: Browser) -> None:
    assert "Store 0417 has 3 bays." in read(send(browser, "layout", "layout.toml", LAYOUT.encode()).text).text


def test_columns_that_overlap_in_a_layout_are_named(browser: Browser) -> None:
    response = send(browser, "layout", "layout.toml", LAYOUT.replace("[4, 5, 6]", "[3, 4, 5]").encode())
    assert response.status_code == 422
    assert "column 3 of section 'Harbor Lane'" in read(response.text).text


def test_no_file_chosen_says_so(browser: Browser) -> None:
    response = browser.post("/import", {"kind": "manifest"})
    assert response.status_code == 400
    assert "No file was chosen." in read(response.text).text


def test_a_revision_is_undone_by_restoring_the_one_before(browser: Browser, ctx: service.Context) -> None:
    service.import_manifest(ctx, "second.csv", MANIFEST.replace(",24.5,", ",25.5,").encode())
    browser.post("/s/S-2041~2FA/revisions/1/restore", {"follows": "2"})
    view = service.get_shipment(ctx, SHIPMENT)
    assert view.revision == 3
    assert view.manifest.find("12").weight_kg == 24.5
