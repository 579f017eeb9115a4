"""What labels are printed on and what all of them show: stock, resolutions of printers, lines of the sender."""

import re
from dataclasses import dataclass, field

from receiving.errors import BadRequest
from receiving.messages import ENGLISH, Speaker, Text, listing, message

LINK_HOST = "https://id.gs1.org"
"""The host of the canonical GS1 Digital Link URI (GS1 Digital Link Standard: URI Syntax); any other serves as well."""

_HOST = re.compile(r"(?i:https?)://[A-Za-z0-9.-]{1,253}(?::[0-9]{1,5})?(?:/[A-Za-z0-9._~/-]{0,100})?")


RESOLUTIONS = (200, 203, 300, 600)
"""Dots per inch of label printers: 203 is 8 dots a millimetre (common practice, no source)."""

MOST_OFFSET_MM = 15.0


@dataclass(frozen=True)
class Stock:
    """Label stock: page and label size in mm, labels across and down; the grid fills the page.

    ``margin_mm`` stays white in each label: office printers cannot print the outer 4 to 5 mm (common practice).
    """

    name: str
    words: Text
    page_mm: tuple[float, float]
    label_mm: tuple[float, float]
    across: int = 1
    down: int = 1
    margin_mm: float = 3.0

    @property
    def per_page(self) -> int:
        """Labels on one page."""
        return self.across * self.down

    def corner_mm(self, place: int) -> tuple[float, float]:
        """Top left corner of the label at this place of the page, row by row from the top left."""
        return (place % self.across) * self.label_mm[0], (place // self.across) * self.label_mm[1]


STOCKS = (
    Stock("4x6in", message("4 × 6 in label"), (101.6, 152.4), (101.6, 152.4)),
    Stock("a6", message("A6 label, 105 × 148 mm"), (105.0, 148.0), (105.0, 148.0)),
    Stock("letter-2up", message("Letter sheet, 2 labels"), (215.9, 279.4), (215.9, 139.7), 1, 2, 5.0),
    Stock("letter-4up", message("Letter sheet, 4 labels"), (215.9, 279.4), (107.95, 139.7), 2, 2, 5.0),
    Stock("a4-4up", message("A4 sheet, 4 labels"), (210.0, 297.0), (105.0, 148.5), 2, 2, 5.0),
)


def stock_named(name: str) -> Stock:
    """The stock of this name, in any case; BadRequest lists the names that there are."""
    for stock in STOCKS:
        if stock.name == name.strip().casefold():
            return stock
    raise BadRequest(
        message("There is no label stock {stock}.", stock=repr(name)),
        next_step=message("Use one of: {stocks}.", stocks=", ".join(s.name for s in STOCKS)),
    )


@dataclass(frozen=True)
class LabelExtras:
    """What stands on every label of a sender: his lines, whether weights are in pounds, the host of the QR code."""

    sender: tuple[str, ...] = ()
    pounds: bool = False
    link_host: str = LINK_HOST

    def __post_init__(self) -> None:
        if not _HOST.fullmatch(self.link_host):
            raise BadRequest(
                message("{host} is not the start of a web address.", host=repr(self.link_host[:80])),
                next_step=message(
                    "Write it like https://receiving.example.com, as a phone in the store reaches this service."
                ),
                field="link_host",
            )


@dataclass(frozen=True)
class LabelPrint:
    """How labels are printed: stock, resolution, where the picture sits, what all of them show, in which language."""

    stock: str = "4x6in"
    dpi: int = 300
    offset_mm: tuple[float, float] = (0.0, 0.0)
    extras: LabelExtras = field(default_factory=LabelExtras)
    speaker: Speaker = ENGLISH

    def __post_init__(self) -> None:
        if self.dpi not in RESOLUTIONS:
            raise BadRequest(
                message("There are no printers of {dpi} dots per inch here.", dpi=self.dpi),
                next_step=message("Use {known}.", known=listing(RESOLUTIONS, choice=True)),
            )
        if any(abs(mm) > MOST_OFFSET_MM or mm != mm for mm in self.offset_mm):
            raise BadRequest(
                message(
                    "The labels cannot be moved by {across} and {down} mm.",
                    across=float(self.offset_mm[0]),
                    down=float(self.offset_mm[1]),
                ),
                next_step=message("Move them by at most {most} mm.", most=float(MOST_OFFSET_MM)),
            )
