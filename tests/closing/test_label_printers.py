"""Labels for label printers: whole dots, our picture in the printer's language, what stands on every label, scripts.

Bars are read back by three decoders that know nothing of how they were drawn: zxing-cpp, ZBar and OpenCV.
"""

import io
import re
import unicodedata
from collections import Counter
from dataclasses import replace
from datetime import UTC, datetime
from types import ModuleType

import cv2
import numpy as np
import pytest
import zxingcpp
from PIL import Image

from receiving.closing import LabelExtras, LabelPrint, check_letters, label_png, labels_pdf, labels_raster
from receiving.closing.label_drawing import Font, is_installed, split_into_runs
from receiving.closing.label_printing import bitmap, raster_images
from receiving.closing.label_symbols import sscc_link
from receiving.closing.labels import carton_label
from receiving.closing.writing import font_file_named
from receiving.errors import BadRequest
from receiving.matching import reconcile
from receiving.model import Address, Carton, CartonKind, ContentLine, Manifest, RawRead, Source, Sscc
from receiving.reading import interpret, read_photo
from tests.closing.printed import pdfium

SSCC = "395200000000000012"
TRAY = Carton(
    "07", CartonKind.TRAY, Sscc(SSCC), weight_kg=10.0, contents=(ContentLine("Harbor", Address("Harbor", 3, 2)),)
)
EAN = Carton("08", CartonKind.PARTS, barcode="9520000000011", contents=(ContentLine("Harbor", item="P"),))
MANIFEST = Manifest("S-1", "0417", (TRAY, EAN))


def by_zxing(image: np.ndarray) -> set[str]:
    return {found.text.replace("(00)", "00") for found in zxingcpp.read_barcodes(image)}


def by_zbar(zbar: ModuleType, image: np.ndarray) -> set[str]:
    return {found.data.decode() for found in zbar.decode(image, symbols=[zbar.ZBarSymbol.CODE128])}


def by_opencv(image: np.ndarray) -> set[str]:
    """OpenCV reads no Code 128: it reads the QR code of the link."""
    found, texts, _, _ = cv2.QRCodeDetector().detectAndDecodeMulti(image)
    return set(texts) if found else set()


@pytest.mark.parametrize("dpi", [200, 203, 300, 600])
def test_labels_of_every_resolution_are_read_by_three_decoders(dpi: int, zbar: ModuleType) -> None:
    image = np.asarray(Image.open(io.BytesIO(label_png(TRAY, MANIFEST, LabelPrint(dpi=dpi)))).convert("L"))
    image = np.pad(image, 60, constant_values=255)
    assert f"00{SSCC}" in by_zxing(image)
    assert f"00{SSCC}" in by_zbar(zbar, image)
    assert f"https://id.gs1.org/00/{SSCC}" in by_opencv(image)


@pytest.mark.parametrize("dpi", [200, 203, 300, 600])
def test_every_module_is_a_whole_number_of_dots(dpi: int) -> None:
    drawing = carton_label(TRAY, MANIFEST, dpi=dpi)
    for symbol in drawing.symbols:
        for mm in (symbol.x_mm, symbol.y_mm, symbol.module_mm, symbol.row_mm):
            dots = mm * dpi / 25.4
            assert abs(dots - round(dots)) < 1e-6


@pytest.mark.parametrize("dpi", [203, 300, 600])
def test_the_printer_s_file_holds_our_picture_dot_for_dot(dpi: int) -> None:
    data = labels_raster((TRAY, EAN), MANIFEST, LabelPrint(dpi=dpi))
    width, height = round(101.6 * dpi / 25.4), round(152.4 * dpi / 25.4)
    assert data.startswith(f"^XA^PW{width}^LL{height}^LH0,0^FO0,0^GFA,".encode())
    assert data.count(b"^XZ") == 2
    images = list(raster_images(data))
    for image, carton in zip(images, (TRAY, EAN), strict=True):
        ours = np.asarray(bitmap(carton_label(carton, MANIFEST, dpi=dpi)))
        theirs = np.asarray(image)[:, : ours.shape[1]]
        assert np.array_equal(ours, theirs)
    assert f"00{SSCC}" in by_zxing(np.asarray(images[0].convert("L")))
    assert len(data) < 200_000


def by_the_rules_of_a_library(data: bytes) -> np.ndarray:
    """The first picture of a file, by the rules of ^GF as the documentation of zpl-forge (Rust) gives them."""
    total, _, across, field = re.search(rb"\^GFA,(\d+),(\d+),(\d+),([^^]*)", data).groups()
    rows: list[str] = []
    for mark, digits, end in re.findall(r"(:)|((?:[G-Yg-z]*[0-9A-F])*)([,!]|(?=:)|$)", _in_rows(field, int(across))):
        if mark:
            rows.append(rows[-1])
        elif digits or end:
            rows.append(_spread(digits).ljust(2 * int(across), "F" if end == "!" else "0"))
    bits = np.unpackbits(np.frombuffer(bytes.fromhex("".join(rows)), np.uint8))
    assert len(rows) * int(across) == int(total)
    return bits.reshape(len(rows), -1) == 0


def _spread(digits: str) -> str:
    def times(found: re.Match[str]) -> str:
        count = sum(ord(c) - ord("F") if c < "Z" else 20 * (ord(c) - ord("f")) for c in found[1])
        return found[2] * max(1, count)

    return re.sub(r"([G-Yg-z]*)([0-9A-F])", times, digits)


def _in_rows(field: bytes, across: int) -> str:
    """The field with a comma behind every row that is written in full, which ends by its length."""
    out, row = "", ""
    for part in re.findall(r"[G-Yg-z]*[0-9A-F]|[,!:]", field.decode()):
        out += part
        row = "" if part in ",!:" else row + _spread(part)
        if len(row) == 2 * across:
            out, row = out + ",", ""
    return out


@pytest.mark.parametrize("dpi", [203, 300, 600])
def test_another_reader_of_the_printers_language_sees_our_picture(dpi: int) -> None:
    ours = np.asarray(bitmap(carton_label(TRAY, MANIFEST, dpi=dpi)))
    theirs = by_the_rules_of_a_library(labels_raster((TRAY,), MANIFEST, LabelPrint(dpi=dpi)))
    assert np.array_equal(ours, theirs[:, : ours.shape[1]])


def test_a_picture_that_another_library_wrote_is_read() -> None:
    # Written by zebrafy 2.0 (ZebrafyImage, ASCII_COMPRESSED) from these rows, 1 for white.
    data = b"^XA\n^FO0,0^GFA,108,108,9,L0JF00FF,::,::!::D822F41F52191EAF24L0NF00!:^FS\n^XZ"
    rows = [0xFFFFFF0000FF00FFFF] * 3 + [2**72 - 1] * 3 + [0] * 3 + [0x27DD0BE0ADE6E150DB] + [0xFFFFFF00000000FF00] * 2
    (image,) = raster_images(data)
    assert image.tobytes() == b"".join(row.to_bytes(9, "big") for row in rows)


def test_a_sheet_of_several_labels_is_not_for_a_label_printer() -> None:
    with pytest.raises(BadRequest, match="a label printer takes single labels"):
        labels_raster((TRAY,), MANIFEST, LabelPrint("a4-4up"))


def test_the_picture_is_moved_by_whole_dots() -> None:
    plain, moved = (
        np.asarray(next(raster_images(labels_raster((TRAY,), MANIFEST, LabelPrint(dpi=203, offset_mm=by)))))
        for by in ((0.0, 0.0), (2.0, 3.0))
    )
    assert np.array_equal(plain[:-24, :-16], moved[24:, 16:])  # 8 dots a millimetre
    assert labels_pdf((TRAY,), MANIFEST) != labels_pdf((TRAY,), MANIFEST, LabelPrint(offset_mm=(2.0, 0.0)))
    with pytest.raises(BadRequest, match="cannot be moved by 40 and 0 mm"):
        LabelPrint(offset_mm=(40.0, 0.0))


def words(extras: LabelExtras, carton: Carton = TRAY) -> list[str]:
    return [each.text for each in carton_label(carton, MANIFEST, extras=extras).words]


def test_sender_pounds_and_host_stand_on_the_label() -> None:
    extras = LabelExtras(("Harbor Fixtures", "12 Quay Street"), pounds=True, link_host="https://boxes.example")
    assert {"FROM Harbor Fixtures", "12 Quay Street", "22 lb"}.issubset(words(extras))
    assert "10 kg" in words(LabelExtras())
    image = np.asarray(Image.open(io.BytesIO(label_png(TRAY, MANIFEST, LabelPrint(extras=extras)))).convert("L"))
    assert f"https://boxes.example/00/{SSCC}" in by_opencv(np.pad(image, 60, constant_values=255))


def test_a_link_in_capitals_is_a_smaller_symbol_that_receives_the_same_carton() -> None:
    """Scheme and host are the same in either case (RFC 3986, 3.1 and 3.2.2); capitals take fewer bits in a QR code."""
    extras = LabelExtras(link_host="HTTPS://ID.GS1.ORG")
    photo = label_png(TRAY, MANIFEST, LabelPrint(extras=extras))
    (link,) = (each for each in read_photo("label.png", photo).symbols if each.symbology == "]Q1")
    assert link.raw == f"HTTPS://ID.GS1.ORG/00/{SSCC}"
    assert sscc_link(Sscc(SSCC), extras.link_host).width < sscc_link(Sscc(SSCC)).width
    scan = RawRead("scan", datetime(2026, 11, 2, tzinfo=UTC), Source.SCANNER, link.raw, link.symbology)
    assert [each.carton for each in reconcile(MANIFEST, (interpret(scan),)).received] == [TRAY]


@pytest.mark.parametrize("host", ["boxes.example", "", "ftp://boxes.example", "https://boxes example"])
def test_a_host_that_no_phone_would_open_is_printed_on_no_label(host: str) -> None:
    with pytest.raises(BadRequest, match="is not the start of a web address") as refused:
        LabelExtras(link_host=host)
    assert refused.value.field == "link_host"


@pytest.mark.parametrize(
    ("weight_kg", "title", "metric", "us"),
    [
        (23.0, "WEIGHT", "23 kg", "50.7 lb"),
        (24.0, "HEAVY: NOT ALONE", "24 kg (52.9 lb)", "52.9 lb (24 kg)"),
        (31.0, "HEAVY: NOT BY HAND", "31 kg (68.3 lb)", "68.3 lb (31 kg)"),
    ],
)
def test_a_weight_that_warns_stands_in_both_units(weight_kg: float, title: str, metric: str, us: str) -> None:
    heavy = replace(TRAY, weight_kg=weight_kg)
    assert {title, metric}.issubset(words(LabelExtras(), heavy))
    assert {title, us}.issubset(words(LabelExtras(pounds=True), heavy))


def section(name: str) -> Carton:
    return Carton("09", CartonKind.HEADER, Sscc(SSCC), contents=(ContentLine(name),))


@pytest.mark.parametrize("number", [1, 3, 4])
def test_a_label_for_whole_sections_or_for_none_names_three_of_them_or_of_its_goods(number: int) -> None:
    names = [f"Name{n}" for n in range(number)]
    in_sections = replace(section(""), contents=tuple(map(ContentLine, names)))
    goods = replace(section(""), contents=tuple(ContentLine(description=name) for name in names))
    for carton in (in_sections, goods):
        printed = [each for each in words(LabelExtras(), carton) if each.startswith("Name")]
        assert printed == names[:3]


def test_accents_that_the_plain_font_lacks_are_printed_where_the_wider_one_is_installed() -> None:
    wanted = "Żwirki, Łódź" if is_installed(Font.WIDE) else "Zwirki, Łódz"
    assert wanted in words(LabelExtras(), section("Żwirki, Łódź"))


def test_accents_are_printed_and_other_signs_do_not_stop_a_label() -> None:
    assert "Café Zoë" in words(LabelExtras(), section("Café Zoë"))
    assert words(LabelExtras(), section("Harbor ☂"))


@pytest.mark.parametrize(("text", "named"), [("สมชาย", "ส (U+0E2A)"), ("ܐܒ", "ܐ (U+0710), ܒ (U+0712)")])
def test_letters_that_no_font_here_can_print_are_refused_by_name(text: str, named: str) -> None:
    with pytest.raises(BadRequest) as refused:
        words(LabelExtras(), section(text))
    assert str(refused.value.message).startswith(f"Carton '09': The label's fonts cannot print {named}")
    assert "Write it in Latin letters on the manifest" in str(refused.value.next_step)


def test_a_sender_is_on_no_manifest_and_is_refused_without_one(monkeypatch: pytest.MonkeyPatch) -> None:
    """The letters: Thai is not set here at all; Korean needs a font that a machine may lack."""
    with pytest.raises(BadRequest, match=re.escape("ส (U+0E2A)")) as refused:
        check_letters("สมชาย")
    assert str(refused.value.next_step) == "Write it in Latin letters."
    monkeypatch.setattr("receiving.closing.label_drawing.packages_with", lambda letters: ("fonts-nanum",))
    with pytest.raises(BadRequest) as refused:
        check_letters("สมชาย")
    assert str(refused.value.next_step) == (
        "Write it in Latin letters, or install a font with them (Debian: fonts-nanum)."
    )
    check_letters("Nordwall Depot, Café Zoë")


@pytest.mark.parametrize(
    ("text", "font", "package"),
    [
        ("קיר אחורי (2)", "DejaVuSans", "fonts-dejavu-core"),
        ("الجدار الخلفي", "DejaVuSans", "fonts-dejavu-core"),
        ("뒷벽 0417", "NanumGothic", "fonts-nanum"),
        ("東京 Store", "DroidSansFallbackFull", "fonts-droid-fallback"),
    ],
)
def test_other_writing_systems_print_where_a_font_of_theirs_is_installed(text: str, font: str, package: str) -> None:
    if font_file_named(font) is None:
        with pytest.raises(BadRequest) as refused:
            words(LabelExtras(), section(text))
        assert package in str(refused.value.next_step)
        return
    assert text in words(LabelExtras(), section(text)), "a label keeps what was written until it is drawn"
    label = carton_label(section(text), MANIFEST)
    drawn = [runs for each in label.words if each.text == text for runs in split_into_runs(each.text, each.font)]
    assert {name for _, name in drawn} <= {font, "DejaVuSans-Bold", "VeraBd"}
    assert "?" not in "".join(run for run, _ in drawn)
    page = pdfium.PdfDocument(labels_pdf((section(text),), MANIFEST))[0]
    printed = unicodedata.normalize("NFKC", page.get_textpage().get_text_range())
    assert Counter(text) <= Counter(printed), "each letter is on paper, whatever its form and place"


@pytest.mark.parametrize("text", ["Гавань", "Λιμάνι"])
def test_cyrillic_and_greek_print_where_the_wider_font_is_installed(text: str) -> None:
    if not is_installed(Font.WIDE):
        with pytest.raises(BadRequest, match="fonts-dejavu-core"):
            words(LabelExtras(), section(text))
        return
    assert text in words(LabelExtras(), section(text))
    assert labels_pdf((section(text),), MANIFEST)
