from receiving.reading.candidates import (
    expected_codes as expected_codes,
)
from receiving.reading.claims import (
    PatternsTried as PatternsTried,
    interpret as interpret,
    label_warnings as label_warnings,
    patterns_tried as patterns_tried,
)
from receiving.reading.decoders import (
    zbar_available as zbar_available,
)
from receiving.reading.patterns import (
    LabelPattern as LabelPattern,
    default_patterns as default_patterns,
    read_patterns as read_patterns,
    write_patterns as write_patterns,
)
from receiving.reading.photo import (
    read_photo as read_photo,
)
from receiving.reading.picture_files import (
    is_video as is_video,
)
from receiving.reading.pool import (
    PhotoPool as PhotoPool,
)
from receiving.reading.printed import (
    PrintedLine as PrintedLine,
    printed_lines as printed_lines,
)
from receiving.reading.printed_text import (
    Suggestion as Suggestion,
    claims_from_text as claims_from_text,
    ocr_available as ocr_available,
)
from receiving.reading.symbology import (
    TEST_ENVELOPE as TEST_ENVELOPE,
    TEST_GS1 as TEST_GS1,
    Learned as Learned,
    ScannerFlaw as ScannerFlaw,
    ScannerProfile as ScannerProfile,
    learn_scanner as learn_scanner,
)
from receiving.reading.scans import (
    read_scans as read_scans,
    typed_read as typed_read,
)
from receiving.reading.showing import (
    check_photo as check_photo,
    shown_jpegs as shown_jpegs,
)
from receiving.reading.video import (
    Still as Still,
)
from receiving.reading.symbology import (
    symbology_words as symbology_words,
)
from receiving.reading.claims import (
    PatternTrial as PatternTrial,
    try_pattern as try_pattern,
)
from receiving.reading.video import (
    BurstReading as BurstReading,
    SeenLabel as SeenLabel,
    merge_frames as merge_frames,
    read_burst as read_burst,
    read_video as read_video,
)
