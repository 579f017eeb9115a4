"""A slow pan over two labels, as a video and as the pictures that show them."""

import cv2
import numpy as np
import pytest
import zxingcpp

from receiving.errors import NotAPhoto
from receiving.reading.picture_files import is_video
from receiving.reading.video import poster, video_stills

CODES = ("00395200000000000012", "00395200000000000029")
FRAME_PX = (640, 480)


def wall_of_labels() -> np.ndarray:
    wall = np.full((480, 1600), 200, np.uint8)
    for place, code in enumerate(CODES):
        bars = zxingcpp.create_barcode(f"(00){code[2:]}", zxingcpp.BarcodeFormat.Code128, gs1=True)
        drawn = cv2.resize(np.asarray(zxingcpp.write_barcode_to_image(bars, scale=2)), (420, 150))
        wall[150:300, 120 + 900 * place : 540 + 900 * place] = drawn
    return wall


@pytest.fixture(scope="module")
def pan(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    path = tmp_path_factory.mktemp("video") / "pan.avi"
    writer = cv2.VideoWriter(str(path), cv2.VideoWriter.fourcc(*"MJPG"), 10, FRAME_PX, isColor=True)
    wall = wall_of_labels()
    for left in range(0, wall.shape[1] - FRAME_PX[0] + 1, 40):
        writer.write(cv2.cvtColor(wall[:, left : left + FRAME_PX[0]], cv2.COLOR_GRAY2BGR))
    writer.release()
    return path.read_bytes()


def test_a_pan_becomes_a_picture_for_each_label_that_shows_it_once(pan: bytes) -> None:
    stills = video_stills("pan.avi", pan)
    assert sorted(symbol.raw for still in stills for symbol in still.reading.symbols) == sorted(CODES)
    assert all(still.jpeg.startswith(b"\xff\xd8") for still in stills)


def test_a_video_shows_a_frame_in_its_place(pan: bytes) -> None:
    assert poster("pan.avi", pan).startswith(b"\xff\xd8")


def test_a_cut_off_video_is_refused_by_name(pan: bytes) -> None:
    with pytest.raises(NotAPhoto, match=r"The file 'cut\.avi' is not a video that can be decoded"):
        video_stills("cut.avi", pan[:40])


@pytest.mark.parametrize(
    ("start", "video"),
    [
        (b"\x00\x00\x00\x20ftypisom\x00\x00\x02\x00", True),
        (b"\x00\x00\x00\x14ftypqt  \x00\x00\x00\x00", True),
        (b"\x00\x00\x00\x18ftypheic\x00\x00\x00\x00", False),
        (b"\x00\x00\x00\x1cftypavif\x00\x00\x00\x00", False),
        (b"RIFF\x00\x00\x00\x00AVI LIST", True),
        (b"RIFF\x00\x00\x00\x00WEBPVP8 ", False),
        (b"\xff\xd8\xff\xe0", False),
        (b"", False),
    ],
)
def test_a_video_is_told_by_its_first_bytes(start: bytes, video: bool) -> None:
    assert is_video(start) is video
