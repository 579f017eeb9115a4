"""The replacement request on paper, to leave with the store."""

from datetime import UTC, tzinfo
from typing import Any

from receiving.closing.paper import MARGIN_PT, page_size_pt, print_paper, text
from receiving.closing.replacement import by_section
from receiving.model.replacement import ReplacementLine, ReplacementRequest

WIDTHS = (0.05, 0.20, 0.33, 0.07, 0.35)


def replacement_pdf(request: ReplacementRequest, *, paper: str = "A4", zone: tzinfo | None = UTC) -> bytes:
    """The request as a PDF (``paper`` "A4" or "Letter"), legible in black and white; times in ``zone``, named."""
    name = f"{request.reference}, revision {request.revision}"
    width_pt = page_size_pt(paper)[0] - 2 * MARGIN_PT
    return print_paper(_story(request, width_pt, zone), title=f"Replacement request {name}", foot=name, paper=paper)


def _story(request: ReplacementRequest, width_pt: float, zone: tzinfo | None) -> list[Any]:
    from reportlab.platypus import Spacer

    story: list[Any] = [
        text(f"Replacement request {request.reference}", "Title"),
        text(_summary(request, zone)),
        Spacer(1, 10),
        _delivery_table(request, width_pt),
    ]
    number = 0
    for section, lines in by_section(request.lines):
        title = f"{section or 'Whole shipment'} (shipment {lines[0].shipment})"
        story += [Spacer(1, 10), text(title, "Heading2"), _lines_table(lines, number, width_pt)]
        number += len(lines)
    if not request.lines:
        story.append(text("Nothing is asked for any more: this revision withdraws the request."))
    return story


def _summary(request: ReplacementRequest, zone: tzinfo | None) -> str:
    pieces = f"{request.pieces} piece{'' if request.pieces == 1 else 's'}"
    revised = f", revision {request.revision}: replaces all earlier ones" if request.revision > 1 else ""
    one = f"One request and one delivery in place of {request.separate}. " if request.separate > 1 else ""
    when = f"{request.requested_at.astimezone(zone):%Y-%m-%d %H:%M %Z}"
    return f"{one}{pieces} for store {request.store}, asked for by {request.requested_by} on {when}{revised}."


def _delivery_table(request: ReplacementRequest, width_pt: float) -> Any:
    from reportlab.platypus import Table, TableStyle

    delivery = request.delivery
    needed = delivery.needed_by.isoformat() if delivery.needed_by else "as soon as can be"
    rows = [
        ("Deliver to", delivery.deliver_to),
        ("Contact", " ".join(part for part in (delivery.contact, delivery.phone) if part)),
        ("Needed by", needed),
    ]
    if delivery.remarks:
        rows.append(("Remarks", delivery.remarks))
    cells = [[text(a, bold=True), text(b)] for a, b in rows]
    return Table(
        cells, colWidths=[width_pt * 0.2, width_pt * 0.8], style=TableStyle([("VALIGN", (0, 0), (-1, -1), "TOP")])
    )


def _lines_table(lines: tuple[ReplacementLine, ...], before: int, width_pt: float) -> Any:
    from reportlab.lib.colors import black, lightgrey
    from reportlab.platypus import Table, TableStyle

    head = [text(word, bold=True) for word in ("", "Where", "What", "Qty", "Why")]
    body = [
        [text(str(n)), text(_where(line)), text(line.words), text(str(line.qty)), text(_why(line))]
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
