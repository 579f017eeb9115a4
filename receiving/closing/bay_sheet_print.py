"""Bay sheets on paper: one page or more for each bay, top to bottom and left to right."""

from collections.abc import Sequence
from io import BytesIO
from typing import Any
from xml.sax.saxutils import escape

from receiving.model.contents import BaySheet, BaySheetRow

MARGIN_PT = 36
HEADS = ("Tag", "Col", "Row", "Tray", "Parts", "Graphics", "Tags", "Cartons", "State")
WIDTHS = (0.05, 0.05, 0.05, 0.17, 0.14, 0.14, 0.10, 0.10, 0.20)


def bay_sheets_pdf(sheets: Sequence[BaySheet], *, paper: str = "A4") -> bytes:
    """The sheets as a PDF in landscape (``paper`` "A4" or "Letter"); each bay starts on a page of its own."""
    from reportlab.lib import pagesizes
    from reportlab.platypus import PageBreak, SimpleDocTemplate

    out = BytesIO()
    size = pagesizes.landscape(pagesizes.LETTER if paper.casefold() == "letter" else pagesizes.A4)
    document = SimpleDocTemplate(
        out,
        pagesize=size,
        leftMargin=MARGIN_PT,
        rightMargin=MARGIN_PT,
        topMargin=MARGIN_PT,
        bottomMargin=MARGIN_PT,
        title="Bay sheets",
        author="",
        invariant=1,
    )
    story: list[Any] = []
    for n, sheet in enumerate(sheets):
        story += [PageBreak()] if n else []
        story += _sheet(sheet, size[0] - 2 * MARGIN_PT)
    document.build(story or [_text("No position has an address, so there is no bay sheet.", "Normal")])
    return out.getvalue()


def _sheet(sheet: BaySheet, width_pt: float) -> list[Any]:
    from reportlab.platypus import Spacer

    names = (f"Bay {sheet.bay}" if sheet.bay else "", sheet.section)
    title = ": ".join(name for name in names if name) or "Positions"
    ready = sum(not row.waits_for for row in sheet.rows)
    counts = (
        f"Store {sheet.store}, shipment {sheet.shipment}. {ready} of {len(sheet.rows)} positions can be set now "
        f"({sheet.percent:.0f} % of positions, {sheet.facings_percent:.0f} % of facings)."
    )
    story = [_text(title, "Title"), _text(counts, "Normal"), Spacer(1, 8)]
    story.append(_table(sheet.rows, width_pt))
    if sheet.section_wide:
        story += [Spacer(1, 8), _text("For the whole section", "Heading3")]
        story += [_text(f"• {words}", "Normal") for words in sheet.section_wide]
    return story


def _table(rows: Sequence[BaySheetRow], width_pt: float) -> Any:
    from reportlab.lib.colors import black, lightgrey
    from reportlab.platypus import Table, TableStyle

    cells = [[_text(head, "Heading5") for head in HEADS]]
    for n, row in enumerate(rows, start=1):
        state = f"WAITS for {', '.join(row.waits_for)}" if row.waits_for else "ready"
        listed = (row.trays, row.parts, row.graphics, row.tags, row.cartons)
        texts = (str(n), str(row.address.column), str(row.address.row), *map(", ".join, listed), state)
        cells.append([_text(text, "Normal") for text in texts])
    style = [("GRID", (0, 0), (-1, -1), 0.5, black), ("BACKGROUND", (0, 0), (-1, 0), lightgrey)]
    style += [("VALIGN", (0, 0), (-1, -1), "TOP")]
    return Table(cells, colWidths=[width_pt * share for share in WIDTHS], repeatRows=1, style=TableStyle(style))


def _text(words: str, style: str) -> Any:
    from reportlab.lib.styles import getSampleStyleSheet
    from reportlab.platypus import Paragraph

    return Paragraph(escape(words), getSampleStyleSheet()[style])
