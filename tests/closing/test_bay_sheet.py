"""The sheet that lies in front of a bay: what hangs where, top to bottom and left to right."""

from receiving.closing import bay_sheets_pdf
from receiving.matching import bay_sheets, reconcile
from receiving.model import Bay, Cart, Layout
from receiving.wording import item_words
from tests.matching.scenes import at
from tests.matching.test_contents import EXPECTED, READS, count


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
