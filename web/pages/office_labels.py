"""Labels of a shipment: which cartons, on which stock, from which place of the sheet."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from typing import ClassVar

from receiving.errors import ReceivingError
from receiving.messages import Listing, Message, Text, listing, message, plural
from receiving.model import Carton, CartonFinding, CartonState
from receiving.service import LabelChoice
from receiving.wording import term
from web.pages.cartons import Option
from web.pages.problem import Trouble, trouble_of
from web.pages.tone import STATE_TONES, Tone
from web.pages.words import where_words

MOST_NAMED = 8


@dataclass(frozen=True)
class StockOption:
    """One label stock to choose."""

    name: str
    words: Text
    chosen: bool


@dataclass(frozen=True)
class LabelCarton:
    """A carton that a label can be printed for."""

    carton: str
    kind: Text
    where: Text
    tone: Tone
    word: Text
    code: Text
    chosen: bool


@dataclass(frozen=True)
class LabelsPage:
    """The labels of a shipment; ``seen`` is the one carton whose label is shown, or empty."""

    template: ClassVar[str] = "office_labels.html"

    shipment: str
    store: str
    stocks: tuple[StockOption, ...]
    sticker_stocks: tuple[StockOption, ...]
    printers: tuple[Option, ...]
    first: str
    most_places: int
    all_count: int
    missing: int
    cartons: tuple[LabelCarton, ...]
    without_code: tuple[Text, ...]
    seen: str
    trouble: Trouble | None

    @property
    def title(self) -> Text:
        """The page's title."""
        return message("Labels of {shipment}", shipment=self.shipment)


@dataclass(frozen=True)
class Chosen:
    """What a person chose so far."""

    cartons: Collection[str] = ()
    stock: str = ""
    first: str = "1"
    fault: ReceivingError | None = None


def labels_page(choice: LabelChoice, chosen: Chosen) -> LabelsPage:
    """The page of a shipment's labels."""
    view, stocks, fault = choice.view, choice.stocks, chosen.fault
    found = view.reconciliation
    own = [carton for carton in chosen.cartons if view.manifest.find(carton)]
    return LabelsPage(
        shipment=view.manifest.shipment,
        store=view.manifest.store,
        stocks=tuple(StockOption(s.name, s.words, s.name == chosen.stock) for s in stocks),
        sticker_stocks=tuple(StockOption(s.name, s.words, chosen=False) for s in choice.stickers),
        printers=tuple(
            Option(str(dpi), message("{number} dots per inch", number=dpi), dpi == choice.dpi)
            for dpi in choice.resolutions
        ),
        first=chosen.first,
        most_places=max(stock.per_page for stock in stocks),
        all_count=len(view.manifest.cartons),
        missing=len(found.in_state(CartonState.SHORT)),
        cartons=tuple(_carton(finding, own) for finding in found.cartons),
        without_code=without_code(view.manifest.cartons),
        seen=own[0] if len(own) == 1 and not fault else "",
        trouble=trouble_of(fault),
    )


def without_code(cartons: Iterable[Carton]) -> tuple[Message, ...]:
    """What is printed for cartons that have no number, in sentences."""
    bare = [carton for carton in cartons if not carton.codes]
    placed = [c.carton for c in bare if len(c.addresses) == 1]
    others = [c.carton for c in bare if len(c.addresses) != 1]
    sentences = (
        plural(
            len(placed),
            "Carton {cartons}: no code on the manifest: the label shows the place, with a symbol of it to scan.",
            "Cartons {cartons}: no code on the manifest: the label shows the place, with a symbol of it to scan.",
            cartons=_named(placed),
        ),
        plural(
            len(others),
            "Carton {cartons}: no code on the manifest and no single place: the label has only words on it, so type "
            "its number.",
            "Cartons {cartons}: no code on the manifest and no single place: the label has only words on it, so type "
            "its number.",
            cartons=_named(others),
        ),
    )
    return tuple(words for words, names in zip(sentences, (placed, others), strict=True) if names)


def _named(names: list[str]) -> Listing:
    left = len(names) - MOST_NAMED
    more = (plural(left, "{number} more", "{number} more"),) if left > 0 else ()
    return listing((*names[:MOST_NAMED], *more))


def _carton(finding: CartonFinding, chosen: Collection[str]) -> LabelCarton:
    carton = finding.carton
    return LabelCarton(
        carton=carton.carton,
        kind=term(carton.kind),
        where=where_words(carton),
        tone=STATE_TONES[finding.state],
        word=term(finding.state),
        code=str(carton.sscc or carton.plain_code) or message("no code"),
        chosen=carton.carton in chosen,
    )
