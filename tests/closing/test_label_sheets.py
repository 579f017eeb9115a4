import shutil
import subprocess
import sys
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest
import zxingcpp
from PIL import Image

from receiving.closing.label_printing import drawing_image, labels_pdf
from receiving.closing.label_stock import STOCKS, LabelPrint, Stock, stock_named
from receiving.closing.labels import carton_label
from receiving.errors import BadRequest
from receiving.model import Address, Carton, CartonKind, ContentLine, Manifest, Sscc, mod10_check_digit

pdfium = pytest.importorskip("pypdfium2", reason="pypdfium2 draws the PDF independently of the library that wrote it")
sys.path.append(str(Path(__file__).parents[1] / "bench"))
from photo_model import Look, photograph  # noqa: E402

DPI = 600
MM = 25.4 / DPI


def sscc(number: int) -> Sscc:
    digits = f"195200000000000{number:02d}"
    return Sscc(digits + mod10_check_digit(digits))


CARTONS = tuple(
    Carton(f"{n:02d}", CartonKind.TRAY, sscc(n), contents=(ContentLine("Harrow", Address("Harrow", n, 2)),))
    for n in range(1, 6)
)
MANIFEST = Manifest("PW-1", "0417", CARTONS)


def pages(data: bytes, dpi: int = DPI) -> list[Image.Image]:
    document = pdfium.PdfDocument(data)
    # A hair below the scale: pdfium rounds 1800.0000001 pixels up to 1801 and stretches the page.
    return [page.render(scale=dpi / 72 - 1e-9, grayscale=True).to_pil().convert("L") for page in document]


def runs(row: np.ndarray) -> list[tuple[bool, int]]:
    """Dark and light runs of one row of pixels, as (dark, pixels)."""
    dark = row < 128
    edges = np.flatnonzero(np.diff(dark)) + 1
    return [(bool(part[0]), len(part)) for part in np.split(dark, edges)]


@pytest.mark.parametrize("dpi", [203, 300, 600])
@pytest.mark.parametrize("stock", STOCKS, ids=lambda stock: stock.name)
def test_a_page_at_the_printers_resolution_has_the_dots_of_the_printers_own_file(
    stock: Stock, dpi: int, tmp_path: Path
) -> None:
    """Poppler paints without smoothing, as printers do: a dot that an area only touches is dark."""
    if not shutil.which("pdftoppm"):
        pytest.skip("pdftoppm (poppler-utils) is not installed: the page cannot be drawn in dots")
    (tmp_path / "labels.pdf").write_bytes(labels_pdf(CARTONS, MANIFEST, LabelPrint(stock.name, dpi, (1.3, -0.7))))
    command = ["pdftoppm", "-r", str(dpi), "-mono", "-f", "1", "-l", "1", "labels.pdf", "dots"]
    subprocess.run(command, cwd=tmp_path, check=True, timeout=120)
    page = np.asarray(Image.open(next(tmp_path.glob("dots*.pbm"))).convert("L")) < 128
    drawing = carton_label(CARTONS[0], MANIFEST, size_mm=stock.label_mm, margin_mm=stock.margin_mm, dpi=dpi)
    wanted = np.asarray(drawing_image(drawing)) < 128
    left, top = (round((mm + by) * dpi / 25.4) for mm, by in zip(stock.corner_mm(0), (1.3, -0.7), strict=True))
    for symbol in drawing.symbols:
        x, y, w, h = (round(mm * dpi / 25.4) for mm in (symbol.x_mm, symbol.y_mm, symbol.w_mm, symbol.h_mm))
        printed = page[top + y : top + y + h, left + x : left + x + w]
        assert np.array_equal(printed, wanted[y : y + h, x : x + w]), symbol.modules.name


@pytest.mark.parametrize("stock", STOCKS, ids=lambda stock: stock.name)
def test_the_printed_bars_measure_what_the_standard_asks(stock: Stock) -> None:
    # GS1 General Specifications, symbol specification table for logistic units: X 0.495 to 1.016 mm, bars 31.75 mm
    # and higher, quiet zones 10 X. Measured on the page as an independent renderer draws it at 600 dpi.
    page = np.asarray(pages(labels_pdf(CARTONS[:1], MANIFEST, LabelPrint(stock.name)))[0])
    label = page[: round(stock.label_mm[1] / MM), : round(stock.label_mm[0] / MM)]
    drawing = carton_label(CARTONS[0], MANIFEST, size_mm=stock.label_mm, margin_mm=stock.margin_mm)
    bars = drawing.symbols[-1] if drawing.symbols[-1].modules.height == 1 else drawing.symbols[0]
    middle = label[round((bars.y_mm + bars.h_mm / 2) / MM)]
    beside = round((bars.x_mm + bars.w_mm + 10 * bars.module_mm + 0.2) / MM)  # a Data Matrix may stand right of it
    found = runs(middle[:beside])
    widths = [length * MM for _, length in found]
    narrowest = min(widths)
    assert 0.495 - MM / 2 <= narrowest <= 1.016
    assert len(found) == 1 + 13 * 6 + 7 + 1  # quiet, 13 characters of six elements, a stop of seven, quiet
    assert widths[0] >= 10 * narrowest and widths[-1] >= 10 * narrowest
    modules = [width / (sum(widths[1:-1]) / 156) for width in widths[1:-1]]
    assert modules == pytest.approx([round(width) for width in modules], abs=0.1)
    column = label[:, round((bars.x_mm + bars.module_mm / 2) / MM)]
    assert max(length for dark, length in runs(column) if dark) * MM >= 32


@pytest.mark.parametrize("stock", [STOCKS[0], STOCKS[2], STOCKS[4]], ids=lambda stock: stock.name)
def test_every_label_of_a_pdf_is_read_back_by_two_decoders(stock: Stock, zbar: ModuleType) -> None:
    sheets = pages(labels_pdf(CARTONS, MANIFEST, LabelPrint(stock.name)), 300)
    assert len(sheets) == -(-len(CARTONS) // stock.per_page)
    wanted = {f"00{made.sscc}".encode() for made in CARTONS}
    by_zxing = {r.bytes for s in sheets for r in zxingcpp.read_barcodes(s) if r.symbology_identifier == "]C1"}
    by_zbar = {r.data for s in sheets for r in zbar.decode(s, symbols=[zbar.ZBarSymbol.CODE128])}
    assert by_zxing == wanted
    assert by_zbar == wanted


@pytest.mark.parametrize("stock", STOCKS, ids=lambda stock: stock.name)
def test_a_page_has_the_size_of_its_stock(stock: Stock) -> None:
    width, height = pdfium.PdfDocument(labels_pdf(CARTONS[:1], MANIFEST, LabelPrint(stock.name)))[0].get_size()
    assert (width * 25.4 / 72, height * 25.4 / 72) == pytest.approx(stock.page_mm, abs=0.01)
    assert stock.across * stock.label_mm[0] <= stock.page_mm[0] + 0.01
    assert stock.down * stock.label_mm[1] <= stock.page_mm[1] + 0.01


def test_the_pdf_and_the_picture_show_the_same_label() -> None:
    drawing = carton_label(CARTONS[0], MANIFEST)
    picture = np.asarray(drawing_image(drawing), np.int16)
    page = np.asarray(pages(labels_pdf(CARTONS[:1], MANIFEST), 300)[0], np.int16)
    assert page.shape == picture.shape
    for placed in drawing.symbols:
        left, top = round(placed.x_mm / 25.4 * 300), round(placed.y_mm / 25.4 * 300)
        here = (slice(top, top + round(placed.h_mm / 25.4 * 300)), slice(left, left + round(placed.w_mm / 25.4 * 300)))
        assert (np.abs(page[here] - picture[here]) > 100).mean() < 0.01, placed.modules.name
    assert (np.abs(page - picture) > 128).mean() < 0.01


def test_labels_used_already_are_skipped_on_the_first_sheet() -> None:
    sheet = pages(labels_pdf(CARTONS[:2], MANIFEST, LabelPrint("letter-4up"), first_place=3), 150)[0]
    upper = sheet.crop((0, 0, sheet.width, sheet.height // 2 - 2))
    assert np.asarray(upper).min() == 255
    assert len([r for r in zxingcpp.read_barcodes(sheet) if r.symbology_identifier == "]Q1"]) == 2


def test_the_same_labels_give_the_same_bytes() -> None:
    assert labels_pdf(CARTONS, MANIFEST) == labels_pdf(CARTONS, MANIFEST)


def test_unknown_stock_is_answered_with_the_names_that_there_are() -> None:
    with pytest.raises(BadRequest) as fault:
        stock_named("foolscap")
    assert str(fault.value) == (
        "There is no label stock 'foolscap'. Use one of: 4x6in, a6, letter-2up, letter-4up, a4-4up."
    )


def test_no_carton_and_no_such_place_are_refused() -> None:
    with pytest.raises(BadRequest, match="no carton to print"):
        labels_pdf((), MANIFEST)
    with pytest.raises(BadRequest, match="Label place 5 is not on a sheet of 4"):
        labels_pdf(CARTONS, MANIFEST, LabelPrint("a4-4up"), first_place=5)


def test_a_label_is_read_after_a_careful_photo_by_all_its_symbols() -> None:
    label = drawing_image(carton_label(CARTONS[0], MANIFEST))
    look = Look(px_per_mm=5, tilt_deg=15, turn_deg=8, defocus_px=0.8, shade=0.2, noise=3)
    photo = photograph(label, look, np.random.default_rng(5))
    found = {read.symbology_identifier for read in zxingcpp.read_barcodes(photo.image)}
    assert found >= {"]C1", "]d2", "]Q1"}


def test_the_data_matrix_survives_blur_that_the_bars_do_not() -> None:
    # The claim that the Data Matrix is worth its place, counted over ten photos of growing blur.
    label = drawing_image(carton_label(CARTONS[0], MANIFEST))
    read = {"]C1": 0, "]d2": 0}
    for step in range(10):
        look = Look(px_per_mm=3.5, turn_deg=2 * step - 10, defocus_px=1.0 + step * 0.2, noise=4)
        found = zxingcpp.read_barcodes(photograph(label, look, np.random.default_rng(step)).image)
        for name in read:
            read[name] += any(one.symbology_identifier == name for one in found)
    assert read["]d2"] >= read["]C1"] + 3


def test_a_photo_is_the_same_for_the_same_seed_and_knows_where_the_label_is() -> None:
    label = drawing_image(carton_label(CARTONS[0], MANIFEST))
    look = Look.graded(0.4, np.random.default_rng(2))
    one, two = (photograph(label, look, np.random.default_rng(3)) for _ in range(2))
    assert np.array_equal(one.image, two.image)
    flat = photograph(label, Look(px_per_mm=4, noise=0, jpeg=100), np.random.default_rng(0))
    dark = flat.image[..., 1] < 250
    left, top = flat.quad_px[0]
    right, low = flat.quad_px[2]
    assert (right - left, low - top) == pytest.approx((101.6 * 4, 152.4 * 4), abs=1)
    assert dark[int(top) - 3, int(left) + 40] and not dark[int(top) + 3, int(left) + 40]
