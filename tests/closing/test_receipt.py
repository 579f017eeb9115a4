from dataclasses import replace
from datetime import UTC, datetime

from receiving.closing import receipt_pdf, show_receipt
from receiving.model import (
    Address,
    Carton,
    CartonFinding,
    CartonState,
    ContentLine,
    Damage,
    DamageNoted,
    Duplicate,
    How,
    Manifest,
    Over,
    OverReason,
    Question,
    Receipt,
    Reconciliation,
    Sscc,
)
from receiving.model import CartonKind as Kind

NOW = datetime(2026, 3, 2, 9, 30, tzinfo=UTC)
TRAY = Carton("07", Kind.REPLACEMENT_TRAY, contents=(ContentLine("Harbor", Address("Harbor", 3, 2)),))
TAGS = Carton("08", Kind.TAGS, contents=(ContentLine("Harbor"),))
MANIFEST = Manifest("S-1", "0417", (TRAY, TAGS))
WHOLE = Reconciliation(
    "S-1",
    "0417",
    (
        CartonFinding(TRAY, CartonState.RECEIVED, "Its SSCC was read.", How.SSCC, ("r1",)),
        CartonFinding(TAGS, CartonState.RECEIVED, "Its barcode was read.", How.BARCODE, ("r2",)),
    ),
)
CRACKED = DamageNoted("n1", NOW, "Ada", "08", Damage.ARRIVED, False, item="TG-1", remark="torn")
TROUBLED = replace(
    WHOLE,
    cartons=(
        CartonFinding(TRAY, CartonState.SHORT, "No label of it was seen."),
        replace(WHOLE.cartons[1], damage=(CRACKED,)),
    ),
    over=(
        Over("00395200000000000036", OverReason.OTHER_STORE, ("r3",), "belongs to store 0422"),
        Over("(00)…", OverReason.NOT_ON_MANIFEST, ("r7",), sscc=Sscc("106141411234567897")),
        Over("4006381333931", OverReason.NOT_A_CARTON_LABEL, ("r4",)),
    ),
    duplicates=(Duplicate("08", "TAGS-8", ("r2", "r5"), "Both labels are on one photo."),),
    questions=(Question("q1", ("r6",), ("07", "08"), "Is the torn label carton 07 or 08?"),),
)


def test_a_whole_shipment_has_no_exceptions() -> None:
    shown = show_receipt(WHOLE, MANIFEST, 1)
    assert (shown.expected, shown.received, shown.short, shown.extra, shown.questions) == (2, 2, 0, 0, 0)
    assert {line.state for line in shown.lines} == {"received"}


def test_every_exception_stands_in_plain_words_before_what_is_here() -> None:
    shown = show_receipt(TROUBLED, MANIFEST, 3)
    assert [(line.state, line.words) for line in shown.lines] == [
        ("short", "Carton 07, replacement tray, for Harbor, column 3, row 2: missing. No label of it was seen."),
        ("damaged", "Carton 08, tags, for Harbor: damaged. Arrived damaged, TG-1, not usable: torn."),
        ("extra", "Extra carton, '00395200000000000036': another store's carton; belongs to store 0422."),
        ("extra", "Extra carton, SSCC 106141411234567897: not on the manifest."),
        ("duplicate", "Carton 08: two labels with one code. Both labels are on one photo."),
        ("question", "Open question: Is the torn label carton 07 or 08?"),
        ("received", "Carton 08, tags, for Harbor: here."),
    ]
    assert (shown.short, shown.extra, shown.questions) == (1, 2, 1)


def test_the_digest_changes_with_every_word_that_is_shown() -> None:
    shown = show_receipt(WHOLE, MANIFEST, 1)
    assert shown.digest == show_receipt(WHOLE, MANIFEST, 1).digest
    assert shown.digest != show_receipt(WHOLE, MANIFEST, 2).digest
    assert shown.digest != show_receipt(TROUBLED, MANIFEST, 1).digest


def test_the_printed_receipt_is_the_same_file_every_time_and_bears_awkward_words() -> None:
    receipt = Receipt(
        2, NOW, "Łukasz 王 <b> & Co", "Store manager", "Box 3 & 4 <wet>", True, show_receipt(TROUBLED, MANIFEST, 1)
    )
    first = receipt_pdf(receipt, paper="Letter")
    assert first.startswith(b"%PDF-")
    assert first == receipt_pdf(receipt, paper="Letter")
    assert first != receipt_pdf(receipt)
