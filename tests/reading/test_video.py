"""A slow pan over two labels, as a video and as the pictures that show them.

Bursts and short videos over made piles.
"""

from pathlib import Path

import cv2
import numpy as np
import pytest
import zxingcpp

from receiving.errors import NotAPhoto, PhotoTooLarge
from receiving.model import PhotoReading, Symbol
from receiving.reading import picture_files
from receiving.reading.picture_files import is_video
from receiving.reading.video import merge_frames, poster, read_burst, read_video, video_stills
from tests.reading.photo_made import as_file, code, on_board

CODES = ("00395200000000000012", "00395200000000000029")

FRAME_PX = (640, 480)


def wall_of_labels() -> np.ndarray:
    wall = np.full((480, 1600), 200, np.uint8)
    for place, each in enumerate(CODES):
        bars = zxingcpp.create_barcode(f"(00){each[2:]}", zxingcpp.BarcodeFormat.Code128, gs1=True)
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


BARS = {text: code(text, "Code128", height=90) for text in ("CARTON-01", "CARTON-02", "CARTON-03")}


def made_video(folder: Path, frames: list[np.ndarray]) -> bytes:
    file = folder / "pan.avi"
    height, width = frames[0].shape
    out = cv2.VideoWriter(str(file), cv2.VideoWriter_fourcc(*"MJPG"), 15, (width, height))
    for frame in frames:
        out.write(cv2.cvtColor(frame, cv2.COLOR_GRAY2BGR))
    out.release()
    return file.read_bytes()


def panned() -> list[np.ndarray]:
    """Three labels side by side, the camera moving from the first to the last; every third frame is smeared."""
    places = [(BARS[text], (400 + 700 * n, 300), 0.0) for n, text in enumerate(sorted(BARS))]
    pile = on_board(*places, size=(600, 2200))
    frames = [np.ascontiguousarray(pile[:, left : left + 800]) for left in range(0, 1400, 45)]
    return [cv2.blur(f, (41, 1)) if n % 3 else f for n, f in enumerate(frames)]


def test_a_pan_over_a_pile_gives_every_label_once(tmp_path: Path) -> None:
    reading = read_video("pan.avi", made_video(tmp_path, panned()))
    assert sorted(label.symbol.raw for label in reading.labels) == sorted(BARS)
    assert reading.duplicates == ()
    assert len(reading.frames) <= 8


def test_the_best_frame_of_a_label_shows_it(tmp_path: Path) -> None:
    reading = read_video("pan.avi", made_video(tmp_path, panned()))
    for label in reading.labels:
        assert label.symbol in reading.frames[label.frame].symbols


def test_two_labels_with_one_code_in_one_frame_are_a_duplicate() -> None:
    bars = BARS["CARTON-01"]
    both = as_file(on_board((bars, (330, 250), 0), (bars, (850, 650), 0)))
    one = as_file(on_board((bars, (600, 450), 0)))
    reading = read_burst([("1", one), ("2", both), ("3", one)])
    assert [label.symbol.raw for label in reading.labels] == ["CARTON-01", "CARTON-01"]
    assert reading.duplicates == ("CARTON-01",)


def test_the_same_label_in_many_photos_is_one_label() -> None:
    quad = ((0.0, 0.0), (10.0, 0.0), (10.0, 5.0), (0.0, 5.0))
    frame = PhotoReading(100, 100, (Symbol("A-1", "]C0", quad, "zxing-cpp"),))
    reading = merge_frames([frame] * 10)
    assert [(label.symbol.raw, label.frames) for label in reading.labels] == [("A-1", 10)]


def test_what_is_no_video_is_an_error_of_ours() -> None:
    with pytest.raises(NotAPhoto, match="is not a video that can be decoded"):
        read_video("a.mp4", b"this is not a video at all")


def test_a_video_over_the_limit_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(picture_files, "MAX_VIDEO_BYTES", 100)
    with pytest.raises(PhotoTooLarge, match="Take a shorter one"):
        read_video("a.mp4", b"\0" * 200)
