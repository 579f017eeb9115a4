"""The cascade that reads one photo: the whole first, then only what stays unread."""

from __future__ import annotations

import time
from collections.abc import Sequence
from typing import TYPE_CHECKING

from receiving.model import ExpectedCode, PhotoReading, Symbol
from receiving.reading.decoders import Decoded, zbar_symbols, zxing_symbols
from receiving.reading.image import gray_photo

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


def read_photo(name: str, data: bytes, *, expected: Sequence[ExpectedCode] = ()) -> PhotoReading:
    """All symbols on one photo; ``name`` is for messages, ``expected`` are the codes that may be in view.

    Raises NotAPhoto, PhotoTooLarge. An unread or doubtful label is a result: see `PhotoReading.unread`, `.refused`.
    """
    started = time.perf_counter()
    gray = gray_photo(name, data)
    height, width = gray.shape
    symbols = _symbols(gray)
    return PhotoReading(width, height, symbols, ms=(time.perf_counter() - started) * 1000)


def _symbols(gray: NDArray[np.uint8]) -> tuple[Symbol, ...]:
    found: tuple[Decoded, ...] = zxing_symbols(gray) or tuple(d for d in zbar_symbols(gray) if len(d.raw) >= 14)
    return tuple(
        Symbol(raw=d.raw, symbology=d.symbology, quad_px=d.quad_px, reader=d.reader, label=number)
        for number, d in enumerate(found, start=1)
    )
