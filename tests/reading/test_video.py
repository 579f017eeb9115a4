"""Bursts and short videos over made piles."""

from pathlib import Path

import cv2
import numpy as np
import pytest

from receiving.errors import NotAPhoto, PhotoTooLarge
from receiving.model import PhotoReading, Symbol
from receiving.reading import picture_files
from receiving.reading.video import merged, read_burst, read_video
from tests.reading.photo_made import as_file, code, on_board

BARS = {text: code(text, "Code128", height=90) for text in ("CARTON-01", "CARTON-02", "CARTON-03")}


def made_video(folder: Path, frames: list[np.ndarray]) -> bytes:
    file = folder / "pan.avi"
    height, width = frames[0].shape
    out = cv2.VideoWriter(str(file), cv2.VideoWriter_fourcc(*"MJPG"), 15, (width, height))
    for frame in frames:
        out.write(cv2.cvtColor(frame, cv2.COLOR_GRAY2BGR))
    out.release()
    return file.read_bytes()


def pan() -> list[np.ndarray]:
    """Three labels side by side, the camera moving from the first to the last; every third frame is smeared."""
    places = [(BARS[text], (400 + 700 * n, 300), 0.0) for n, text in enumerate(sorted(BARS))]
    pile = on_board(*places, size=(600, 2200))
    frames = [np.ascontiguousarray(pile[:, left : left + 800]) for left in range(0, 1400, 45)]
    return [cv2.blur(f, (41, 1)) if n % 3 else f for n, f in enumerate(frames)]


def test_a_pan_over_a_pile_gives_every_label_once(tmp_path: Path) -> None:
    reading = read_video("pan.avi", made_video(tmp_path, pan()))
    assert sorted(label.symbol.raw for label in reading.labels) == sorted(BARS)
    assert reading.duplicates == ()
    assert len(reading.frames) <= 8


def test_the_best_frame_of_a_label_shows_it(tmp_path: Path) -> None:
    reading = read_video("pan.avi", made_video(tmp_path, pan()))
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
    reading = merged([frame] * 10)
    assert [(label.symbol.raw, label.frames) for label in reading.labels] == [("A-1", 10)]


def test_what_is_no_video_is_an_error_of_ours() -> None:
    with pytest.raises(NotAPhoto, match="is not a video that can be decoded"):
        read_video("a.mp4", b"this is not a video at all")


def test_a_video_over_the_limit_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(picture_files, "MAX_VIDEO_BYTES", 100)
    with pytest.raises(PhotoTooLarge, match="Take a shorter one"):
        read_video("a.mp4", b"\0" * 200)
