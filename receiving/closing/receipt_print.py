"""The signed receipt on paper."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, tzinfo
from itertools import zip_longest
from typing import Any

from reportlab.lib.styles import ParagraphStyle
from reportlab.platypus import Spacer

from receiving.closing.issued import RECORD
from receiving.closing.paper import find_unprintable, paragraph, print_pages, styles, text
from receiving.closing.receipt import declaration_words, role_words
from receiving.closing.tagging import Lines, Shape, TaggedTable
from receiving.closing.writing import begins_right_to_left, packages_with
from receiving.errors import BadRequest
from receiving.messages import ENGLISH, Message, Speaker, Text, listing, message, plural
from receiving.model import Receipt, ShortDeclaration, ShownLine, Signature
from receiving.wording import line_words


def receipt_pdf(
    receipt: Receipt,
    *,
    paper: str = "A4",
    zone: tzinfo | None = UTC,
    speaker: Speaker = ENGLISH,
    record: str = "",
) -> bytes:
    """The receipt as a PDF (``paper`` "A4" or "Letter"), legible in black and white, with room to sign by hand.

    Its structure is tagged. ``record`` is the sealed record's file, which goes into it as an attachment. Times are in
    ``zone``, which is named. Raises BadRequest for a name or remarks in letters that cannot be printed as they are
    written.
    """
    _check_letters(receipt)
    shown = receipt.shown
    named = {"number": receipt.number, "shipment": shown.shipment}
    title = speaker.say(message("Receipt {number} for shipment {shipment}", **named))
    foot = speaker.say(message("Shipment {shipment}, receipt {number}", **named))
    inside = {RECORD: record.encode()} if record else {}
    first = b""
    for size_pt in SIZES_PT if len(shown.lines) <= FEW_LINES else SIZES_PT[:1]:
        story = _Writer(speaker, zone, size_pt).story(receipt)
        made, pages = print_pages(
            story, title=title, foot=foot, paper=paper, tagged=True, speaker=speaker, attached=inside
        )
        if pages == 1:
            return made
        first = first or made
    return first


SIZES_PT, FEW_LINES = (8.0, 7.25, 6.5), 40
"""Type sizes of the lines, tried until the receipt is on one page; where it is on none it has the first."""


def _check_letters(receipt: Receipt) -> None:
    """A name that comes out as question marks is nobody's name, so it is refused."""
    for wording, words in zip(_UNPRINTABLE, (receipt.name, receipt.role, receipt.remarks), strict=True):
        if letters := find_unprintable(words):
            raise BadRequest(
                wording.filled(letters=" ".join(letters[:12])),
                next_step=_with_letters(packages_with(letters)),
            )


_UNPRINTABLE = (
    message("The name on this receipt has letters that cannot be printed here: {letters}"),
    message("The role on this receipt has letters that cannot be printed here: {letters}"),
    message("The remarks on this receipt have letters that cannot be printed here: {letters}"),
)


def _with_letters(packages: tuple[str, ...]) -> Message:
    if not packages:
        return message("Print the receipt's page from the browser, which has them.")
    return message(
        "Print the receipt's page from the browser, which has them, or install a font with them on the machine that "
        "serves (Debian: {packages}).",
        packages=listing(packages),
    )


@dataclass(frozen=True)
class _Writer:
    """Writes a receipt in one language, with times in one zone."""

    speaker: Speaker
    zone: tzinfo | None
    size_pt: float

    def story(self, receipt: Receipt) -> list[Any]:
        shown = receipt.shown
        here = [line for line in shown.lines if line.state == "received"]
        exceptions = [line for line in shown.lines if line.state != "received"]
        headed = message(
            "Shipment {shipment} to store {store}, manifest revision {revision}",
            shipment=shown.shipment,
            store=shown.store,
            revision=shown.revision,
        )
        story: list[Any] = [
            self._text(message("Receipt {number}", number=receipt.number), "Title"),
            self._text(headed),
            Spacer(1, 10),
            self._counts_table(receipt),
            Spacer(1, 12),
            self._text(self._verdict(receipt), "Heading3"),
            *self._remarks(receipt.remarks),
        ]
        story += [Spacer(1, 4), self._text(message("Exceptions ({number})", number=len(exceptions)), "Heading3")]
        story += [self._lines_table(exceptions), Spacer(1, 4)]
        story += [self._text(message("Here ({number})", number=len(here)), "Heading3"), self._columns_table(here)]
        digest = message("What was confirmed has the SHA-256 {digest}.", digest=shown.digest)
        return [*story, Spacer(1, 14), self._signature_table(receipt), Spacer(1, 4), self._small(digest)]

    def _text(self, wording: Text, style: str = "Normal") -> Any:
        return text(self.speaker.say(wording), style)

    def _small(self, wording: Text) -> Any:
        return _small(self.speaker.say(wording), self.size_pt)

    def _remarks(self, remarks: str) -> list[Any]:
        """The remarks; such that run from right to left stand in a paragraph of their own, which runs so."""
        if begins_right_to_left(remarks):
            return [self._text(message("Remarks:")), text(remarks)]
        return [self._text(message("Remarks: {remarks}", remarks=remarks))] if remarks else []

    def _verdict(self, receipt: Receipt) -> Text:
        who = {
            "name": receipt.name,
            "role": role_words(receipt.role),
            "when": receipt.confirmed_at.astimezone(self.zone),
        }
        match receipt.with_exceptions, receipt.by_pin:
            case True, True:
                return message("Confirmed with exceptions by PIN by {name}, {role}, on {when}", **who)
            case True, False:
                return message("Confirmed with exceptions by {name}, {role}, on {when}", **who)
            case False, True:
                return message("Confirmed by PIN by {name}, {role}, on {when}", **who)
        return message("Confirmed by {name}, {role}, on {when}", **who)

    def _counts_table(self, receipt: Receipt) -> Any:
        shown = receipt.shown
        heads = (
            message("Expected"),
            message("Here"),
            message("Missing or not seen"),
            message("Extra"),
            message("Open questions"),
        )
        values = (shown.expected, shown.received, shown.short, shown.extra, shown.questions)
        cells = [[self._text(head) for head in heads], [text(str(value), "Heading1") for value in values]]
        table = TaggedTable(cells, hAlign="LEFT")
        table.shape = Shape.TABLE
        table.setStyle([("GRID", (0, 0), (-1, -1), 0.5, "black"), ("VALIGN", (0, 0), (-1, -1), "TOP")])
        return table

    def _lines_table(self, lines: Sequence[ShownLine]) -> Any:
        if not lines:
            return self._text(message("None."))
        table = TaggedTable([[_small(words, self.size_pt)] for words in self._exceptions(lines)])
        table.shape = Shape.LIST
        table.setStyle([("VALIGN", (0, 0), (-1, -1), "TOP"), ("LINEBELOW", (0, 0), (-1, -1), 0.25, "grey"), *_TIGHT])
        return table

    def _exceptions(self, lines: Sequence[ShownLine]) -> Iterator[str]:
        """Each line, and below them once what was declared of several cartons alike: a page is short of room.

        Alike is what reads alike: the declarations of one tap are some microseconds apart.
        """
        alike: dict[str, list[str]] = {}
        stated = {line.carton: self._declared(line.declared) for line in lines if line.declared}
        for carton, declared in stated.items():
            alike.setdefault(declared, []).append(carton)
        for line in lines:
            words = self.speaker.say(line_words(line))
            if line.declared and len(alike[stated[line.carton]]) == 1:
                words = f"{words.rstrip('.')}. {stated[line.carton]}"
            yield words
        for declared, cartons in alike.items():
            if len(cartons) > 1:
                named = {"cartons": listing(cartons), "declared": declared}
                wording = plural(len(cartons), "Carton {cartons}: {declared}", "Cartons {cartons}: {declared}", **named)
                yield self.speaker.say(wording)

    def _declared(self, declared: ShortDeclaration) -> str:
        return self.speaker.say(declaration_words(declared, declared.at.astimezone(self.zone)))

    def _columns_table(self, lines: Sequence[ShownLine]) -> Any:
        """Cartons that are here, two columns of them, each with a box to tick on paper."""
        if not lines:
            return self._text(message("None."))
        half = (len(lines) + 1) // 2
        rows = [
            [cell for each in pair for cell in ((_tick_box(), self._small(line_words(each))) if each else ("", ""))]
            for pair in zip_longest(lines[:half], lines[half:])
        ]
        table = TaggedTable(rows, colWidths=[12, 240, 12, 240], hAlign="LEFT")
        table.shape = Shape.LIST
        table.setStyle([("VALIGN", (0, 0), (-1, -1), "TOP"), *_TIGHT])
        return table

    def _signature_table(self, receipt: Receipt) -> Any:
        """What was signed on the screen, over the line; else room to sign by hand."""
        drawn: Any = ""
        store: Text = message("Signature, store")
        if receipt.signature:
            words = self.speaker.say(message("Signature of {name}", name=receipt.name))
            drawn = _drawn(receipt.signature, words)
            store = message("Signature, store: {name}", name=receipt.name)
        signs = [self._text(store), "", self._text(message("Signature, rep"))]
        table = TaggedTable([[drawn, "", ""], signs], colWidths=[220, 40, 220])
        table.setStyle(
            [
                ("LINEABOVE", (0, 1), (0, 1), 0.75, "black"),
                ("LINEABOVE", (2, 1), (2, 1), 0.75, "black"),
                ("BOTTOMPADDING", (0, 0), (-1, 0), 0 if drawn else 22),
            ]
        )
        return table


_TIGHT = [(side, (0, 0), (-1, -1), 1.5) for side in ("TOPPADDING", "BOTTOMPADDING", "LEFTPADDING", "RIGHTPADDING")]


def _small(words: str, size_pt: float) -> Any:
    return paragraph(
        words, ParagraphStyle("Small", parent=styles()["Normal"], fontSize=size_pt, leading=1.19 * size_pt)
    )


def _tick_box() -> Any:
    return Lines([[(0.5, 0.5), (7.5, 0.5), (7.5, 7.5), (0.5, 7.5), (0.5, 0.5)]], 8, 8)


def _drawn(signature: Signature, words: str) -> Any:
    """The strokes, 60 mm wide at most and 16 mm high at most."""
    scale = min(170 / 1000, 45 / signature.height)
    strokes = [
        [(x * scale, (signature.height - y) * scale) for x, y in stroke] for stroke in signature.strokes if stroke
    ]
    return Lines(strokes, 1000 * scale, signature.height * scale, words)
