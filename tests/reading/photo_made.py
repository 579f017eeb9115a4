"""Photos made for the tests: codes drawn by zxing-cpp on paper that lies on gray board."""

import io

import cv2
import numpy as np
import zxingcpp
from numpy.typing import NDArray
from PIL import Image

Gray = NDArray[np.uint8]


def code(text: str, kind: str, *, scale: int = 3, gs1: bool = False, height: int = 0) -> Gray:
    """A symbol with its quiet zones, black on white; ``height`` in pixels replaces the height of bars."""
    drawn = zxingcpp.create_barcode(text, zxingcpp.BarcodeFormat[kind], gs1=gs1)
    image = np.asarray(drawn.to_image(scale=scale, add_quiet_zones=True, add_hrt=False))
    if not height:
        return image
    row = image[image.shape[0] // 2]
    quiet = np.full((8, len(row)), 255, np.uint8)
    return np.concatenate([quiet, np.repeat(row[None], height, axis=0), quiet])


def on_board(
    *prints: tuple[Gray, tuple[float, float], float], size: tuple[int, int] = (900, 1200), noise: float = 2.0
) -> Gray:
    """Each print (image, centre x and y, degrees) pasted on gray board of ``size`` (height, width)."""
    board = np.full(size, 120, np.float32)
    for image, (x, y), angle in prints:
        height, width = image.shape
        turn = cv2.getRotationMatrix2D((width / 2, height / 2), angle, 1.0)
        turn[:, 2] += (x - width / 2, y - height / 2)
        flat = (size[1], size[0])
        laid = cv2.warpAffine(40 + image.astype(np.float32) * 0.75, turn, flat, flags=cv2.INTER_AREA)
        mask = cv2.warpAffine(np.ones_like(image, np.float32), turn, flat)
        board = board * (1 - mask) + laid * (mask > 0.5) * mask
    board += np.random.default_rng(1).normal(0, noise, size)
    return np.clip(board, 0, 255).astype(np.uint8)


def as_file(gray: Gray, kind: str = "PNG", **options: object) -> bytes:
    """The gray levels as the bytes of an image file."""
    out = io.BytesIO()
    Image.fromarray(gray).save(out, kind, **options)
    return out.getvalue()
