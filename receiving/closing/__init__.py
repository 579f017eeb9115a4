"""What leaves the house: receipts, requests, carton labels and printed plans.

Names are handed on when first used, so that importing this room loads no PDF library.
"""

from typing import TYPE_CHECKING

from receiving.doors import hand_on

if TYPE_CHECKING:
    from receiving.closing.receipt import show_receipt
    from receiving.closing.receipt_print import receipt_pdf

__all__ = ["receipt_pdf", "show_receipt"]

__getattr__ = hand_on(
    __name__,
    {
        "receipt_pdf": "receipt_print",
        "show_receipt": "receipt",
    },
)
