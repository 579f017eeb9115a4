"""A video for Chromium's fake camera: carton labels, drawn by the project's own renderer, that pass before the lens."""

from collections.abc import Sequence
from io import BytesIO
from pathlib import Path

import numpy as np
from PIL import Image, ImageFilter

from receiving.closing import label_png
from receiving.model import Manifest

WIDTH_PX, HEIGHT_PX = 1280, 720


def label_picture(manifest: Manifest, carton: str, height_px: int = 560) -> Image.Image:
    """The printed label of one carton, so high."""
    found = manifest.find(carton)
    assert found is not None
    label = Image.open(BytesIO(label_png(found, manifest))).convert("RGB")
    return label.resize((round(label.width * height_px / label.height), height_px), Image.Resampling.LANCZOS)


def pile_frame(
    manifest: Manifest, cartons: Sequence[str], *, shift_px: int = 0, blurred: Sequence[str] = ()
) -> Image.Image:
    """Labels of these cartons side by side on cardboard; some of them may be too blurred to read."""
    frame = Image.new("RGB", (WIDTH_PX, HEIGHT_PX), "#a57d4f")
    for n, carton in enumerate(cartons):
        label = label_picture(manifest, carton)
        if carton in blurred:
            label = label.filter(ImageFilter.GaussianBlur(2.2))
        frame.paste(label, (30 + n * 420 + shift_px, 70 + 10 * n))
    return frame


def write_y4m(path: Path, frames: Sequence[Image.Image], *, frames_per_s: int = 15) -> None:
    """Frames as YUV4MPEG2 with 4:2:0 samples, as Chromium's ``--use-file-for-fake-video-capture`` reads them."""
    with path.open("wb") as file:
        file.write(f"YUV4MPEG2 W{WIDTH_PX} H{HEIGHT_PX} F{frames_per_s}:1 Ip A1:1 C420jpeg\n".encode())
        for frame in frames:
            y, cb, cr = (np.asarray(band) for band in frame.convert("YCbCr").split())
            file.write(b"FRAME\n" + y.tobytes() + cb[::2, ::2].tobytes() + cr[::2, ::2].tobytes())
