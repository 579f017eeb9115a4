"""Where on a photo a blurred linear symbol may be."""

import cv2
import numpy as np
from numpy.typing import NDArray

from receiving.model import Quad


def candidate_regions(gray: NDArray[np.uint8]) -> list[Quad]:
    """Rough quads of regions that look striped, most likely first; ``gray`` is (height, width)."""
    found, corners = cv2.barcode.BarcodeDetector().detect(gray)
    return [_quad(four) for four in corners] if found else []


def _quad(four: NDArray[np.float32]) -> Quad:
    a, b, c, d = ((float(x), float(y)) for x, y in four)
    return (a, b, c, d)
