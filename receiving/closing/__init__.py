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

from receiving.reexport import reexport

__getattr__, __all__ = reexport(
    __name__,
    at_first_call=(
        "bay_sheet_print",
        "label_drawing",
        "label_printing",
        "label_symbols",
        "labels",
        "plan_print",
        "receipt_print",
        "replacement_print",
    ),
)
