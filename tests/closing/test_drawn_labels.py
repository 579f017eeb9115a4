"""Labels as ink: where each one lies on its sheet, what is cut or folded of a text, and what needs another font."""

import io

import numpy as np
import pytest
from PIL import Image

from receiving.closing import LabelPrint, labels_pdf
from receiving.closing.label_drawing import (
    CAP_HEIGHT,
    Box,
    Font,
    LabelDrawing,
    Words,
    _letters_missing,
    _needs_shaping,
    fit_words,
    fold_into_font,
    make_printable,
    snap_to_dots,
    width_of,
)
from receiving.closing.label_printing import drawing_image, drawings_pdf
from receiving.closing.label_stock import STOCKS, Stock, stock_named
from receiving.closing.labels import position_label
from receiving.errors import BadRequest
from receiving.model import Address
from tests.closing.printed import pdfium
from tests.closing.test_label_sheets import CARTONS, MANIFEST

HAS = {ord(sign) for sign in "abcde ?!"}


def black(pdf: bytes) -> list[list[tuple[float, float, float, float]]]:
    """On each page, the bounds in mm of what is drawn, from the top left: left, top, right, bottom."""
    found = []
    for page in pdfium.PdfDocument(pdf):
        high = page.get_height()
        boxes = [each.get_bounds() for each in page.get_objects()]
        found.append([tuple(round(v / 72 * 25.4, 1) for v in (b[0], high - b[3], b[2], high - b[1])) for b in boxes])
    return found


def square(stock: Stock) -> LabelDrawing:
    return LabelDrawing(*stock.label_mm, 300, (Box(10.0, 20.0, 5.0, 5.0),))


@pytest.mark.parametrize("stock", STOCKS, ids=lambda stock: stock.name)
@pytest.mark.parametrize("skip", [0, 1, 3])
def test_each_label_lies_at_its_place_row_by_row_from_the_top_left(stock: Stock, skip: int) -> None:
    skip = min(skip, stock.per_page - 1)
    count = 2 * stock.per_page + 1 - skip
    pages = black(drawings_pdf([square(stock)] * count, stock, title="t", skip=skip))
    assert [len(page) for page in pages] == [stock.per_page - skip, stock.per_page, 1]
    for page, (first, boxes) in enumerate(zip((skip, 0, 0), pages, strict=True)):
        for place, box in enumerate(boxes, first):
            left = place % stock.across * stock.label_mm[0] + 10
            top = place // stock.across * stock.label_mm[1] + 20
            assert np.allclose(box, (left, top, left + 5, top + 5), atol=0.11), (page, place)


def test_an_offset_moves_right_and_down() -> None:
    stock = stock_named("a6")
    ((plain,),), ((moved,),) = (
        black(drawings_pdf([square(stock)], stock, title="t", offset_mm=offset)) for offset in ((0.0, 0.0), (2.0, 3.0))
    )
    assert np.allclose(np.subtract(moved, plain), (2, 3, 2, 3), atol=0.11)


def test_the_first_place_and_the_title_reach_the_file() -> None:
    pdf = labels_pdf(CARTONS[:2], MANIFEST, LabelPrint("a4-4up"), first_place=4)
    assert len(black(pdf)) == 2
    title = pdfium.PdfDocument(pdf).get_metadata_value("Title")
    assert title == f"Carton labels of shipment {MANIFEST.shipment}"


@pytest.mark.parametrize("name", ["A6", " a4-4up ", "LETTER-2UP"])
def test_stock_is_named_in_any_case(name: str) -> None:
    assert stock_named(name).name == name.strip().casefold()


def test_the_sizes_of_stock_fill_their_page() -> None:
    for stock in STOCKS:
        assert stock.across * stock.label_mm[0] == pytest.approx(stock.page_mm[0], abs=0.01)
        assert stock.down * stock.label_mm[1] == pytest.approx(stock.page_mm[1], abs=0.01)
        assert stock.per_page == stock.across * stock.down


# --- texts ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "printed"),
    [("abc", "abc"), ("äbc", "abc"), ("xbc", "?bc"), ("á", "a"), ("☂a", "?a"), ("a b", "a b")],
)
def test_accents_are_dropped_and_other_signs_are_a_question_mark(text: str, printed: str) -> None:
    assert fold_into_font(text, HAS) == printed


@pytest.mark.parametrize(("text", "missing"), [("abc", ""), ("äx", "x"), ("x1☂", "x1"), ("東", "東")])
def test_letters_and_digits_without_a_glyph_are_missing_and_other_signs_are_not(text: str, missing: str) -> None:
    assert _letters_missing(text, HAS) == missing


@pytest.mark.parametrize(
    ("character", "shaped"),
    [("a", False), ("ש", False), ("ل", False), ("ܐ", True), ("ި", True), ("ि", True), ("\u0301", True)],
)
def test_letters_that_stack_or_join_in_ways_not_set_here_need_shaping(character: str, shaped: bool) -> None:
    assert _needs_shaping(character) is shaped


def test_a_text_is_one_line_in_signs_that_the_font_has() -> None:
    assert make_printable(" a\n b\tc ☂") == "a b c ?"


def test_a_text_is_shrunk_to_its_room_and_cut_where_it_would_be_unreadable() -> None:
    plain = fit_words("Harbor", 1, 2, 4.0, 100)
    assert (plain.text, plain.size_mm, plain.x_mm, plain.baseline_mm, plain.white) == ("Harbor", 4.0, 1, 2, False)
    wide = width_of("Harbor", 4.0, Font.PLAIN)
    assert fit_words("Harbor", 1, 2, 4.0, wide).size_mm == pytest.approx(4.0)
    assert fit_words("Harbor", 1, 2, 4.0, wide * 0.75).size_mm == pytest.approx(3.0)
    least = fit_words("Harbor", 1, 2, 4.0, wide * 0.55)
    assert (least.text, least.size_mm) == ("Harbor", pytest.approx(2.2))
    cut = fit_words("Harbor Wall", 1, 2, 4.0, wide * 0.55)
    assert cut.text.endswith("…") and cut.text.startswith("Harb") and cut.size_mm == 2.2
    assert width_of(cut.text, 2.2, Font.PLAIN) <= wide * 0.55 + 1e-6
    assert fit_words("Harbor", 1, 2, 1.5, wide * 0.1).size_mm == 1.5, "smaller text stays as small as it was asked for"
    assert fit_words("", 1, 2, 4.0, 10).size_mm == 4.0


@pytest.mark.parametrize(("mm", "dpi", "dots"), [(1.0, 203, 8), (0.06, 203, 0), (0.07, 203, 1), (25.4, 300, 300)])
def test_lengths_are_whole_dots(mm: float, dpi: int, dots: int) -> None:
    assert snap_to_dots(mm, dpi) == pytest.approx(dots * 25.4 / dpi)


def test_a_picture_has_the_dots_of_its_printer() -> None:
    from receiving.closing.label_printing import drawing_png

    drawing = LabelDrawing(25.4, 50.8, 200, (Box(2.54, 5.08, 0.254, 0.127),))
    image = Image.open(io.BytesIO(drawing_png(drawing)))
    assert image.size == (200, 400) and [round(dpi) for dpi in image.info["dpi"]] == [200, 200]
    dark = np.argwhere(np.asarray(image) == 0)
    assert sorted(map(tuple, dark)) == [(40, 20), (40, 21)], "two dots by one"


def test_unknown_stock_is_refused() -> None:
    with pytest.raises(BadRequest, match="There is no label stock 'a7'"):
        stock_named("a7")


@pytest.mark.parametrize(("high_mm", "cap_mm"), [(30.0, 4.8), (38.5, 6.5), (50.8, 6.5)])
def test_the_section_takes_a_fifth_of_its_room_up_to_a_limit(high_mm: float, cap_mm: float) -> None:
    drawing = position_label(Address("Elm", 3, 2), size_mm=(76.2, high_mm))
    (section,) = [words for words in drawing.words if words.text == "Elm"]
    assert section.size_mm == pytest.approx(cap_mm / CAP_HEIGHT)


def test_words_are_quite_black_or_white_on_the_black_band() -> None:
    words = (Words("HM", 2, 20, 10.0), Words("HM", 2, 40, 10.0, white=True))
    picture = np.asarray(drawing_image(LabelDrawing(50.8, 50.8, 300, (Box(0, 25, 50, 20),), words)))
    above, band = picture[: round(24 / 25.4 * 300)], picture[round(26 / 25.4 * 300) : round(44 / 25.4 * 300)]
    assert (above.min(), above.max()) == (band.min(), band.max()) == (0, 255)
