"""What leaves the house: receipts, sealed records, requests, carton labels, printed plans and standard messages.

The problem: a record that all parties have alike and nobody can doubt a year later. A receipt shows what was reconciled
at one revision. It is sealed (`record`): its bytes are hashed by SHA-256; a header names that hash, the seal before it,
the reads, the notes and the photos, and is signed by Ed25519 (RFC 8032). The same facts go out as ASC X12 861, EDIFACT
RECADV and EPCIS 2.0 (`x12_861`, `recadv`, `epcis`), all made from one `ReceivingAdvice` (`advice`).

What holds always: papers are made from values alone, so the same values give the same paper; an amendment is a new
version that names the one before; a label that is printed is read back by the tests.
The public names are imported when first used, what prints when it is first called, so that importing this room loads no
PDF library.
"""

from typing import TYPE_CHECKING

from receiving.reexport import reexport

if TYPE_CHECKING:
    from receiving.closing.advice import Parties, receiving_advice
    from receiving.closing.bay_sheet_print import bay_sheets_pdf
    from receiving.closing.epcis import check_names_base, receiving_events
    from receiving.closing.issued import RECORD, IssuedFile, check_issued, is_issued, read_issued, seal_pdf, seal_zip
    from receiving.closing.label_drawing import check_letters
    from receiving.closing.label_printing import label_png, labels_pdf, labels_raster
    from receiving.closing.label_sheets import drawings_pdf
    from receiving.closing.label_stock import RESOLUTIONS, STOCKS, LabelExtras, LabelPrint, Stock
    from receiving.closing.label_symbols import modules_svg, scanner_test_symbols
    from receiving.closing.labels import position_label
    from receiving.closing.plan_print import plan_pdf
    from receiving.closing.qr import qr_svg, qr_terminal
    from receiving.closing.recadv import receiving_advice_edifact
    from receiving.closing.receipt import declaration_words, role_words, show_receipt
    from receiving.closing.receipt_print import receipt_pdf
    from receiving.closing.record import (
        Finding,
        Flaw,
        check_alone,
        first_difference,
        first_seal_difference,
        header_of,
        is_named,
        new_key,
        read_record,
        seal,
        seal_digest,
        write_record,
    )
    from receiving.closing.replacement import (
        replacement_csv,
        replacement_from_json,
        replacement_json,
        replacement_manifest,
        replacement_request,
        request_changes,
    )
    from receiving.closing.replacement_print import replacement_pdf
    from receiving.closing.x12_861 import receiving_advice_x12

_HOMES = {
    "advice": ("receiving_advice", "Parties"),
    "epcis": ("check_names_base", "receiving_events"),
    "issued": ("RECORD", "IssuedFile", "check_issued", "is_issued", "read_issued", "seal_pdf", "seal_zip"),
    "recadv": ("receiving_advice_edifact",),
    "x12_861": ("receiving_advice_x12",),
    "label_stock": ("RESOLUTIONS", "STOCKS", "LabelExtras", "LabelPrint", "Stock"),
    "receipt": ("declaration_words", "role_words", "show_receipt"),
    "record": (
        "Finding",
        "Flaw",
        "check_alone",
        "first_difference",
        "first_seal_difference",
        "same_but_for_names",
        "header_of",
        "is_named",
        "new_key",
        "read_record",
        "seal",
        "seal_digest",
        "write_record",
    ),
    "replacement": (
        "replacement_csv",
        "replacement_from_json",
        "replacement_json",
        "replacement_manifest",
        "replacement_request",
        "request_changes",
    ),
}

_HOMES_WITH_HEAVY_LIBRARIES = {
    "bay_sheet_print": ("bay_sheets_pdf",),
    "label_drawing": ("check_letters",),
    "label_printing": ("label_png", "labels_pdf", "labels_raster"),
    "label_sheets": ("drawings_pdf",),
    "label_symbols": ("modules_svg", "scanner_test_symbols"),
    "labels": ("position_label",),
    "plan_print": ("plan_pdf",),
    "qr": ("qr_svg", "qr_terminal"),
    "receipt_print": ("receipt_pdf",),
    "replacement_print": ("replacement_pdf",),
}

__all__ = [
    "RECORD",
    "RESOLUTIONS",
    "STOCKS",
    "Finding",
    "Flaw",
    "IssuedFile",
    "LabelExtras",
    "LabelPrint",
    "Parties",
    "Stock",
    "bay_sheets_pdf",
    "check_alone",
    "check_issued",
    "check_letters",
    "check_names_base",
    "declaration_words",
    "drawings_pdf",
    "first_difference",
    "first_seal_difference",
    "header_of",
    "is_issued",
    "is_named",
    "label_png",
    "labels_pdf",
    "labels_raster",
    "modules_svg",
    "new_key",
    "plan_pdf",
    "position_label",
    "qr_svg",
    "qr_terminal",
    "read_issued",
    "read_record",
    "receipt_pdf",
    "receiving_advice",
    "receiving_advice_edifact",
    "receiving_advice_x12",
    "receiving_events",
    "replacement_csv",
    "replacement_from_json",
    "replacement_json",
    "replacement_manifest",
    "replacement_pdf",
    "replacement_request",
    "request_changes",
    "role_words",
    "same_but_for_names",
    "scanner_test_symbols",
    "seal",
    "seal_digest",
    "seal_pdf",
    "seal_zip",
    "show_receipt",
    "write_record",
]

__getattr__ = reexport(__name__, _HOMES, at_first_call=_HOMES_WITH_HEAVY_LIBRARIES)
