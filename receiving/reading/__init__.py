"""What was seen: image bytes, scanner lines and typed text become raw reads, and raw reads become claims.

Names are handed on when first used, so that importing this room loads no image library.
"""

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from receiving.reading.decoders import zbar_available
    from receiving.reading.photo import read_photo
    from receiving.reading.pool import PhotoPool
    from receiving.reading.showing import check_photo, upright_jpeg

_HOMES = {
    "check_photo": "showing",
    "upright_jpeg": "showing",
    "PhotoPool": "pool",
    "read_photo": "photo",
    "zbar_available": "decoders",
}

__all__ = [
    "check_photo",
    "upright_jpeg",
    "PhotoPool",
    "read_photo",
    "zbar_available",
]


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(importlib.import_module(f"{__name__}.{_HOMES[name]}"), name)
