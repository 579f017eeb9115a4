import io
from datetime import date
from types import ModuleType

import numpy as np
import pytest
import zxingcpp
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from receiving.closing.label_drawing import Font, LabelDrawing, PlacedSymbol, fit_words, make_printable, width_of
from receiving.closing.label_printing import drawing_image, label_png
from receiving.closing.label_stock import STOCKS, LabelPrint
from receiving.closing.label_symbols import position_data_matrix, position_text, sscc_bars, sscc_data_matrix, sscc_link
from receiving.closing.labels import carton_label, position_label
from receiving.errors import BadRequest
from receiving.model import Address, Carton, CartonKind, ContentLine, Manifest, RawRead, Source, Sscc
from receiving.reading import default_patterns, interpret

SSCC = Sscc("106141411234567897")  # GS1 General Specifications, section 7.9.1, and tests of libraries since


def carton(number: str, kind: CartonKind = CartonKind.TRAY, *cells: tuple[str, int, int], **more: object) -> Carton:
    lines = tuple(ContentLine(section, Address(section, column, row)) for section, column, row in cells)
    return Carton(number, kind, contents=lines, **more)  # type: ignore[arg-type]


TRAY = carton("07", CartonKind.TRAY, ("Harrow Row", 12, 3), sscc=SSCC, weight_kg=4.25)
OUTER = carton("00", CartonKind.OUTER, sscc=Sscc("195200000000000001"))
FIRST = carton("02", CartonKind.PARTS, open_first=True, sscc=Sscc("195200000000000018"), outer="00")
PLAIN = carton("03", CartonKind.PARTS, ("Harrow Row", 1, 1), ("Harrow Row", 2, 1), barcode="PK-00412", outer="00")
BARE = carton("04", CartonKind.TRAY, ("Harrow Row", 1, 2))
MANIFEST = Manifest("PW-1", "0417", (OUTER, TRAY, FIRST, PLAIN, BARE), date(2026, 12, 3))


def picture(drawing: LabelDrawing) -> Image.Image:
    return drawing_image(drawing)


def words(drawing: LabelDrawing) -> list[str]:
    return [line.text for line in drawing.words]


def symbol(drawing: LabelDrawing, name: str) -> PlacedSymbol:
    return next(placed for placed in drawing.symbols if placed.modules.name == name)


def seen(image: Image.Image) -> set[tuple[str, bytes]]:
    return {(found.symbology_identifier, found.bytes) for found in zxingcpp.read_barcodes(image)}


def test_the_bars_are_code_128_in_set_c_with_fnc1_first() -> None:
    # ISO/IEC 15417: eleven modules a symbol character, the stop has 13; start C, FNC1, ten pairs, check.
    assert sscc_bars(SSCC).width == 11 * (1 + 1 + 10 + 1) + 13
    assert seen(picture(carton_label(TRAY, MANIFEST))) >= {("]C1", b"00106141411234567897")}


def test_the_check_character_agrees_with_the_standards_arithmetic() -> None:
    # ISO/IEC 15417: start C = 105, FNC1 = 102; weights 1, 1, 2, 3 …; modulo 103. Widths of value 0..: from memory.
    pairs = [int(f"00{SSCC}"[place : place + 2]) for place in range(0, 20, 2)]
    check = (105 + 102 + sum((place + 2) * pair for place, pair in enumerate(pairs))) % 103
    bars = sscc_bars(SSCC).rows[0]
    twin = zxingcpp.create_barcode(f"{check:02d}" * 2, zxingcpp.BarcodeFormat.Code128)  # start C, check, check, …
    image = twin.to_image(scale=1, add_quiet_zones=False)
    row = tuple(bool(value < 128) for value in np.asarray(image)[0])
    assert bars[132:143] == row[11:22]


def test_every_symbol_of_a_label_is_read_back_by_zxing_and_by_zbar(zbar: ModuleType) -> None:
    image = picture(carton_label(TRAY, MANIFEST))
    link = b"https://id.gs1.org/00/106141411234567897"
    assert seen(image) == {
        ("]C1", b"00106141411234567897"),
        ("]d2", b"00106141411234567897"),
        ("]Q1", link),
        ("]d1", b"SECTION Harrow Row COL 12 ROW 3"),
    }
    found = {
        (read.type, read.data) for read in zbar.decode(image, symbols=[zbar.ZBarSymbol.CODE128, zbar.ZBarSymbol.QRCODE])
    }
    assert found == {("CODE128", b"00106141411234567897"), ("QRCODE", link)}  # ZBar drops FNC1, reads no Data Matrix


def test_a_carton_with_a_carriers_number_alone_gets_it_as_its_symbol() -> None:
    parcel = carton("05", CartonKind.TRAY, ("Harrow Row", 1, 2), numbers=("9274899992136003821767", "X1"))
    drawn = carton_label(parcel, MANIFEST)
    assert seen(picture(drawn)) >= {("]C0", b"9274899992136003821767"), ("]d1", b"9274899992136003821767")}
    assert "CARTON NUMBER" in words(drawn)


@pytest.mark.parametrize("dpi", [203, 300, 600])
@pytest.mark.parametrize("stock", STOCKS, ids=lambda stock: stock.name)
def test_published_dimensions_hold_on_every_stock_and_printer(dpi: int, stock) -> None:  # type: ignore[no-untyped-def]
    # GS1 General Specifications, symbol specification table for logistic units: X 0.495 to 1.016 mm, height 31.75 mm,
    # quiet zones 10 X for GS1-128; Data Matrix and QR modules at least 0.743 mm (from memory), quiet zones 1 X and 4 X.
    drawing = carton_label(TRAY, MANIFEST, size_mm=stock.label_mm, margin_mm=stock.margin_mm, dpi=dpi)
    bars = symbol(drawing, "GS1-128")
    assert 0.495 <= bars.module_mm <= 1.016
    assert bars.h_mm >= 32
    assert symbol(drawing, "GS1 Data Matrix").module_mm >= 0.743 - 0.01
    assert symbol(drawing, "QR code").module_mm >= 0.743 - 0.01
    dots = [placed.module_mm * dpi / 25.4 for placed in drawing.symbols]
    assert dots == pytest.approx([round(count) for count in dots], abs=1e-6)
    assert_quiet(drawing)


def assert_quiet(drawing: LabelDrawing) -> None:
    """No ink of anything else in the quiet zone of a symbol, and the zone is on the label."""
    for placed in drawing.symbols:
        quiet = placed.modules.quiet * placed.module_mm
        tall = 0.0 if placed.modules.height == 1 else quiet
        zone = (
            placed.x_mm - quiet,
            placed.y_mm - tall,
            placed.x_mm + placed.w_mm + quiet,
            placed.y_mm + placed.h_mm + tall,
        )
        assert zone[0] >= -1e-6 and zone[2] <= drawing.width_mm + 1e-6, placed.modules.name
        others = [(b.x_mm, b.y_mm, b.x_mm + b.w_mm, b.y_mm + b.h_mm) for b in drawing.boxes]
        others += [(s.x_mm, s.y_mm, s.x_mm + s.w_mm, s.y_mm + s.h_mm) for s in drawing.symbols if s is not placed]
        others += [
            (w.x_mm, w.baseline_mm - 0.73 * w.size_mm, w.x_mm + width_of(w.text, w.size_mm, w.font), w.baseline_mm)
            for w in drawing.words
        ]
        inside = [box for box in others if overlaps(zone, box)]
        assert not inside, (placed.modules.name, zone, inside)


def overlaps(one: tuple[float, ...], two: tuple[float, ...]) -> bool:
    return one[0] < two[2] - 0.01 and two[0] < one[2] - 0.01 and one[1] < two[3] - 0.01 and two[1] < one[3] - 0.01


@pytest.mark.parametrize("made", [TRAY, OUTER, FIRST, PLAIN, BARE], ids=lambda made: made.kind)
@pytest.mark.parametrize("stock", STOCKS, ids=lambda stock: stock.name)
def test_nothing_is_printed_over_anything_else_or_off_the_label(made: Carton, stock) -> None:  # type: ignore[no-untyped-def]
    drawing = carton_label(made, MANIFEST, size_mm=stock.label_mm, margin_mm=stock.margin_mm)
    assert_quiet(drawing)
    spans = [
        (w.x_mm, w.baseline_mm - 0.73 * w.size_mm, w.x_mm + width_of(w.text, w.size_mm, w.font), w.baseline_mm)
        for w in drawing.words
    ]
    for place, span in enumerate(spans):
        assert span[0] >= 0 and span[1] >= 0, drawing.words[place]
        assert span[2] <= drawing.width_mm and span[3] <= drawing.height_mm, drawing.words[place]
        assert not any(overlaps(span, other) for other in spans[place + 1 :]), drawing.words[place]


def test_the_barcode_stands_upright_at_the_bottom_with_its_text_below() -> None:
    drawing = carton_label(TRAY, MANIFEST)
    bars = symbol(drawing, "GS1-128")
    text = next(line for line in drawing.words if line.text == "(00)106141411234567897")
    assert bars.y_mm > drawing.height_mm / 2
    assert text.baseline_mm > bars.y_mm + bars.h_mm
    assert text.size_mm * 0.73 >= 3  # GS1 General Specifications, section 6.6.4.5 (from memory): HRI at least 3 mm high


def test_column_and_row_are_the_largest_words() -> None:
    largest = sorted(carton_label(TRAY, MANIFEST).words, key=lambda line: -line.size_mm)[:2]
    assert {line.text for line in largest} == {"12", "3"}


def test_open_first_is_white_on_a_black_band_across_the_label() -> None:
    drawing = carton_label(FIRST, MANIFEST)
    band = drawing.boxes[0]
    assert band.w_mm == pytest.approx(drawing.width_mm - 6)
    assert next(line for line in drawing.words if line.text == "OPEN FIRST").white
    assert "OPEN FIRST" not in words(carton_label(TRAY, MANIFEST))


def test_cartons_are_counted_without_their_outer_box() -> None:
    assert "carton 1 of 4" in words(carton_label(TRAY, MANIFEST))
    assert "holds 2 cartons" in words(carton_label(OUTER, MANIFEST))


def test_a_carton_without_sscc_carries_its_barcode_as_plain_code_128() -> None:
    assert seen(picture(carton_label(PLAIN, MANIFEST))) == {("]C0", b"PK-00412"), ("]d1", b"PK-00412")}


@pytest.mark.parametrize("barcode", [" ", "A  B", "\x1d", "é"])
def test_a_barcode_of_odd_characters_prints_as_it_is(barcode: str) -> None:
    drawing = carton_label(carton("09", barcode=barcode), MANIFEST)
    assert zxingcpp.read_barcode(picture(drawing), zxingcpp.BarcodeFormat.DataMatrix).text in (barcode, "<GS>")
    if barcode == "A  B":
        assert "A  B" in words(drawing)  # typed as it is read


def test_a_carton_for_two_places_has_words_for_both_and_no_symbol_for_one() -> None:
    drawing = carton_label(PLAIN, MANIFEST)
    assert "COL 2 ROW 1" in words(drawing)
    assert not [placed for placed in drawing.symbols if "ROW" in placed.modules.text]


def test_a_carton_with_no_code_at_all_still_says_where_it_goes() -> None:
    drawing = carton_label(BARE, MANIFEST)
    assert seen(picture(drawing)) == {("]d1", b"SECTION Harrow Row COL 1 ROW 2")}
    assert "No code on the manifest: type the carton." in words(drawing)


@pytest.mark.parametrize("address", [Address("", 3, 2), Address("Harrow Row", 3, 2), Address("B & Q-less", 10, 1)])
def test_a_position_symbol_is_understood_by_our_own_reading(address: Address) -> None:
    image = picture(position_label(address))
    found = zxingcpp.read_barcode(image)
    from datetime import UTC, datetime

    raw = RawRead("1", datetime(2026, 1, 1, tzinfo=UTC), Source.PHOTO, found.text, found.symbology_identifier)
    assert interpret(raw, default_patterns()).claim.address == address


def test_a_position_symbol_is_square_whatever_its_text() -> None:
    for length in range(1, 40):
        modules = position_data_matrix(Address("S" * length, 1, 1))
        assert modules.width == modules.height


def test_position_text_is_plain() -> None:
    assert position_text(Address("", 3, 2)) == "COL 3 ROW 2"


def test_symbol_sizes_are_those_of_the_standards() -> None:
    # ISO/IEC 16022, table 7: 12 data codewords fit 16 × 16 (FNC1 and ten pairs need 11).
    assert (sscc_data_matrix(SSCC).width, sscc_data_matrix(SSCC).height) == (16, 16)
    # ISO/IEC 18004, table 7: 40 bytes fit version 3 (29 × 29) at level M, which holds 42.
    assert sscc_link(SSCC).width == 29


@pytest.mark.parametrize(
    "host", ["https://id.gs1.org", "HTTPS://ID.GS1.ORG", "http://a.de", "https://box.example/göttin"]
)
def test_a_link_is_printed_at_level_m_though_a_smaller_symbol_would_do_for_less(host: str) -> None:
    link = sscc_link(SSCC, host)
    dots = np.pad(np.where(np.array(link.rows), 0, 255).astype(np.uint8), link.quiet, constant_values=255)
    found = zxingcpp.read_barcode(np.kron(dots, np.ones((3, 3), np.uint8)))
    assert (found.text, found.ec_level) == (f"{host}/00/{SSCC}", "M")


def test_a_link_that_no_qr_code_holds_is_refused() -> None:
    with pytest.raises(BadRequest, match="cannot be printed as QRCode"):
        sscc_link(SSCC, "https://" + "a" * 3000)


def test_a_png_knows_its_size() -> None:
    image = Image.open(io.BytesIO(label_png(TRAY, MANIFEST, LabelPrint(dpi=300))))
    assert image.size == (1200, 1800)
    assert image.info["dpi"] == pytest.approx((300, 300), abs=0.1)


def test_stock_that_is_too_narrow_for_the_x_dimension_is_refused() -> None:
    with pytest.raises(BadRequest) as fault:
        carton_label(TRAY, MANIFEST, size_mm=(80, 120))
    assert str(fault.value) == (
        "Carton '07': The GS1-128 '(00)106141411234567897' needs 176 modules of at least 0.495 mm; "
        "74 mm at 300 dots per inch hold modules of 0.34 mm. Choose wider stock or a finer printer."
    )


def test_a_barcode_that_code_128_cannot_hold_is_named() -> None:
    with pytest.raises(BadRequest, match="Carton '09': '日本' cannot be printed as Code128"):
        carton_label(carton("09", barcode="日本"), MANIFEST)


def test_a_barcode_too_long_for_the_label_is_refused() -> None:
    with pytest.raises(BadRequest, match="Choose wider stock"):
        carton_label(carton("09", barcode="X" * 90), MANIFEST)


def test_text_that_the_font_lacks_is_replaced_not_lost() -> None:
    assert make_printable("Łódź  Straße\n日本") == "Łódz Straße ??"


def test_a_long_text_shrinks_first_and_is_then_cut() -> None:
    short, long = (fit_words("W" * count, 0, 10, 8, 30, font=Font.BOLD) for count in (5, 60))
    assert short.text == "WWWWW" and short.size_mm < 8
    assert long.text.endswith("…") and width_of(long.text, long.size_mm, long.font) <= 30.001


TEXTS = st.text(max_size=40)
CELLS = st.lists(st.tuples(TEXTS, st.integers(1, 999), st.integers(1, 999)), max_size=6)


@settings(max_examples=60, deadline=None)
@given(st.sampled_from(CartonKind), TEXTS, TEXTS, TEXTS, CELLS, st.booleans(), st.booleans(), st.sampled_from(STOCKS))
def test_any_text_gives_a_clean_label_or_a_clear_refusal(kind, name, store, barcode, cells, first, with_sscc, stock):  # type: ignore[no-untyped-def]
    made = carton(name, kind, *cells, open_first=first, barcode=barcode, sscc=SSCC if with_sscc else None)
    try:
        drawing = carton_label(
            made, Manifest("S", store, (made,)), size_mm=stock.label_mm, margin_mm=stock.margin_mm, dpi=203
        )
    except BadRequest as fault:
        assert str(str(fault.message)).startswith(f"Carton {name!r}: ") and fault.next_step
        printable_all = "fonts cannot print" not in str(str(fault.message))
        assert not with_sscc or not printable_all or any(len(text) > 20 or not text.isascii() for text, _, _ in cells)
        return
    assert_quiet(drawing)
    for line in drawing.words:
        assert line.x_mm >= 0 and line.x_mm + width_of(line.text, line.size_mm, line.font) <= drawing.width_mm + 0.01
        assert 0 < line.baseline_mm < drawing.height_mm
