"""The codes of DESADV that are used here. The lists are from memory of the UN/EDIFACT code lists."""

CANCEL = frozenset({"1", "3"})
"""Data element 1225, message function: cancellation, deletion."""
REPLACE = frozenset({"4", "5"})
"""Data element 1225: change, replace."""

SSCC_NUMBERS = frozenset({"BJ", "AW"})
"""Data element 7405 of GIN: serial shipping container code."""
OTHER_NUMBERS = frozenset({"ML", "BN", "SRV", "EU", "VV", "BX"})
"""Data element 7405: numbers of goods inside, which name no carton."""

STORE_PARTIES = ("UC", "DP", "ST", "CN", "BY")
"""Data element 3035: ultimate consignee, delivery party, ship to, consignee, buyer; the nearest to the shelf first."""

PLACE_OF_DELIVERY = frozenset({"7", "8"})
"""Data element 3227 of LOC: place of delivery, place of destination."""

REFERENCES = {
    "ON": "order",
    "VN": "vendor order",
    "BM": "bill of lading",
    "AAS": "transport document",
    "CN": "carrier reference",
    "PK": "packing list",
    "DQ": "delivery note",
    "AAK": "despatch advice",
    "SRN": "shipment reference",
    "AAJ": "delivery order",
    "CT": "contract",
    "UCN": "consignment",
}
"""Data element 1153 of RFF."""

DATES = {"11": "shipped", "17": "delivery expected", "358": "delivery expected", "2": "delivery requested"}
"""Data element 2005 of DTM."""

GROSS_WEIGHT = frozenset({"AAB", "AAD", "G", "WT", "ABZ"})
"""Data element 6313 of MEA: gross weights of a package."""

ITEM_PREFERENCE = ("SA", "VP", "IN", "BP", "MF", "SRV", "EN", "UP", "IB")
"""Data element 7143: the supplier's number first, then the buyer's, then GTINs."""

IGNORED = frozenset(
    {
        *("ALI", "CTA", "COM", "TOD", "EQD", "SEL", "EQA", "HAN", "FTX", "DGS", "QRS", "PAI", "SGP", "MOA", "GIR"),
        *("CUX", "PRI", "TSR", "RNG", "UNS"),
    }
)
"""Contacts, terms, equipment and dangerous-goods words: nothing of them is needed to receive cartons."""
