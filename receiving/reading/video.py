"""Bursts of photos and short videos: a slow pan over a pile, read frame by frame and merged.

A video as still pictures: the few frames that show its labels best, each with what was read from it.
"""

from __future__ import annotations

import tempfile
import time
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import cv2

from receiving.errors import NotAPhoto
from receiving.messages import message
from receiving.model import ExpectedCode, PhotoReading, Symbol
from receiving.reading.photo import read_gray, read_photo
from receiving.reading.picture_files import check_video
from receiving.reading.region import area

if TYPE_CHECKING:
    from receiving.reading.image import Gray

MAX_S = 120.0
"""A longer video is read up to here: two minutes of walking along a pile are some hundred cartons."""

READS_PER_S = 3.0
"""Frames read a second: of each third of a second the sharpest."""


@dataclass(frozen=True)
class SeenLabel:
    """One physical label: its symbol, the number of the frame (from 0) that shows it best, and in how many it was."""

    symbol: Symbol
    frame: int
    frames: int


@dataclass(frozen=True)
class BurstReading:
    """What a burst gave: every frame, and every physical label once.

    ``duplicates`` are the texts that two labels carried in one and the same frame: two labels with one code.
    """

    frames: tuple[PhotoReading, ...]
    labels: tuple[SeenLabel, ...]
    duplicates: tuple[str, ...] = ()


def read_burst(photos: Iterable[tuple[str, bytes]], *, expected: Sequence[ExpectedCode] = ()) -> BurstReading:
    """The merged reading of photos (name, bytes) of one pile; raises what `read_photo` raises."""
    return merge_frames(read_photo(name, data, expected=expected) for name, data in photos)


def read_video(name: str, data: bytes, *, expected: Sequence[ExpectedCode] = ()) -> BurstReading:
    """The merged reading of a short video (MP4, MOV, AVI with MJPEG, as OpenCV's build can decode).

    Raises NotAPhoto when no frame can be decoded, PhotoTooLarge above 256 MB.
    """
    check_video(name, data)
    reading = merge_frames(read_gray(frame, expected, time.perf_counter()) for frame in sharp_frames(data))
    if not reading.frames:
        raise _not_decoded(name, data)
    return reading


def _not_decoded(name: str, data: bytes) -> NotAPhoto:
    return NotAPhoto(
        message(
            "The file {name} is not a video that can be decoded (it starts with {beginning}).",
            name=repr(name),
            beginning=repr(data[:12]),
        ),
        next_step=message("Send an MP4 or MOV video, or photos."),
    )


def sharp_frames(data: bytes) -> Iterator[Gray]:
    """The frames that are read, as gray levels: the sharpest of each third of a second."""
    return _sharpest(_frames(data))


def merge_frames(readings: Iterable[PhotoReading]) -> BurstReading:
    """Frames of one pile as one: a text stands for as many labels as one frame showed at once."""
    frames = tuple(readings)
    best: dict[tuple[str, str], list[tuple[Symbol, int]]] = {}
    seen: Counter[tuple[str, str]] = Counter()
    for number, frame in enumerate(frames):
        here: dict[tuple[str, str], list[tuple[Symbol, int]]] = {}
        for symbol in frame.symbols:
            here.setdefault((symbol.symbology, symbol.raw), []).append((symbol, number))
        for key, symbols in here.items():
            seen[key] += 1
            best[key] = max(best.get(key, []), symbols, key=_worth)
    labels = tuple(SeenLabel(symbol, frame, seen[key]) for key, found in best.items() for symbol, frame in found)
    return BurstReading(frames, labels, tuple(dict.fromkeys(raw for (_, raw), found in best.items() if len(found) > 1)))


def _worth(found: Sequence[tuple[Symbol, int]]) -> tuple[int, bool, float]:
    """More labels first, then one that needs no person, then the one that shows it largest."""
    if not found:
        return (0, False, 0.0)
    return (len(found), not any(s.alternatives for s, _ in found), max(area(s.quad_px) for s, _ in found))


def _frames(data: bytes) -> Iterator[tuple[float, Gray]]:
    """(seconds, gray levels) of the frames; OpenCV opens files only, and turns them upright itself."""
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "video"
        file.write_bytes(data)
        video = cv2.VideoCapture(str(file))
        try:
            rate = video.get(cv2.CAP_PROP_FPS)
            step_s = 1 / rate if 1 <= rate <= 240 else 1 / 30
            number = 0
            while number * step_s < MAX_S:
                more, frame = video.read()
                if not more:
                    return
                yield number * step_s, cv2.cvtColor(frame, cv2.COLOR_BGR2GRAY)
                number += 1
        finally:
            video.release()


def _sharpest(frames: Iterable[tuple[float, Gray]]) -> Iterator[Gray]:
    """Of each stretch of 1 / READS_PER_S seconds the frame with the steepest edges: a pan blurs most of them."""
    best: tuple[float, Gray] | None = None
    stretch = 0
    for at_s, frame in frames:
        if best is not None and int(at_s * READS_PER_S) != stretch:
            yield best[1]
            best = None
        stretch = int(at_s * READS_PER_S)
        sharp = _sharpness(frame)
        if best is None or sharp > best[0]:
            best = (sharp, frame)
    if best is not None:
        yield best[1]


def _sharpness(frame: Gray) -> float:
    return float(cv2.Laplacian(frame[::2, ::2], cv2.CV_16S).std())


_QUALITY = 88


@dataclass(frozen=True)
class Still:
    """One frame of a video as a JPEG, and the labels that no other frame shows better."""

    jpeg: bytes
    reading: PhotoReading


def video_stills(name: str, data: bytes, *, expected: Sequence[ExpectedCode] = ()) -> tuple[Still, ...]:
    """The frames that show each label best; a video in which nothing is read gives its first sharp frame.

    Raises NotAPhoto when no frame can be decoded, PhotoTooLarge above the limit of `read_video`.
    """
    check_video(name, data)
    jpegs, readings = [], []
    for frame in sharp_frames(data):
        readings.append(read_gray(frame, expected, time.perf_counter()))
        jpegs.append(cv2.imencode(".jpg", frame, [cv2.IMWRITE_JPEG_QUALITY, _QUALITY])[1].tobytes())
    if not readings:
        raise _not_decoded(name, data)
    labels = merge_frames(readings).labels
    wanted = sorted({label.frame for label in labels}) or [0]
    return tuple(
        Still(
            jpegs[number],
            replace(
                readings[number],
                symbols=tuple(label.symbol for label in labels if label.frame == number),
                unread=readings[number].unread if not labels else (),
            ),
        )
        for number in wanted
    )


def poster(name: str, data: bytes) -> bytes:
    """The first sharp frame of a video as a JPEG, to show in its place. Raises NotAPhoto."""
    frame = next(iter(sharp_frames(data)), None)
    if frame is None:
        raise NotAPhoto(
            message("The file {name} is not a video that can be decoded.", name=repr(name)),
            next_step=message("Send an MP4 or MOV video."),
        )
    return cv2.imencode(".jpg", frame, [cv2.IMWRITE_JPEG_QUALITY, _QUALITY])[1].tobytes()
