"""Bay sheets on paper: one page or more for each bay, top to bottom and left to right."""

from collections.abc import Sequence
from typing import Any

from reportlab.lib.colors import black, lightgrey
from reportlab.platypus import PageBreak, Spacer, Table, TableStyle

from receiving.closing.paper import MARGIN_PT, page_size_pt, print_paper, text
from receiving.messages import ENGLISH, Message, Speaker, Text, figure, joined, message
from receiving.model.contents import BaySheet, BaySheetRow
from receiving.wording import item_words, stock_words

HEADS = (
    message("Tag"),
    message("Col"),
    message("Row"),
    message("Tray"),
    message("Parts"),
    message("Graphics"),
    message("Tags"),
    message("Cartons"),
    message("State"),
)
WIDTHS = (0.05, 0.05, 0.075, 0.165, 0.135, 0.14, 0.10, 0.10, 0.185)


def bay_sheets_pdf(sheets: Sequence[BaySheet], *, paper: str = "A4", speaker: Speaker = ENGLISH) -> bytes:
    """The sheets as a PDF in landscape (``paper`` "A4" or "Letter"); each bay starts on a page of its own."""
    width_pt = page_size_pt(paper, landscape=True)[0] - 2 * MARGIN_PT
    story: list[Any] = []
    for n, sheet in enumerate(sheets):
        story += [PageBreak()] if n else []
        story += _sheet(sheet, width_pt, speaker)
    foot: Text = ""
    if sheets:
        foot = message("Shipment {shipment}, store {store}", shipment=sheets[0].shipment, store=sheets[0].store)
    none = [text(speaker.say(message("No position has an address, so there is no bay sheet.")))]
    title, below = speaker.say(message("Bay sheets")), speaker.say(foot)
    return print_paper(story or none, title=title, foot=below, paper=paper, landscape=True, speaker=speaker)


def _sheet(sheet: BaySheet, width_pt: float, speaker: Speaker) -> list[Any]:
    story = [
        text(speaker.say(_title(sheet)), "Title"),
        text(speaker.say(_counts(sheet))),
        Spacer(1, 8),
        _table(sheet.rows, width_pt, speaker),
    ]
    if sheet.section_wide:
        story += [Spacer(1, 8), text(speaker.say(message("For the whole section")), "Heading3")]
        wide = (message("{item} (carton {carton})", item=item_words(each), carton=c) for each, c in sheet.section_wide)
        story += [text(f"• {speaker.say(words)}") for words in wide]
    return story


def _title(sheet: BaySheet) -> Text:
    if sheet.bay and sheet.section:
        return message("Bay {bay}: {section}", bay=sheet.bay, section=sheet.section)
    if sheet.bay:
        return message("Bay {bay}", bay=sheet.bay)
    return sheet.section or message("Positions")


def _counts(sheet: BaySheet) -> Message:
    return message(
        "Store {store}, shipment {shipment}. {ready} of {positions} positions can be set now "
        "({percent} % of positions, {facings} % of facings).",
        store=sheet.store,
        shipment=sheet.shipment,
        ready=sum(not row.waits_for for row in sheet.rows),
        positions=len(sheet.rows),
        percent=figure(sheet.percent),
        facings=figure(sheet.facings_percent),
    )


def _table(rows: Sequence[BaySheetRow], width_pt: float, speaker: Speaker) -> Any:
    cells = [[text(speaker.say(head), "Heading5") for head in HEADS]]
    for n, row in enumerate(rows, start=1):
        lacking = (joined(f"{qty} ×", stock_words(part, row.address)) for part, qty in row.waits_for)
        waits = joined(*lacking, separator=", ")
        state = message("WAITS for {parts}", parts=waits) if row.waits_for else message("ready")
        listed = (
            joined(*map(item_words, each), separator=", ") for each in (row.trays, row.parts, row.graphics, row.tags)
        )
        wording = (str(n), str(row.address.column), str(row.address.row), *listed, ", ".join(row.cartons), state)
        cells.append([text(speaker.say(words)) for words in wording])
    style = [("GRID", (0, 0), (-1, -1), 0.5, black), ("BACKGROUND", (0, 0), (-1, 0), lightgrey)]
    style += [("VALIGN", (0, 0), (-1, -1), "TOP")]
    return Table(cells, colWidths=[width_pt * share for share in WIDTHS], repeatRows=1, style=TableStyle(style))
