"""Values that stand in many sentences: places in a section, cartons by their numbers, codes, floors and waves."""

from collections.abc import Sequence

from receiving.messages import Listing, Message, Text, joined, listing, message, plural
from receiving.model import Address, BayStaging, How, Trip
from receiving.model.contents import SheetItem
from receiving.model.measures import both_lengths_words
from receiving.model.replacement import ReplacementLine
from receiving.wording.terms import term

SSCC_LENGTH = 18


def address_words(address: Address) -> Message:
    """A place in a section.

    >>> str(address_words(Address("W3", 1, 2)))
    'W3, column 1, row 2'
    """
    place = message("column {column}, row {row}", column=address.column, row=address.row)
    return message("{section}, {place}", section=address.section, place=place) if address.section else place


def cartons_words(cartons: Sequence[str], *, choice: bool = False) -> Message:
    """Cartons by their numbers.

    >>> str(cartons_words(["01"])), str(cartons_words(["01", "02"], choice=True))
    ('carton 01', 'cartons 01 or 02')
    """
    listed = listing(cartons, choice=choice)
    return plural(len(cartons), "carton {cartons}", "cartons {cartons}", cartons=listed)


def code_words(code: str, how: How | None = None) -> Message:
    """A code with the word for what it is; ``how`` is what it was found by, where that is known."""
    is_sscc = how is How.SSCC or (how is None and len(code) == SSCC_LENGTH and code.isdigit())
    return message("SSCC {code}", code=code) if is_sscc else message("barcode {code}", code=code)


def codes_words(codes: Sequence[str]) -> Listing:
    """Several codes, each with its word."""
    return listing(code_words(code) for code in codes)


_PARTS = {
    "base": message("base"),
    "pusher set": message("pusher set"),
    "price rail": message("price rail"),
    "graphic": message("graphic"),
}
"""The parts of the usual list, which comes with the package; those of a list of one's own stay as they were written."""

_PARTS_ONLY = {
    "base only": message("base only"),
    "pusher set only": message("pusher set only"),
    "price rail only": message("price rail only"),
    "graphic only": message("graphic only"),
}


def part_words(part: str) -> Text:
    """A part of an item by its name.

    >>> str(part_words("price rail")), str(part_words("hook"))
    ('price rail', 'hook')
    """
    return _PARTS.get(part, part)


def stock_words(stock: str, address: Address) -> Text:
    """What a position lacks, which may be a part of an item; that it is for this very position goes without saying.

    >>> str(stock_words("T-1 base", Address("Oak", 1, 2)))
    'T-1 base'
    >>> str(stock_words("graphic for Oak, column 1, row 2", Address("Oak", 1, 2)))
    'graphic'
    """
    name = stock.removesuffix(f" for {address}")
    part = next((part for part in _PARTS if name.endswith(f" {part}")), "")
    return joined(name.removesuffix(f" {part}"), part_words(part)) if part else part_words(name)


def item_words(item: SheetItem) -> Text:
    """What a bay sheet lists: how many of which item and description, or else of which kind of carton."""
    name = joined(item.item, item.description) if item.item or item.description else term(item.kind)
    return joined(f"{item.qty} ×", name) if item.qty and item.qty > 1 else name


def asked_words(line: ReplacementLine) -> Text:
    """What a line of a replacement request asks for: item and description, or else the kind of carton."""
    stated = _PARTS_ONLY.get(line.description, line.description)
    return joined(line.item, stated) if line.item or line.description else term(line.kind)


def trip_wave_words(trip: Trip) -> Text:
    """When a trip of a later wave is driven; empty for the first.

    >>> str(trip_wave_words(Trip(3, ("07",), 8.0, stops=("B1", "B2"), wave=2)))
    'Wave 2: bring it when the floor in front of B1 and B2 is clear.'
    """
    if trip.wave == 1:
        return ""
    if not trip.stops:
        return message("Wave {number}: bring it when the floor in front of its bay is clear.", number=trip.wave)
    bays = listing(trip.stops)
    return message("Wave {number}: bring it when the floor in front of {bays} is clear.", number=trip.wave, bays=bays)


def bay_wave_words(staging: BayStaging) -> Text:
    """When the cartons of a later wave are brought; empty for the first."""
    if staging.wave == 1:
        return ""
    return message("Wave {number}: when what stands in front of this bay is set and cleared.", number=staging.wave)


def aisle_words(staging: BayStaging) -> Text:
    """How much of the aisle stays free, or that nobody measured it."""
    aisle = staging.aisle
    if aisle is None:
        return message("The aisle is not measured: keep it free.")
    values = {
        "clear": both_lengths_words(aisle.clear_cm),
        "width": both_lengths_words(aisle.width_cm),
        "least": both_lengths_words(aisle.keep_clear_cm),
    }
    if aisle.assumed:
        return message("Aisle: {clear} of {width} stay free; at least {least} must, assumed.", **values)
    return message("Aisle: {clear} of {width} stay free; at least {least} must.", **values)
