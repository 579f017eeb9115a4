"""The replacement request on paper, to leave with the store."""

from dataclasses import dataclass
from datetime import UTC, tzinfo
from typing import Any

from reportlab.lib.colors import black, lightgrey
from reportlab.platypus import Spacer, Table, TableStyle

from receiving.closing.paper import MARGIN_PT, page_size_pt, print_paper, text
from receiving.closing.replacement import by_section
from receiving.messages import ENGLISH, Message, Speaker, Text, joined, message, plural
from receiving.model.replacement import ReplacementLine, ReplacementRequest
from receiving.wording import asked_words, stored_words, term

WIDTHS = (0.05, 0.20, 0.33, 0.07, 0.35)


def replacement_pdf(
    request: ReplacementRequest, *, paper: str = "A4", zone: tzinfo | None = UTC, speaker: Speaker = ENGLISH
) -> bytes:
    """The request as a PDF (``paper`` "A4" or "Letter"), legible in black and white; times in ``zone``, named."""
    named = {"reference": request.reference, "number": request.revision}
    writer = _Writer(speaker, zone, page_size_pt(paper)[0] - 2 * MARGIN_PT)
    return print_paper(
        writer.story(request),
        title=speaker.say(message("Replacement request {reference}, revision {number}", **named)),
        foot=speaker.say(message("{reference}, revision {number}", **named)),
        paper=paper,
        speaker=speaker,
    )


@dataclass(frozen=True)
class _Writer:
    """The request in one language, on paper with so much room between its margins."""

    speaker: Speaker
    zone: tzinfo | None
    width_pt: float

    def story(self, request: ReplacementRequest) -> list[Any]:
        story: list[Any] = [
            self._text(message("Replacement request {reference}", reference=request.reference), "Title"),
            self._text(self._summary(request)),
            Spacer(1, 10),
            self._delivery_table(request),
        ]
        number = 0
        for section, lines in by_section(request.lines):
            named: Text = section or message("Whole shipment")
            title = message("{section} (shipment {shipment})", section=named, shipment=lines[0].shipment)
            story += [Spacer(1, 10), self._text(title, "Heading2"), self._lines_table(lines, number)]
            number += len(lines)
        if not request.lines:
            withdrawn = message("Nothing is asked for any more: this revision withdraws the request.")
            story.append(self._text(withdrawn))
        return story

    def _text(self, words: Text, style: str = "Normal", *, bold: bool = False) -> Any:
        return text(self.speaker.say(words), style, bold=bold)

    def _summary(self, request: ReplacementRequest) -> Text:
        values = {
            "pieces": plural(request.pieces, "{number} piece", "{number} pieces"),
            "store": request.store,
            "person": request.requested_by,
            "moment": request.requested_at.astimezone(self.zone),
        }
        asked = message("{pieces} for store {store}, asked for by {person} on {moment}.", **values)
        if request.revision > 1:
            asked = message(
                "{pieces} for store {store}, asked for by {person} on {moment}, "
                "revision {revision}: replaces all earlier ones.",
                revision=request.revision,
                **values,
            )
        if request.separate < 2:
            return asked
        one = message("One request and one delivery in place of {number}.", number=request.separate)
        return joined(one, asked)

    def _delivery_table(self, request: ReplacementRequest) -> Any:
        delivery = request.delivery
        needed = self.speaker.say(delivery.needed_by or message("as soon as can be"))
        rows: list[tuple[Message, str]] = [
            (message("Deliver to"), delivery.deliver_to),
            (message("Contact"), " ".join(part for part in (delivery.contact, delivery.phone) if part)),
            (message("Needed by"), needed),
        ]
        if delivery.remarks:
            rows.append((message("Remarks"), delivery.remarks))
        cells = [[self._text(a, bold=True), text(b)] for a, b in rows]
        widths = [self.width_pt * 0.2, self.width_pt * 0.8]
        return Table(cells, colWidths=widths, style=TableStyle([("VALIGN", (0, 0), (-1, -1), "TOP")]))

    def _lines_table(self, lines: tuple[ReplacementLine, ...], before: int) -> Any:
        head = [self._text(word, bold=True) for word in ("", *_HEADS)]
        body = [
            [self._text(each) for each in (str(n), _where(line), asked_words(line), str(line.qty), _why(line))]
            for n, line in enumerate(lines, start=before + 1)
        ]
        style = TableStyle(
            [
                ("GRID", (0, 0), (-1, -1), 0.5, black),
                ("BACKGROUND", (0, 0), (-1, 0), lightgrey),
                ("VALIGN", (0, 0), (-1, -1), "TOP"),
            ]
        )
        return Table([head, *body], colWidths=[self.width_pt * share for share in WIDTHS], repeatRows=1, style=style)


_HEADS = (message("Where"), message("What"), message("Qty"), message("Why"))


def _where(line: ReplacementLine) -> Text:
    if line.address is None:
        return message("whole section") if line.section else message("whole shipment")
    return message("column {column}, row {row}", column=line.address.column, row=line.address.row)


def _why(line: ReplacementLine) -> Text:
    why: Text = term(line.reason)
    if line.carton:
        why = message("{reason} (carton {carton})", reason=why, carton=line.carton)
    return joined(why, stored_words(line.remark), separator="; ")
