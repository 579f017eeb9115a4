"""The signed receipt on paper."""

from io import BytesIO
from typing import Any

from receiving.model import Receipt, ShownLine

_MARGIN_PT = 48


def receipt_pdf(receipt: Receipt, *, paper: str = "A4") -> bytes:
    """The receipt as a PDF (``paper`` "A4" or "Letter"), legible in black and white, with room to sign by hand."""
    from reportlab.lib import pagesizes
    from reportlab.platypus import SimpleDocTemplate

    out = BytesIO()
    document = SimpleDocTemplate(
        out,
        pagesize=pagesizes.LETTER if paper.casefold() == "letter" else pagesizes.A4,
        leftMargin=_MARGIN_PT,
        rightMargin=_MARGIN_PT,
        topMargin=_MARGIN_PT,
        bottomMargin=_MARGIN_PT,
        title=f"Receipt {receipt.number} for shipment {receipt.shown.shipment}",
        author="",
        invariant=1,
    )
    footer = _footer(receipt)
    document.build(_story(receipt), onFirstPage=footer, onLaterPages=footer)
    return out.getvalue()


def _story(receipt: Receipt) -> list[Any]:
    from reportlab.lib.styles import getSampleStyleSheet
    from reportlab.platypus import Paragraph, Spacer

    styles = getSampleStyleSheet()
    shown = receipt.shown
    story: list[Any] = [
        Paragraph(f"Receipt {receipt.number}", styles["Title"]),
        Paragraph(
            f"Shipment <b>{_safe(shown.shipment)}</b> to store <b>{_safe(shown.store)}</b>, "
            f"manifest revision {shown.revision}",
            styles["Normal"],
        ),
        Spacer(1, 10),
        _counts_table(receipt),
        Spacer(1, 12),
        Paragraph(_verdict(receipt), styles["Heading3"]),
        *([Paragraph(f"Remarks: {_safe(receipt.remarks)}", styles["Normal"])] if receipt.remarks else []),
    ]
    here = [line for line in shown.lines if line.state == "received"]
    exceptions = [line for line in shown.lines if line.state != "received"]
    for title, lines in ((f"Exceptions ({len(exceptions)})", exceptions), (f"Here ({len(here)})", here)):
        story += [Spacer(1, 8), Paragraph(title, styles["Heading2"]), _lines_table(lines)]
    story += [Spacer(1, 56), _signature_table()]
    return story


def _verdict(receipt: Receipt) -> str:
    words = "Confirmed with exceptions" if receipt.with_exceptions else "Confirmed"
    when = receipt.confirmed_at.strftime("%d %B %Y, %H:%M UTC")
    return f"{words} by {_safe(receipt.name)}, {_safe(receipt.role)}, on {when}"


def _counts_table(receipt: Receipt) -> Any:
    from reportlab.platypus import Table

    shown = receipt.shown
    heads = ["Expected", "Here", "Missing or not seen", "Extra", "Not decided"]
    values = [shown.expected, shown.received, shown.short, shown.extra, shown.questions]
    table = Table([heads, [str(value) for value in values]], hAlign="LEFT")
    table.setStyle(
        [
            ("GRID", (0, 0), (-1, -1), 0.5, "black"),
            ("FONTSIZE", (0, 1), (-1, 1), 18),
            ("BOTTOMPADDING", (0, 1), (-1, 1), 10),
            ("ALIGN", (0, 0), (-1, -1), "CENTER"),
        ]
    )
    return table


def _lines_table(lines: list[ShownLine]) -> Any:
    from reportlab.lib.styles import getSampleStyleSheet
    from reportlab.platypus import Paragraph, Table

    normal = getSampleStyleSheet()["Normal"]
    if not lines:
        return Paragraph("None.", normal)
    table = Table([[Paragraph(_safe(line.words), normal)] for line in lines])
    table.setStyle([("VALIGN", (0, 0), (-1, -1), "TOP"), ("LINEBELOW", (0, 0), (-1, -1), 0.25, "grey")])
    return table


def _signature_table() -> Any:
    from reportlab.platypus import Table

    table = Table([["Signature, store", "", "Signature, rep"]], colWidths=[220, 40, 220])
    table.setStyle([("LINEABOVE", (0, 0), (0, 0), 0.75, "black"), ("LINEABOVE", (2, 0), (2, 0), 0.75, "black")])
    return table


def _footer(receipt: Receipt) -> Any:
    def draw(canvas: Any, document: Any) -> None:
        canvas.saveState()
        canvas.setFont("Helvetica", 7)
        canvas.drawString(
            _MARGIN_PT,
            28,
            f"Shipment {receipt.shown.shipment}, receipt {receipt.number}, page {document.page}. "
            f"Content checksum (SHA-256): {receipt.shown.digest}",
        )
        canvas.restoreState()

    return draw


def _safe(text: str) -> str:
    from xml.sax.saxutils import escape

    return escape(text)
