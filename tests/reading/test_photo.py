"""The cascade on made photos, and on the shared real ones where they are there."""

import json
from pathlib import Path

import cv2
import numpy as np
import pytest

from receiving.errors import NotAPhoto
from receiving.model import ExpectedCode
from receiving.reading import attempts, cascade
from receiving.reading.acceptance import is_agreed
from receiving.reading.decoders import Decoded, zbar_available
from receiving.reading.photo import read_gray, read_photo
from receiving.reading.regions import bar_regions
from tests.reading.photo_made import as_file, code, on_board

needs_zbar = pytest.mark.skipif(not zbar_available(), reason="ZBar's shared library (libzbar0) is not installed")

SHARED = Path(__file__).resolve().parents[2].parent / "shared" / "photos"

# Demo SSCCs: GS1 prefix 952 is kept for demonstrations (GS1 General Specifications, 1.4.3).
FIRST, SECOND = "095200000000000110", "095200000000000127"


def sscc_bars(sscc: str, scale: int = 3):
    return code(f"(00){sscc}", "Code128", gs1=True, scale=scale, height=110)


@pytest.mark.parametrize("angle", [0, 10, 20, 30, 45, 60, 90, 180])
def test_an_sscc_label_is_read_at_any_angle(angle: int) -> None:
    (symbol,) = read_gray(on_board((sscc_bars(FIRST, 2), (600, 450), angle))).symbols
    assert (symbol.raw, symbol.symbology, symbol.guided) == (f"00{FIRST}", "]C1", False)
    centre = np.mean(symbol.quad_px, axis=0)
    assert centre == pytest.approx((600, 450), abs=20)


@pytest.mark.parametrize("angle", [0, 12, 30, 45])
def test_a_pdf417_is_read_at_any_angle(angle: int) -> None:
    gray = on_board((code("CARTON 07 OF 40 SECTION NORTH", "PDF417", scale=4), (600, 450), angle))
    assert [s.raw for s in read_gray(gray).symbols] == ["CARTON 07 OF 40 SECTION NORTH"]


def test_the_quad_of_a_turned_phone_photo_lies_on_the_upright_picture() -> None:
    from PIL import Image

    upright = on_board((sscc_bars(FIRST), (400, 300), 0))
    exif = Image.Exif()
    exif[0x0112] = 6
    data = as_file(np.ascontiguousarray(np.rot90(upright)), "JPEG", exif=exif, quality=95)
    reading = read_photo("a.jpg", data)
    assert (reading.width_px, reading.height_px) == (1200, 900)
    assert np.mean(reading.symbols[0].quad_px, axis=0) == pytest.approx((400, 300), abs=20)


def test_two_labels_with_the_same_code_stay_two() -> None:
    gray = on_board((sscc_bars(FIRST, 2), (330, 200), 0), (sscc_bars(FIRST, 2), (700, 700), 0))
    symbols = read_gray(gray).symbols
    assert [s.raw for s in symbols] == [f"00{FIRST}"] * 2
    assert len({s.label for s in symbols}) == 2


def test_bars_and_matrix_of_one_label_share_its_number() -> None:
    gray = on_board(
        (sscc_bars(FIRST, 2), (400, 500), 0),
        (code(f"(00){FIRST}", "DataMatrix", gs1=True, scale=5), (400, 370), 0),
        (sscc_bars(SECOND, 2), (850, 150), 0),
    )
    labels = {(s.raw, s.symbology[:2]): s.label for s in read_gray(gray).symbols}
    assert labels[f"00{FIRST}", "]C"] == labels[f"00{FIRST}", "]d"] != labels[f"00{SECOND}", "]C"]


def test_a_light_code_on_a_dark_carton_is_read() -> None:
    (symbol,) = read_gray(255 - on_board((code("CARTON 07 OF 40", "DataMatrix", scale=6), (600, 450), 0))).symbols
    assert symbol.raw == "CARTON 07 OF 40"


def test_neighbouring_labels_of_two_cartons_are_not_joined() -> None:
    gray = on_board((sscc_bars(FIRST, 2), (400, 300), 0), (sscc_bars(SECOND, 2), (400, 430), 0))
    symbols = read_gray(gray).symbols
    assert {s.raw for s in symbols} == {f"00{FIRST}", f"00{SECOND}"}
    assert len({s.label for s in symbols}) == 2


def test_a_blurred_label_is_reported_as_unread_with_advice() -> None:
    gray = cv2.GaussianBlur(on_board((sscc_bars(FIRST), (600, 450), 0), noise=0), (0, 0), 3.2)
    reading = read_gray(gray)
    assert reading.symbols == ()
    assert reading.unread[0].advice == "needs a closer photo"
    assert np.mean(reading.unread[0].quad_px, axis=0) == pytest.approx((600, 450), abs=30)
    assert reading.advice.startswith("A label is blurred")


def test_a_label_that_no_decoder_reads_is_read_by_what_is_expected() -> None:
    gray = cv2.GaussianBlur(on_board((sscc_bars(FIRST), (600, 450), 0), noise=0), (0, 0), 3.2)
    expected = [ExpectedCode(f"00{s}", "]C1") for s in (FIRST, SECOND)]
    (symbol,) = read_gray(gray, expected).symbols
    assert (symbol.raw, symbol.guided) == (f"00{FIRST}", True)


def test_a_short_code_39_is_believed_only_when_it_is_expected() -> None:
    gray = on_board((code("A1", "Code39", height=90), (600, 450), 0))
    alone = read_gray(gray)
    assert alone.symbols == () and alone.refused == ("]A0A1 (zxing-cpp)",)
    assert [s.raw for s in read_gray(gray, [ExpectedCode("A1", "]A0")]).symbols] == ["A1"]


def test_an_answer_that_no_second_look_confirms_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    """A text that only one whole-photo answer gives, as modulo 103 lets through one in a hundred on blur."""
    gray = on_board(noise=6.0)
    wrong = Decoded("K2X-99", "]C0", "Code128", ((300, 400), (800, 400), (800, 500), (300, 500)), "zxing-cpp")
    monkeypatch.setattr(cascade, "zxing_symbols", lambda *_, **__: (wrong,))
    reading = read_gray(gray)
    assert reading.symbols == () and reading.refused == ("]C0K2X-99 (zxing-cpp)",)


def test_a_refused_text_is_believed_when_its_bars_fit_and_no_neighbours_do(monkeypatch: pytest.MonkeyPatch) -> None:
    """EAN 4006381333931 is the worked example of the GS1 check digit; its neighbour differs in two digits."""
    gray = cv2.GaussianBlur(on_board((code("4006381333931", "EAN13", height=150), (600, 450), 0), noise=1), (0, 0), 3.0)
    quad = ((460.0, 400.0), (740.0, 400.0), (740.0, 500.0), (460.0, 500.0))
    for text, believed in (("4006381333931", True), ("4006381338936", False)):
        answer = Decoded(text, "]E0", "EAN13", quad, "zbar")
        monkeypatch.setattr(cascade, "zxing_symbols", lambda *_, found=answer, **__: (found,))
        assert bool(read_gray(gray).symbols) is believed, text


def test_a_blurred_upc_e_is_believed_only_when_two_readers_agree_or_it_is_expected() -> None:
    gray = cv2.GaussianBlur(on_board((code("0608920", "UPCE", scale=4, height=160), (600, 450), 4)), (0, 0), 1.5)
    assert {s.raw for s in read_gray(gray).symbols} <= {"0060000008925"}
    assert [s.raw for s in read_gray(gray, [ExpectedCode("060000008925", "]E0")]).symbols] == ["060000008925"]


@needs_zbar
def test_an_sscc_that_zbar_alone_reads_is_given_as_gs1_128(monkeypatch: pytest.MonkeyPatch) -> None:
    """ZBar keeps no FNC1; AI 00 and a right SSCC, and nothing else, tell it all the same."""
    for module in (cascade, attempts):
        monkeypatch.setattr(module, "zxing_symbols", lambda *_, **__: ())
    (symbol,) = read_gray(on_board((sscc_bars(FIRST, 2), (600, 450), 0))).symbols
    assert (symbol.raw, symbol.symbology, symbol.reader) == (f"00{FIRST}", "]C1", "zbar")


@needs_zbar
@pytest.mark.parametrize(
    ("text", "believed"), [(f"00{FIRST}", True), (f"00{FIRST[:-1]}5", False), ("CARTON 07", False)]
)
def test_zbar_alone_is_believed_in_nothing_but_an_sscc(text: str, believed: bool) -> None:
    gray = on_board((code(text, "Code128", scale=2, height=110), (600, 450), 0))
    (region,) = (r for r in bar_regions(gray) if r.is_bars and r.alternations > 30)
    attempt = attempts.first_attempt(gray, region)
    (answer,) = attempt.zbar()
    assert (answer.raw, is_agreed(answer, [answer], attempt, plain=True)) == (text, believed)


def test_a_corrected_text_that_used_up_its_error_correction_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    quad = ((300.0, 400.0), (800.0, 400.0), (800.0, 500.0), (300.0, 500.0))
    wrong = Decoded("DBYWXZ", "]L2", "PDF417", quad, "zxing-cpp", spare=0.0)
    monkeypatch.setattr(cascade, "zxing_symbols", lambda *_, **__: (wrong,))
    assert read_gray(on_board(noise=6.0)).symbols == ()


def test_an_itf_code_cut_off_at_the_edge_of_the_photo_is_not_read_as_a_shorter_one() -> None:
    gray = on_board((code("00012345678905", "ITF", height=200), (600, 450), 0))
    for cut in range(420, 700, 40):
        assert {s.raw for s in read_gray(np.ascontiguousarray(gray[:, cut:])).symbols} <= {"00012345678905"}


def test_a_photo_without_labels_gives_nothing_but_advice() -> None:
    reading = read_gray(on_board())
    assert (reading.symbols, reading.unread, reading.refused) == ((), (), ())
    assert reading.advice.startswith("No label was found")


def test_what_is_no_photo_is_an_error_of_ours() -> None:
    with pytest.raises(NotAPhoto):
        read_photo("a.jpg", b"not a photo")


def test_the_smallest_pictures_are_read_without_fault() -> None:
    for shape in ((1, 1), (1, 400), (400, 1), (7, 9)):
        assert read_gray(np.zeros(shape, np.uint8)).symbols == ()


def shared_photos(*folders: str) -> list[tuple[str, set[str], bool]]:
    truth = json.loads((SHARED / "truth.json").read_text())["images"]
    return [
        (shot["file"], {c["text"] for c in shot["codes"]}, shot["negative"])
        for shot in truth
        if shot["file"].split("/")[0] in folders
    ]


needs_photos = pytest.mark.skipif(not SHARED.exists(), reason="the shared photos (../shared/photos) are not there")


@needs_photos
def test_pictures_of_no_label_and_of_cut_off_labels_give_nothing() -> None:
    """Source of the photos and of their truth: the ZXing black-box set (Apache-2.0)."""
    for file, _, _ in shared_photos("falsepositives", "falsepositives-2", "partial"):
        assert read_photo(file, (SHARED / file).read_bytes()).symbols == (), file


@needs_photos
def test_real_photos_are_read_as_often_as_the_best_single_decoder_reads_them() -> None:
    """Floors: what zxing-cpp 3.1 and ZBar 0.23 read alone on the same photos, the better of the two."""
    floors = {"code128-2": 39, "code39-3": 17, "itf-2": 14, "pdf417-2": 24, "qrcode-5": 19, "datamatrix-2": 18}
    for folder, floor in floors.items():
        shots = shared_photos(folder)
        read = sum(texts <= {s.raw for s in read_photo(f, (SHARED / f).read_bytes()).symbols} for f, texts, _ in shots)
        assert read >= floor, folder
