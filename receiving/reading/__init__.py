"""What was seen: image bytes, scanner lines and typed text become raw reads, and raw reads become claims.

The problem: find every label on a photo of a pile and say nothing that is not printed there. A photo goes through
cheap steps first: zxing-cpp on the whole, then each region of bars that stays unread, upright, closer and with quiet
zones, by zxing-cpp and ZBar (`cascade`, `attempts`), last guided reading (`guided`). A text counts when it proves
itself (an SSCC with its check digit), is on a manifest, or two independent attempts agree (`acceptance`, `seen`).

Data: image bytes -> gray levels (`image`) -> `Symbol` -> `RawRead`, stored exactly as seen -> `LabelRead`, the claims
that `interpret` finds in it: GS1 element strings (`gs1`), data identifiers (`mh10`), the words printed around the bars
(`printed_text`), a shipper's own patterns (`patterns`). `interpret` is total: whatever was read gets a claim.

What holds always: a raw read is kept as it came; photos from outside are decoded in a process with limits (`pool`).
The public names are imported when first used, so that importing this room loads no image library.
"""

from typing import TYPE_CHECKING

from receiving.reexport import reexport

if TYPE_CHECKING:
    from receiving.reading.candidates import expected_codes
    from receiving.reading.claims import PatternsTried, interpret, label_warnings, patterns_tried
    from receiving.reading.decoders import zbar_available
    from receiving.reading.patterns import LabelPattern, default_patterns, read_patterns, write_patterns
    from receiving.reading.photo import read_photo
    from receiving.reading.picture_files import is_video
    from receiving.reading.pool import PhotoPool
    from receiving.reading.printed import PrintedLine, printed_lines
    from receiving.reading.printed_text import Suggestion, claims_from_text, ocr_available
    from receiving.reading.scanner import TEST_ENVELOPE, TEST_GS1, Learned, ScannerFlaw, ScannerProfile, learn_scanner
    from receiving.reading.scans import read_scans, typed_read
    from receiving.reading.showing import check_photo, shown_jpegs
    from receiving.reading.stills import Still
    from receiving.reading.symbology import symbology_words
    from receiving.reading.trial import PatternTrial, try_pattern
    from receiving.reading.video import BurstReading, SeenLabel, merged, read_burst, read_video

_HOMES = {
    "candidates": ("expected_codes",),
    "claims": ("PatternsTried", "interpret", "label_warnings", "patterns_tried"),
    "patterns": ("LabelPattern", "default_patterns", "read_patterns", "write_patterns"),
    "picture_files": ("is_video",),
    "pool": ("PhotoPool",),
    "printed": ("PrintedLine",),
    "printed_text": ("Suggestion", "claims_from_text", "ocr_available"),
    "scanner": ("TEST_ENVELOPE", "TEST_GS1", "ScannerFlaw", "Learned", "ScannerProfile", "learn_scanner"),
    "scans": ("read_scans", "typed_read"),
    "stills": ("Still",),
    "symbology": ("symbology_words",),
    "trial": ("PatternTrial", "try_pattern"),
    "video": ("BurstReading", "SeenLabel"),
}

_HOMES_WITH_HEAVY_LIBRARIES = {
    "decoders": ("zbar_available",),
    "photo": ("read_photo",),
    "printed": ("printed_lines",),
    "showing": ("check_photo", "shown_jpegs"),
    "video": ("merged", "read_burst", "read_video"),
}

__all__ = [
    "TEST_ENVELOPE",
    "TEST_GS1",
    "BurstReading",
    "LabelPattern",
    "Learned",
    "PatternTrial",
    "PatternsTried",
    "PhotoPool",
    "PrintedLine",
    "ScannerFlaw",
    "ScannerProfile",
    "SeenLabel",
    "Still",
    "Suggestion",
    "check_photo",
    "claims_from_text",
    "default_patterns",
    "expected_codes",
    "interpret",
    "is_video",
    "label_warnings",
    "learn_scanner",
    "merged",
    "ocr_available",
    "patterns_tried",
    "printed_lines",
    "read_burst",
    "read_patterns",
    "read_photo",
    "read_scans",
    "read_video",
    "shown_jpegs",
    "symbology_words",
    "try_pattern",
    "typed_read",
    "write_patterns",
    "zbar_available",
]

__getattr__ = reexport(__name__, _HOMES, at_first_call=_HOMES_WITH_HEAVY_LIBRARIES)
