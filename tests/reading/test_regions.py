"""Bar regions by gradient coherence (Bigun & Granlund 1987), on made photos with known places."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from receiving.reading.region import BarRegion, bar_crop, covers, is_printed
from receiving.reading.regions import bar_regions, matrix_regions
from tests.reading.photo_made import code, on_board

BARS = code("00012345678905", "Code128", height=100)


@pytest.mark.parametrize("angle", [0, 10, 30, 45, 60, 90, 135])
def test_bars_are_found_at_any_angle(angle: int) -> None:
    found = [r for r in bar_regions(on_board((BARS, (600, 450), angle))) if r.is_bars and r.alternations > 30]
    assert len(found) == 1
    region = found[0]
    assert (region.x, region.y) == pytest.approx((600, 450), abs=15)
    assert abs((region.angle_deg + angle + 90) % 180 - 90) < 3
    assert region.length_px == pytest.approx(BARS.shape[1] - 60, abs=40)


def test_two_labels_side_by_side_are_two_regions() -> None:
    gray = on_board((BARS, (330, 300), 0), (BARS, (880, 600), 25))
    assert len([r for r in bar_regions(gray) if r.alternations > 30]) == 2


def test_a_region_that_was_read_is_not_found_again() -> None:
    gray = on_board((BARS, (600, 450), 0))
    (region,) = (r for r in bar_regions(gray) if r.alternations > 30)
    assert not [r for r in bar_regions(gray, [region.quad()]) if r.alternations > 30]


OTHER = code("00076543210983", "Code128", height=100)


@pytest.mark.parametrize("angle", [0, 90, 140])
@pytest.mark.parametrize("apart", [104, 112, 140])
def test_bars_that_touch_others_that_were_read_are_found(apart: int, angle: int) -> None:
    both = np.concatenate([BARS[8:-8], np.full((apart - 100, BARS.shape[1]), 255, np.uint8), OTHER[8:-8]])
    gray = on_board((both, (600, 450), angle))
    label = BarRegion(600, 450, -angle, BARS.shape[1] - 60, 100 + apart)
    read, unread = (
        label.between(-label.height_px / 2, 50 - apart / 2),
        label.between(apart / 2 - 50, label.height_px / 2),
    )
    (left,) = (r for r in bar_regions(gray, [read.quad()]) if r.alternations > 30)
    assert unread.holds(left.x, left.y)
    assert not read.holds(left.x, left.y)


def test_the_same_bars_beyond_what_a_decoder_saw_of_them_are_no_second_label() -> None:
    gray = on_board((code("00012345678905", "Code128", height=240), (600, 450), 20))
    seen = BarRegion(600, 450, -20, BARS.shape[1] - 60, 240).between(-110, -40)
    assert not [r for r in bar_regions(gray, [seen.quad()]) if r.alternations > 30]


def test_an_edge_of_a_carton_is_no_region() -> None:
    gray = np.full((600, 800), 90, np.uint8)
    gray[:, 400:] = 170
    assert bar_regions(gray) == ()


@pytest.mark.parametrize("angle", [70, 78, 90, 110])
def test_bars_between_the_edges_of_cartons_are_a_region_of_their_own(angle: int) -> None:
    small = cv2.resize(BARS, (230, 60), interpolation=cv2.INTER_AREA)
    gray = on_board((small, (600, 450), angle))
    for at in (450 - 125, 450 - 112, 450 + 112):
        cv2.line(gray, (0, at), (1199, at), 60, 3)
    (region,) = (r for r in bar_regions(gray) if r.alternations > 30)
    assert (region.x, region.y) == pytest.approx((600, 450), abs=15)
    assert region.length_px < 275


def test_noise_is_no_region() -> None:
    noise = np.random.default_rng(3).normal(128, 25, (600, 800)).clip(0, 255).astype(np.uint8)
    assert bar_regions(noise) == ()


def test_print_is_not_taken_for_bars() -> None:
    from PIL import Image, ImageDraw

    page = Image.new("L", (900, 600), 225)
    for line in range(8):
        ImageDraw.Draw(page).text((40, 40 + 60 * line), "CARTON 12 OF 40 SECTION NORTH ROW", fill=20, font_size=36)
    assert not [r for r in bar_regions(np.asarray(page)) if r.is_bars and r.alternations >= 30]


def test_a_matrix_code_is_found_with_its_direction() -> None:
    gray = on_board((code("CARTON 07 OF 40", "DataMatrix", scale=6), (600, 450), 30))
    region = matrix_regions(gray)[0]
    assert (region.x, region.y) == pytest.approx((600, 450), abs=15)
    assert abs((region.angle_deg + 30 + 45) % 90 - 45) < 3


def test_a_crop_maps_back_to_the_photo() -> None:
    gray = np.zeros((200, 300), np.uint8)
    gray[120, 180] = 255
    region = BarRegion(150, 100, 30, 120, 80)
    crop, to_photo = bar_crop(gray, region, scale=2.0, margin_length=5, margin_height=5)
    row, column = np.unravel_index(int(crop.argmax()), crop.shape)
    assert to_photo @ np.array([column, row, 1]) == pytest.approx((180, 120), abs=1)


def test_a_thin_quad_along_the_bars_covers_its_region() -> None:
    region = BarRegion(100, 100, 0, 120, 60)
    assert covers(((45, 120), (155, 120), (155, 122), (45, 122)), region)
    assert not covers(((45, 180), (155, 180), (155, 182), (45, 182)), region)


def test_tiny_pictures_have_no_regions() -> None:
    for shape in ((1, 1), (3, 200), (15, 15)):
        assert bar_regions(np.zeros(shape, np.uint8)) == matrix_regions(np.zeros(shape, np.uint8)) == ()


def test_faint_crooked_stripes_are_no_print_and_faint_straight_bars_are() -> None:
    """ISO/IEC 15416 fails a symbol contrast below 0.2; wood grain has more, but does not run through."""
    rng = np.random.default_rng(3)
    stripes = cv2.GaussianBlur(rng.normal(0, 1, (1, 400)).astype(np.float32), (0, 0), 2)
    stripes = np.repeat(stripes / stripes.std(), 200, axis=0)
    place = BarRegion(199.5, 99.5, 0.0, 400, 200, 60)
    for share, agreement, printed in ((0.15, 1.0, False), (0.3, 1.0, True), (0.3, 0.65, False), (0.8, 0.65, True)):
        swing = share / (2 - share) / 1.65  # from the 5th to the 95th percentile of a normal distribution: 3.3 sigma
        gray = np.clip(120 * (1 + swing * stripes), 0, 255).astype(np.uint8)
        assert is_printed(gray, replace(place, agreement=agreement)) is printed, (share, agreement)


@pytest.mark.parametrize("angle", [10, 20, 30])
def test_the_direction_of_fine_bars_is_found_to_a_degree_and_a_half(angle: int) -> None:
    fine = code("00012345678905", "Code128", scale=1, height=60)
    (region,) = (r for r in bar_regions(on_board((fine, (300, 200), angle), size=(400, 600))) if r.alternations > 30)
    assert abs((region.angle_deg + angle + 90) % 180 - 90) < 1.5
    assert region.agreement > 0.75
