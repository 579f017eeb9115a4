"""What leaves the house: receipts, requests, carton labels and printed plans.

Names are handed on when first used, so that importing this room loads no PDF library.
"""

from typing import TYPE_CHECKING

from receiving.doors import hand_on

if TYPE_CHECKING:
    from receiving.closing.label_sheets import labels_pdf
    from receiving.closing.labels import label_png
    from receiving.closing.receipt import show_receipt
    from receiving.closing.receipt_print import receipt_pdf

_HOMES = {
    "label_sheets": ("labels_pdf",),
    "labels": ("label_png",),
    "receipt": ("show_receipt",),
    "receipt_print": ("receipt_pdf",),
}

__all__ = ["label_png", "labels_pdf", "receipt_pdf", "show_receipt"]

__getattr__ = hand_on(__name__, _HOMES)
