"""The codes of X12 856 that are used here. The lists are from memory of the standard's code sets."""

CANCEL = frozenset({"01", "03"})
"""Element 353, transaction set purpose: cancellation, delete."""
REPLACE = frozenset({"04", "05"})
"""Element 353: change, replace."""

PACKAGE_LEVELS = frozenset({"T", "P"})
"""Element 735: shipping tare, pack."""

SSCC_MARKS = frozenset({"GM", "AA", "AI"})
"""Element 88: SSCC with its application identifier (GM, AI) or without (AA)."""
PRINTED_MARKS = frozenset({"CA", "SM", "R", "W"})
"""Element 88: numbers that the shipper prints for people (case number, shipper-assigned, originator, pallet)."""

STORE_PARTIES = ("Z7", "BY", "ST", "MA", "OB")
"""Element 98, below the shipment: mark-for party, buying party, ship to, mark for, ordered by."""
SHIPMENT_STORE_PARTIES = ("Z7", "ST", "BY", "MA", "OB")
"""Element 98 at the shipment, where the buying party is often the head office."""

REFERENCES = {
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
"""Element 128 of REF01 at the shipment."""

DATES = {"011": "shipped", "017": "delivery expected", "067": "delivery expected", "002": "delivery requested"}
"""Element 374 of DTM01 at the shipment."""

IGNORED = frozenset(
    {
        *("N2", "N3", "N4", "PER", "FOB", "TD3", "TD4", "CUR", "PKG", "CLD", "SAC", "PAL", "SLN"),
        *("NTE", "V1", "V9", "R4", "ITA", "ETD", "LM", "LQ", "CTP", "PO1", "PO3", "SAC", "DMG", "TXI", "PYD"),
    }
)
"""Addresses, contacts, terms and packaging words: nothing of them is needed to receive cartons."""

ITEM_PREFERENCE = ("VN", "VP", "VA", "SK", "IN", "BP", "PN", "MG", "EN", "UK", "UP", "UA", "IB")
"""Element 235 of LIN: the vendor's number first, then the buyer's, then GTINs."""
