"""The signed receipt on paper."""

from collections.abc import Sequence
from datetime import UTC, tzinfo
from typing import Any

from receiving.closing.paper import print_paper, text
from receiving.model import Receipt, ShownLine


def receipt_pdf(receipt: Receipt, *, paper: str = "A4", zone: tzinfo | None = UTC) -> bytes:
    """The receipt as a PDF (``paper`` "A4" or "Letter"), legible in black and white, with room to sign by hand.

    Times are in ``zone``, which is named.
    """
    shown = receipt.shown
    return print_paper(
        _story(receipt, zone),
        title=f"Receipt {receipt.number} for shipment {shown.shipment}",
        foot=f"Shipment {shown.shipment}, receipt {receipt.number}. Content checksum (SHA-256): {shown.digest}",
        paper=paper,
    )


def _story(receipt: Receipt, zone: tzinfo | None) -> list[Any]:
    from reportlab.platypus import Spacer

    shown = receipt.shown
    here = [line for line in shown.lines if line.state == "received"]
    exceptions = [line for line in shown.lines if line.state != "received"]
    story: list[Any] = [
        text(f"Receipt {receipt.number}", "Title"),
        text(f"Shipment {shown.shipment} to store {shown.store}, manifest revision {shown.revision}"),
        Spacer(1, 10),
        _counts_table(receipt),
        Spacer(1, 12),
        text(_verdict(receipt, zone), "Heading3"),
        *([text(f"Remarks: {receipt.remarks}")] if receipt.remarks else []),
    ]
    for title, lines in ((f"Exceptions ({len(exceptions)})", exceptions), (f"Here ({len(here)})", here)):
        story += [Spacer(1, 8), text(title, "Heading2"), _lines_table(lines)]
    return [*story, Spacer(1, 56), _signature_table()]


def _verdict(receipt: Receipt, zone: tzinfo | None) -> str:
    words = "Confirmed with exceptions" if receipt.with_exceptions else "Confirmed"
    return f"{words} by {receipt.name}, {receipt.role}, on {receipt.confirmed_at.astimezone(zone):%d %B %Y, %H:%M %Z}"


def _counts_table(receipt: Receipt) -> Any:
    from reportlab.platypus import Table

    shown = receipt.shown
    heads = ("Expected", "Here", "Missing or not seen", "Extra", "Not decided")
    values = (shown.expected, shown.received, shown.short, shown.extra, shown.questions)
    cells = [[text(head) for head in heads], [text(str(value), "Heading1") for value in values]]
    table = Table(cells, hAlign="LEFT")
    table.setStyle([("GRID", (0, 0), (-1, -1), 0.5, "black"), ("VALIGN", (0, 0), (-1, -1), "TOP")])
    return table


def _lines_table(lines: Sequence[ShownLine]) -> Any:
    from reportlab.platypus import Table

    if not lines:
        return text("None.")
    table = Table([[text(line.words)] for line in lines])
    table.setStyle([("VALIGN", (0, 0), (-1, -1), "TOP"), ("LINEBELOW", (0, 0), (-1, -1), 0.25, "grey")])
    return table


def _signature_table() -> Any:
    from reportlab.platypus import Table

    table = Table([[text("Signature, store"), "", text("Signature, rep")]], colWidths=[220, 40, 220])
    table.setStyle([("LINEABOVE", (0, 0), (0, 0), 0.75, "black"), ("LINEABOVE", (2, 0), (2, 0), 0.75, "black")])
    return table
