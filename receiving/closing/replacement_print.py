"""The replacement request on paper, to leave with the store."""

from io import BytesIO
from typing import Any
from xml.sax.saxutils import escape

from receiving.closing.replacement import by_section
from receiving.model.replacement import ReplacementLine, ReplacementRequest

MARGIN_PT = 42
WIDTHS = (0.05, 0.20, 0.33, 0.07, 0.35)


def replacement_pdf(request: ReplacementRequest, *, paper: str = "A4") -> bytes:
    """The request as a PDF (``paper`` "A4" or "Letter"), legible in black and white."""
    from reportlab.lib import pagesizes
    from reportlab.platypus import SimpleDocTemplate

    out = BytesIO()
    size = pagesizes.LETTER if paper.casefold() == "letter" else pagesizes.A4
    document = SimpleDocTemplate(
        out,
        pagesize=size,
        leftMargin=MARGIN_PT,
        rightMargin=MARGIN_PT,
        topMargin=MARGIN_PT,
        bottomMargin=MARGIN_PT,
        title=f"Replacement request {request.reference}, revision {request.revision}",
        author=request.requested_by,
        invariant=1,
    )
    foot = f"{request.reference}, revision {request.revision}"
    document.build(
        _story(request, size[0] - 2 * MARGIN_PT),
        onFirstPage=lambda canvas, doc: _foot(canvas, doc, foot),
        onLaterPages=lambda canvas, doc: _foot(canvas, doc, foot),
    )
    return out.getvalue()


def _story(request: ReplacementRequest, width_pt: float) -> list[Any]:
    from reportlab.platypus import Paragraph, Spacer

    styles = _styles()
    story: list[Any] = [
        Paragraph(f"Replacement request {escape(request.reference)}", styles["Title"]),
        Paragraph(escape(_summary(request)), styles["Normal"]),
        Spacer(1, 10),
        _delivery_table(request, width_pt),
    ]
    number = 0
    for section, lines in by_section(request.lines):
        title = f"{section or 'Whole shipment'} (shipment {lines[0].shipment})"
        story += [Spacer(1, 10), Paragraph(escape(title), styles["Heading2"]), _lines_table(lines, number, width_pt)]
        number += len(lines)
    if not request.lines:
        story.append(Paragraph("Nothing is asked for any more: this revision withdraws the request.", styles["Normal"]))
    return story


def _summary(request: ReplacementRequest) -> str:
    pieces = f"{request.pieces} piece{'' if request.pieces == 1 else 's'}"
    revised = f", revision {request.revision}: replaces all earlier ones" if request.revision > 1 else ""
    one = f"One request and one delivery in place of {request.separate}. " if request.separate > 1 else ""
    when = f"{request.requested_at:%Y-%m-%d %H:%M} UTC"
    return f"{one}{pieces} for store {request.store}, asked for by {request.requested_by} on {when}{revised}."


def _delivery_table(request: ReplacementRequest, width_pt: float) -> Any:
    from reportlab.platypus import Paragraph, Table, TableStyle

    delivery, styles = request.delivery, _styles()
    needed = delivery.needed_by.isoformat() if delivery.needed_by else "as soon as can be"
    rows = [
        ("Deliver to", delivery.deliver_to),
        ("Contact", " ".join(part for part in (delivery.contact, delivery.phone) if part)),
        ("Needed by", needed),
    ]
    if delivery.remarks:
        rows.append(("Remarks", delivery.remarks))
    cells = [[Paragraph(f"<b>{a}</b>", styles["Normal"]), _text(b)] for a, b in rows]
    return Table(
        cells, colWidths=[width_pt * 0.2, width_pt * 0.8], style=TableStyle([("VALIGN", (0, 0), (-1, -1), "TOP")])
    )


def _lines_table(lines: tuple[ReplacementLine, ...], before: int, width_pt: float) -> Any:
    from reportlab.lib.colors import black, lightgrey
    from reportlab.platypus import Table, TableStyle

    head = [_text(f"<b>{word}</b>", markup=True) for word in ("", "Where", "What", "Qty", "Why")]
    body = [
        [_text(str(n)), _text(_where(line)), _text(line.words), _text(str(line.qty)), _text(_why(line))]
        for n, line in enumerate(lines, start=before + 1)
    ]
    style = TableStyle(
        [
            ("GRID", (0, 0), (-1, -1), 0.5, black),
            ("BACKGROUND", (0, 0), (-1, 0), lightgrey),
            ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ]
    )
    return Table([head, *body], colWidths=[width_pt * share for share in WIDTHS], repeatRows=1, style=style)


def _where(line: ReplacementLine) -> str:
    if line.address is None:
        return "whole section" if line.section else "whole shipment"
    return f"column {line.address.column}, row {line.address.row}"


def _why(line: ReplacementLine) -> str:
    carton = f" (carton {line.carton})" if line.carton else ""
    return f"{line.reason.words}{carton}" + (f"; {line.remark}" if line.remark else "")


def _text(words: str, *, markup: bool = False) -> Any:
    from reportlab.platypus import Paragraph

    return Paragraph(words if markup else escape(words), _styles()["Normal"])


def _styles() -> Any:
    from reportlab.lib.styles import getSampleStyleSheet

    return getSampleStyleSheet()


def _foot(canvas: Any, document: Any, words: str) -> None:
    canvas.saveState()
    canvas.setFont("Helvetica", 8)
    canvas.drawString(MARGIN_PT, MARGIN_PT / 2, words)
    canvas.drawRightString(document.pagesize[0] - MARGIN_PT, MARGIN_PT / 2, f"page {document.page}")
    canvas.restoreState()
