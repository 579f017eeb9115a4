"""A video as still pictures: the few frames that show its labels best, each with what was read from it."""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass, replace

import cv2

from receiving.errors import NotAPhoto
from receiving.messages import message
from receiving.model import ExpectedCode, PhotoReading
from receiving.reading.photo import read_gray
from receiving.reading.picture_files import check_video
from receiving.reading.video import merged, sharp_frames

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
        raise NotAPhoto(
            message(
                "The file {name} is not a video that can be decoded (it starts with {beginning}).",
                name=repr(name),
                beginning=repr(data[:12]),
            ),
            next_step=message("Send an MP4 or MOV video, or photos."),
        )
    labels = merged(readings).labels
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
