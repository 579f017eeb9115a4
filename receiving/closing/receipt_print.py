"""The signed receipt on paper."""

from collections.abc import Sequence
from datetime import UTC, datetime, tzinfo
from itertools import zip_longest
from typing import Any

from receiving.closing.paper import in_fonts, print_paper, styles, text, unprintable
from receiving.closing.receipt import declaration_words
from receiving.errors import BadRequest
from receiving.messages import message
from receiving.model import Receipt, ShownLine, Signature


def receipt_pdf(receipt: Receipt, *, paper: str = "A4", zone: tzinfo | None = UTC) -> bytes:
    """The receipt as a PDF (``paper`` "A4" or "Letter"), legible in black and white, with room to sign by hand.

    Its structure is tagged. Times are in ``zone``, which is named. Raises BadRequest for a name or remarks in letters
    that cannot be printed as they are written.
    """
    _check_letters(receipt)
    shown = receipt.shown
    return print_paper(
        _story(receipt, zone),
        title=f"Receipt {receipt.number} for shipment {shown.shipment}",
        foot=f"Shipment {shown.shipment}, receipt {receipt.number}",
        paper=paper,
        tagged=True,
    )


def _check_letters(receipt: Receipt) -> None:
    """A name that comes out as question marks is nobody's name, so it is refused."""
    for what, words in (("name", receipt.name), ("role", receipt.role), ("remarks", receipt.remarks)):
        letters = unprintable(words)
        if letters:
            raise BadRequest(
                message(
                    "The {what} on this receipt has letters that cannot be printed here: {listed}",
                    what=what,
                    listed=" ".join(letters[:12]),
                ),
                next_step=message(
                    "Print the receipt's page from the browser, which has them; Greek, Cyrillic and "
                    "Vietnamese print here where the DejaVu fonts are installed (Debian: fonts-dejavu-core), "
                    "Chinese and Japanese where Droid Sans Fallback is (fonts-droid-fallback)."
                ),
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
    story += [Spacer(1, 4), text(f"Exceptions ({len(exceptions)})", "Heading3"), _lines_table(exceptions, zone)]
    story += [Spacer(1, 4), text(f"Here ({len(here)})", "Heading3"), _columns_table(here)]
    return [*story, Spacer(1, 14), _signature_table(receipt), Spacer(1, 4), _checksum(receipt)]


def _verdict(receipt: Receipt, zone: tzinfo | None) -> str:
    words = "Confirmed with exceptions" if receipt.with_exceptions else "Confirmed"
    words += " by PIN" if receipt.by_pin else ""
    return f"{words} by {receipt.name}, {receipt.role}, on {_moment(receipt.confirmed_at, zone)}"


def _counts_table(receipt: Receipt) -> Any:
    from receiving.closing.tagging import Shape, TaggedTable

    shown = receipt.shown
    heads = ("Expected", "Here", "Missing or not seen", "Extra", "Open questions")
    values = (shown.expected, shown.received, shown.short, shown.extra, shown.questions)
    cells = [[text(head) for head in heads], [text(str(value), "Heading1") for value in values]]
    table = TaggedTable(cells, hAlign="LEFT")
    table.shape = Shape.TABLE
    table.setStyle([("GRID", (0, 0), (-1, -1), 0.5, "black"), ("VALIGN", (0, 0), (-1, -1), "TOP")])
    return table


def _lines_table(lines: Sequence[ShownLine], zone: tzinfo | None) -> Any:
    from receiving.closing.tagging import Shape, TaggedTable

    if not lines:
        return text("None.")
    table = TaggedTable([[_small(_line_words(line, zone))] for line in lines])
    table.shape = Shape.LIST
    table.setStyle([("VALIGN", (0, 0), (-1, -1), "TOP"), ("LINEBELOW", (0, 0), (-1, -1), 0.25, "grey"), *_TIGHT])
    return table


def _line_words(line: ShownLine, zone: tzinfo | None) -> str:
    if line.declared is None:
        return line.words
    return f"{line.words.rstrip('.')}. {declaration_words(line.declared, _moment(line.declared.at, zone))}"


def _moment(moment: datetime, zone: tzinfo | None) -> str:
    return f"{moment.astimezone(zone):%d %B %Y, %H:%M %Z}"


def _columns_table(lines: Sequence[ShownLine]) -> Any:
    """Cartons that are here, two columns of them, each with a box to tick on paper."""
    from receiving.closing.tagging import Shape, TaggedTable

    if not lines:
        return text("None.")
    half = (len(lines) + 1) // 2
    rows = [
        [cell for each in pair for cell in ((_tick_box(), _small(each.words)) if each else ("", ""))]
        for pair in zip_longest(lines[:half], lines[half:])
    ]
    table = TaggedTable(rows, colWidths=[12, 240, 12, 240], hAlign="LEFT")
    table.shape = Shape.LIST
    table.setStyle([("VALIGN", (0, 0), (-1, -1), "TOP"), *_TIGHT])
    return table


_TIGHT = [(side, (0, 0), (-1, -1), 1.5) for side in ("TOPPADDING", "BOTTOMPADDING", "LEFTPADDING", "RIGHTPADDING")]


def _small(words: str) -> Any:
    from reportlab.lib.styles import ParagraphStyle

    from receiving.closing.tagging import TaggedParagraph

    style = ParagraphStyle("Small", parent=styles()["Normal"], fontSize=8, leading=9.5)
    return TaggedParagraph(in_fonts(words), style)


def _tick_box() -> Any:
    from receiving.closing.tagging import Lines

    return Lines([[(0.5, 0.5), (7.5, 0.5), (7.5, 7.5), (0.5, 7.5), (0.5, 0.5)]], 8, 8)


def _signature_table(receipt: Receipt) -> Any:
    """What was signed on the screen, over the line; else room to sign by hand."""
    from receiving.closing.tagging import TaggedTable

    drawn = _drawn(receipt.signature, f"Signature of {receipt.name}") if receipt.signature else ""
    store = f"Signature, store: {receipt.name}" if drawn else "Signature, store"
    table = TaggedTable([[drawn, "", ""], [text(store), "", text("Signature, rep")]], colWidths=[220, 40, 220])
    table.setStyle(
        [
            ("LINEABOVE", (0, 1), (0, 1), 0.75, "black"),
            ("LINEABOVE", (2, 1), (2, 1), 0.75, "black"),
            ("BOTTOMPADDING", (0, 0), (-1, 0), 0 if drawn else 22),
        ]
    )
    return table


def _drawn(signature: Signature, words: str) -> Any:
    """The strokes, 60 mm wide at most and 16 mm high at most."""
    from receiving.closing.tagging import Lines

    scale = min(170 / 1000, 45 / signature.height)
    strokes = [
        [(x * scale, (signature.height - y) * scale) for x, y in stroke] for stroke in signature.strokes if stroke
    ]
    return Lines(strokes, 1000 * scale, signature.height * scale, words)


def _checksum(receipt: Receipt) -> Any:
    return _small(f"What was confirmed has the SHA-256 {receipt.shown.digest}.")
