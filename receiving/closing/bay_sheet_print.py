"""Bay sheets on paper: one page or more for each bay, top to bottom and left to right."""

from collections.abc import Sequence
from typing import Any

from receiving.closing.paper import MARGIN_PT, page_size_pt, print_paper, text
from receiving.model.contents import BaySheet, BaySheetRow

HEADS = ("Tag", "Col", "Row", "Tray", "Parts", "Graphics", "Tags", "Cartons", "State")
WIDTHS = (0.05, 0.05, 0.05, 0.17, 0.14, 0.14, 0.10, 0.10, 0.20)


def bay_sheets_pdf(sheets: Sequence[BaySheet], *, paper: str = "A4") -> bytes:
    """The sheets as a PDF in landscape (``paper`` "A4" or "Letter"); each bay starts on a page of its own."""
    from reportlab.platypus import PageBreak

    width_pt = page_size_pt(paper, landscape=True)[0] - 2 * MARGIN_PT
    story: list[Any] = []
    for n, sheet in enumerate(sheets):
        story += [PageBreak()] if n else []
        story += _sheet(sheet, width_pt)
    foot = f"Shipment {sheets[0].shipment}, store {sheets[0].store}" if sheets else ""
    none = [text("No position has an address, so there is no bay sheet.")]
    return print_paper(story or none, title="Bay sheets", foot=foot, paper=paper, landscape=True)


def _sheet(sheet: BaySheet, width_pt: float) -> list[Any]:
    from reportlab.platypus import Spacer

    names = (f"Bay {sheet.bay}" if sheet.bay else "", sheet.section)
    title = ": ".join(name for name in names if name) or "Positions"
    ready = sum(not row.waits_for for row in sheet.rows)
    counts = (
        f"Store {sheet.store}, shipment {sheet.shipment}. {ready} of {len(sheet.rows)} positions can be set now "
        f"({sheet.percent:.0f} % of positions, {sheet.facings_percent:.0f} % of facings)."
    )
    story = [text(title, "Title"), text(counts), Spacer(1, 8)]
    story.append(_table(sheet.rows, width_pt))
    if sheet.section_wide:
        story += [Spacer(1, 8), text("For the whole section", "Heading3")]
        story += [text(f"• {words}") for words in sheet.section_wide]
    return story


def _table(rows: Sequence[BaySheetRow], width_pt: float) -> Any:
    from reportlab.lib.colors import black, lightgrey
    from reportlab.platypus import Table, TableStyle

    cells = [[text(head, "Heading5") for head in HEADS]]
    for n, row in enumerate(rows, start=1):
        state = f"WAITS for {', '.join(row.waits_for)}" if row.waits_for else "ready"
        listed = (row.trays, row.parts, row.graphics, row.tags, row.cartons)
        texts = (str(n), str(row.address.column), str(row.address.row), *map(", ".join, listed), state)
        cells.append([text(words) for words in texts])
    style = [("GRID", (0, 0), (-1, -1), 0.5, black), ("BACKGROUND", (0, 0), (-1, 0), lightgrey)]
    style += [("VALIGN", (0, 0), (-1, -1), "TOP")]
    return Table(cells, colWidths=[width_pt * share for share in WIDTHS], repeatRows=1, style=TableStyle(style))
