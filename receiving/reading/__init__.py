"""What was seen: image bytes, scanner lines and typed text become raw reads, and raw reads become claims.

Names are handed on when first used, so that importing this room loads no image library.
"""

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from receiving.reading.claims import interpret, label_warnings
    from receiving.reading.decoders import zbar_available
    from receiving.reading.expected_codes import expected_codes
    from receiving.reading.patterns import LabelPattern, default_patterns, read_patterns, write_patterns
    from receiving.reading.photo import read_photo
    from receiving.reading.pool import PhotoPool
    from receiving.reading.scans import read_scans, typed_read
    from receiving.reading.showing import check_photo, upright_jpeg
    from receiving.reading.symbology import symbology_words

_HOMES = {
    "LabelPattern": "patterns",
    "PhotoPool": "pool",
    "check_photo": "showing",
    "default_patterns": "patterns",
    "expected_codes": "expected_codes",
    "interpret": "claims",
    "label_warnings": "claims",
    "read_patterns": "patterns",
    "read_photo": "photo",
    "read_scans": "scans",
    "symbology_words": "symbology",
    "typed_read": "scans",
    "upright_jpeg": "showing",
    "write_patterns": "patterns",
    "zbar_available": "decoders",
}

__all__ = [
    "LabelPattern",
    "PhotoPool",
    "check_photo",
    "default_patterns",
    "expected_codes",
    "interpret",
    "label_warnings",
    "read_patterns",
    "read_photo",
    "read_scans",
    "symbology_words",
    "typed_read",
    "upright_jpeg",
    "write_patterns",
    "zbar_available",
]


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(importlib.import_module(f"{__name__}.{_HOMES[name]}"), name)
