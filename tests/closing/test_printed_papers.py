"""Every paper, read back: what a person must find on it stands on it."""

from dataclasses import replace
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest

from receiving.closing import bay_sheets_pdf, receipt_pdf, replacement_pdf, show_receipt
from receiving.matching import bay_sheets, reconcile
from receiving.model import Bay, Cart, Layout, Receipt, SheetItem, ShownLine, Signature
from receiving.wording import item_words
from tests.closing.printed import in_order, pages, title, words
from tests.closing.test_receipt import MANIFEST, TROUBLED, WHOLE
from tests.closing.test_replacement import DELIVERY, LAMP, RAIL, TRAY, request
from tests.matching.scenes import at
from tests.matching.test_contents import EXPECTED, READS, count

AT = datetime(2026, 3, 2, 9, 30, tzinfo=UTC)
TROUBLE = Receipt(2, AT, "Ida Berg", "Store manager", "Box 3 & 4 <wet>", True, show_receipt(TROUBLED, MANIFEST, 3))
ALL_WELL = Receipt(1, AT, "Ida Berg", "Store manager", "", False, show_receipt(WHOLE, MANIFEST, 1))
PAPERS = {"A4": (595.3, 841.9), "Letter": (612.0, 792.0)}


def size(pdf: bytes) -> tuple[float, float]:
    (first, *_) = pages(pdf)
    return round(first.width_pt, 1), round(first.height_pt, 1)


# --- the receipt ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("receipt", [TROUBLE, ALL_WELL])
def test_every_line_that_was_confirmed_is_printed(receipt: Receipt) -> None:
    text = words(receipt_pdf(receipt))
    assert receipt.shown.lines
    for line in receipt.shown.lines:
        assert text.count(line.words) == 1, line


def test_a_receipt_says_what_of_whom_by_whom_and_when() -> None:
    assert in_order(
        receipt_pdf(TROUBLE),
        "Receipt 2",
        "Shipment S-1 to store 0417, manifest revision 3",
        "Expected Here Missing or not seen Extra Open questions 2 1 1 2 1",
        "Confirmed with exceptions by Ida Berg, Store manager, on Mon 2 Mar 2026, 09:30 UTC",
        "Remarks: Box 3 & 4 <wet>",
        "Exceptions (6)",
        "Here (1)",
        "Signature, store",
        "Signature, rep",
        f"What was confirmed has the SHA-256 {TROUBLE.shown.digest}.",
    )
    assert title(receipt_pdf(TROUBLE)) == "Receipt 2 for shipment S-1"


def test_a_receipt_without_exceptions_says_so_and_has_no_empty_remarks() -> None:
    pdf = receipt_pdf(ALL_WELL)
    assert in_order(pdf, "Confirmed by Ida Berg", "Exceptions (0)", "None.", "Here (2)")
    assert "Remarks" not in words(pdf) and "with exceptions" not in words(pdf)
    nothing = replace(ALL_WELL, shown=replace(ALL_WELL.shown, lines=()))
    assert in_order(receipt_pdf(nothing), "Exceptions (0)", "None.", "Here (0)", "None.")


@pytest.mark.parametrize(
    ("exceptions", "by_pin", "expected"),
    [
        (False, False, "Confirmed by Ida Berg, Store manager, on"),
        (False, True, "Confirmed by PIN by Ida Berg, Store manager, on"),
        (True, False, "Confirmed with exceptions by Ida Berg, Store manager, on"),
        (True, True, "Confirmed with exceptions by PIN by Ida Berg, Store manager, on"),
    ],
)
def test_a_receipt_says_how_it_was_confirmed(exceptions: bool, by_pin: bool, expected: str) -> None:
    pdf = receipt_pdf(replace(ALL_WELL, with_exceptions=exceptions, by_pin=by_pin))
    assert words(pdf).count("Confirmed") == 1 and expected in words(pdf)


def test_the_time_of_a_receipt_is_that_of_the_store() -> None:
    assert "on Mon 2 Mar 2026, 03:30 CST" in words(receipt_pdf(ALL_WELL, zone=ZoneInfo("America/Chicago")))


@pytest.mark.parametrize("number", [1, 2, 3, 25])
def test_all_cartons_that_are_here_are_printed_in_two_columns_however_many(number: int) -> None:
    lines = tuple(ShownLine(f"{n:02}", "received", f"Carton {n:02}, tray: here.") for n in range(number))
    pdf = receipt_pdf(replace(ALL_WELL, shown=replace(ALL_WELL.shown, lines=lines)))
    assert len(pages(pdf)) == 1
    for line in lines:
        assert words(pdf).count(line.words) == 1


def test_a_long_receipt_goes_on_and_every_page_names_shipment_receipt_and_its_number() -> None:
    lines = tuple(ShownLine(f"{n:03}", "short", f"Carton {n:03}, tray: missing.") for n in range(200))
    found = pages(receipt_pdf(replace(TROUBLE, shown=replace(TROUBLE.shown, lines=lines))))
    assert len(found) > 2
    for number, page in enumerate(found, 1):
        assert "Shipment S-1, receipt 2" in page.text and f"page {number}" in page.text
    assert all(line.words in " ".join(page.text for page in found) for line in lines)


def drawn(pdf: bytes) -> list[tuple[float, float, float, float]]:
    """Left, bottom, right and top of every line and box on the paper, in points."""
    from tests.closing.printed import pdfium

    document = pdfium.PdfDocument(pdf)
    paths = [each for page in document for each in page.get_objects() if each.type == pdfium.raw.FPDF_PAGEOBJ_PATH]
    return [tuple(round(value, 1) for value in path.get_bounds()) for path in paths]


@pytest.mark.parametrize(("height", "wide", "high"), [(300, 150, 45), (100, 170, 17)])
def test_a_finger_signature_stands_upright_over_the_name_of_who_signed(height: int, wide: int, high: int) -> None:
    """At most 170 by 45 points, and as tall for its width as it was drawn."""
    top, bottom = ((0, 0), (400, 0)), ((0, height), (1000, height))
    pdf = receipt_pdf(replace(ALL_WELL, signature=Signature((top, bottom, ((500, 10),)), height)))
    assert "Signature, store: Ida Berg" in words(pdf)
    assert "Signature, store: Ida Berg" not in words(receipt_pdf(ALL_WELL))
    lines = [box for box in drawn(pdf) if box[2] - box[0] > 30 and box[3] - box[1] < 3]
    (long,) = [box for box in lines if abs(box[2] - box[0] - wide) < 3]
    (short,) = [box for box in lines if abs(box[2] - box[0] - 0.4 * wide) < 3]
    assert abs(short[1] - long[1] - high) < 2, "what was drawn first at the top stands above"
    assert len(drawn(pdf)) == len(drawn(receipt_pdf(ALL_WELL))) + 3


@pytest.mark.parametrize("number", [1, 2, 5])
def test_each_carton_that_is_here_has_a_box_to_tick_at_its_side(number: int) -> None:
    lines = tuple(ShownLine(f"{n:02}", "received", f"Carton {n:02}, tray: here.") for n in range(number))
    pdf = receipt_pdf(replace(ALL_WELL, shown=replace(ALL_WELL.shown, lines=lines)))
    boxes = [box for box in drawn(pdf) if 6 < box[2] - box[0] < 9 and 6 < box[3] - box[1] < 9]
    assert len(boxes) == number
    assert len({box[0] for box in boxes}) == min(2, number), "two columns"


@pytest.mark.parametrize("paper", PAPERS)
def test_papers_have_the_size_that_was_asked_for(paper: str) -> None:
    width, height = PAPERS[paper]
    assert size(receipt_pdf(TROUBLE, paper=paper)) == (width, height)
    assert size(replacement_pdf(request(RAIL), paper=paper)) == (width, height)
    assert size(bay_sheets_pdf(sheets(), paper=paper)) == (height, width), "bay sheets are in landscape"


# --- the replacement request ---------------------------------------------------------------------------------------


def test_a_request_says_what_is_asked_for_where_how_many_and_why() -> None:
    assert in_order(
        replacement_pdf(request(RAIL, TRAY, LAMP)),
        "Replacement request R-0417-003",
        "One request and one delivery in place of 3. 7 pieces for store 0417,",
        " asked for by Ana on Mon 2 Mar 2026, 12:00 UTC.",
        "Deliver to Store 0417, back door",
        "Contact Mia Berg 555 0100",
        "Needed by Mon 9 Mar 2026",
        "Remarks ring the bell",
        "Elm (shipment SH-1)",
        "Where What Qty Why",
        "1 column 3, row 1 TR-12 tray 1 carton did not arrive (carton 02)",
        "Oak (shipment SH-1)",
        "2 column 1, row 2 PR-1 price rail 2 not in the carton (carton 01)",
        "Fir (shipment SH-2)",
        "3 whole section LED-60 lamp 4 worn on the fixture; =left end",
    )
    assert words(replacement_pdf(request(RAIL))).startswith("R-0417-003, revision 1 page 1 "), "the foot"
    assert title(replacement_pdf(request(RAIL))) == "Replacement request R-0417-003, revision 1"


def test_one_piece_is_one_piece_and_a_request_for_one_section_replaces_none() -> None:
    text = words(replacement_pdf(request(TRAY)))
    assert " 1 piece for store 0417" in text
    assert "in place of" not in text and "replaces all earlier" not in text


@pytest.mark.parametrize("qty", [1, 2, 3, 12])
def test_the_quantity_that_is_asked_for_is_the_one_that_is_printed(qty: int) -> None:
    text = words(replacement_pdf(request(replace(TRAY, qty=qty))))
    assert f"{qty} piece{'' if qty == 1 else 's'} for store" in text
    assert f"TR-12 tray {qty} carton did not arrive" in text


def test_a_later_revision_says_that_it_replaces_the_earlier_ones() -> None:
    second = request(TRAY, previous=request(RAIL))
    assert "revision 2: replaces all earlier ones" in words(replacement_pdf(second))
    withdrawn = words(replacement_pdf(request(previous=request(RAIL))))
    assert "Nothing is asked for any more: this revision withdraws the request." in withdrawn
    assert "Nothing is asked for" not in words(replacement_pdf(second))


def test_what_is_not_known_of_a_delivery_is_said_or_left_out() -> None:
    plain = replace(DELIVERY, needed_by=None, remarks="", phone="")
    text = words(replacement_pdf(request(replace(LAMP, section=""), delivery=plain)))
    assert "Needed by as soon as can be" in text
    assert "Contact Mia Berg Needed by" in text
    assert "Remarks" not in text
    assert "Whole shipment (shipment SH-2)" in text and "whole shipment LED-60 lamp" in text


def test_a_request_in_the_time_of_the_store() -> None:
    text = words(replacement_pdf(request(RAIL), zone=ZoneInfo("America/Chicago")))
    assert "asked for by Ana on Mon 2 Mar 2026, 06:00 CST" in text


def test_a_long_request_counts_its_lines_on_over_sections_and_heads_every_page() -> None:
    many = [replace(RAIL, item=f"PR-{n:02} <&>", qty=n + 1) for n in range(90)]
    found = pages(replacement_pdf(request(*many, TRAY)))
    assert len(found) >= 3
    assert all("Where What Qty Why" in page.text for page in found)
    text = " ".join(page.text for page in found)
    for n in range(90):
        assert f"{n + 2} column 1, row 2 PR-{n:02} <&> price rail {n + 1} not in the carton (carton 01)" in text


# --- bay sheets ----------------------------------------------------------------------------------------------------


def sheets(*, bays: int = 2):  # type: ignore[no-untyped-def]
    made = tuple(Bay(f"B{n}", "Oak", (n,), n, 60, 60, 60) for n in range(1, bays + 1))
    layout = Layout("0417", 10, Cart(100, 120, 60, 100), made)
    lost = [count("n1", "graphic", 0, section="Oak", column=1, row=2)]
    return bay_sheets(EXPECTED, reconcile(EXPECTED, READS, lost), lost, layout)


def test_a_bay_sheet_lists_each_position_with_what_hangs_there_and_what_it_waits_for() -> None:
    first, second = pages(bay_sheets_pdf(sheets()))
    shipment = f"Store {EXPECTED.store}, shipment {EXPECTED.shipment}."
    assert f"Bay B1: Oak {shipment} 1 of 2 positions can be set now (50 % of positions, 50 % of facings)." in first.text
    assert "Tag Col Row Tray Parts Graphics Tags Cartons State" in first.text
    assert "WAITS for 1 × graphic" in first.text
    assert first.text.count("ready") == 1
    assert (
        f"Bay B2: Oak {shipment} 1 of 1 positions can be set now (100 % of positions, 100 % of facings)" in second.text
    )
    assert "WAITS" not in second.text
    for number, page in enumerate((first, second), 1):
        assert f"Shipment {EXPECTED.shipment}, store {EXPECTED.store} page {number}" in page.text


def named(items: tuple[SheetItem, ...]) -> str:
    return ", ".join(str(item_words(item)) for item in items)


def test_rows_of_a_bay_sheet_are_numbered_from_the_top_with_column_and_row() -> None:
    (first, *_) = sheets()
    text = pages(bay_sheets_pdf([first]))[0].text
    for number, row in enumerate(first.rows, 1):
        assert f" {number} {row.address.column} {row.address.row} {named(row.trays)}" in text, text
        for listed in (row.parts, row.graphics, row.tags):
            assert named(listed) in text
        assert ", ".join(row.cartons) in text


def test_what_is_for_the_whole_section_stands_below_the_positions() -> None:
    whole = bay_sheets(EXPECTED, reconcile(EXPECTED, READS), ())
    assert in_order(
        bay_sheets_pdf(whole), "Oak", "State", "For the whole section", "• 2 × PR-1 Price rails (carton 02)"
    )
    bare = [replace(sheet, section_wide=()) for sheet in whole]
    assert "For the whole section" not in words(bay_sheets_pdf(bare))


def test_no_positions_make_a_sheet_that_says_so() -> None:
    assert "No position has an address, so there is no bay sheet." in words(bay_sheets_pdf([]))
    nameless = [replace(sheet, section="", bay="") for sheet in sheets(bays=1)]
    assert " page 1 Positions Store 0417" in words(bay_sheets_pdf(nameless))


# --- the sheet that lies in front of a bay: what hangs where, top to bottom and left to right -----------------------


def test_positions_run_top_to_bottom_and_left_to_right_with_what_they_wait_for() -> None:
    lost = [count("n1", "graphic", 0, section="Oak", column=1, row=2)]
    sheets = bay_sheets(EXPECTED, reconcile(EXPECTED, READS, lost), lost)
    assert [sheet.section for sheet in sheets] == ["Oak"]
    assert sheets[0].tag_run == ((1, at(1, 1)), (2, at(2, 1)), (3, at(1, 2)))
    assert [(*map(str, map(item_words, row.trays)), *row.cartons) for row in sheets[0].rows] == [
        ("TR-12 tray", "01"),
        ("TR-08 tray", "01"),
        ("TR-12 tray", "01"),
    ]
    assert [row.waits_for for row in sheets[0].rows] == [(), (), (("graphic for Oak, column 1, row 2", 1),)]
    assert [(str(item_words(item)), carton) for item, carton in sheets[0].section_wide] == [
        ("2 × PR-1 Price rails", "02")
    ]
    assert round(sheets[0].percent) == 67


def test_each_bay_has_a_sheet_in_setting_order_and_a_page_of_its_own() -> None:
    bays = tuple(Bay(f"B{n}", "Oak", (n,), order, 60, 60, 60) for n, order in ((1, 2), (2, 1)))
    layout = Layout("0417", 10, Cart(100, 120, 60, 100), bays)
    sheets = bay_sheets(EXPECTED, reconcile(EXPECTED, READS), (), layout)
    assert [(sheet.bay, len(sheet.rows)) for sheet in sheets] == [("B2", 1), ("B1", 2)]
    for paper in ("A4", "Letter"):
        pdf = bay_sheets_pdf(sheets, paper=paper)
        assert pdf.count(b"/Type /Page\n") == 2
    assert bay_sheets_pdf([]).startswith(b"%PDF-")
