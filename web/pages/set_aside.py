"""Stored rows that cannot be read, as a person reads of them."""

from receiving.service import SetAside

_ROW_WORDS = {
    "actions": "An action",
    "documents": "A document",
    "manifest_revisions": "A revision of the manifest",
    "notes": "A note",
    "photos": "A photo's record",
    "reads": "A read",
    "receipts": "A receipt",
}


def set_aside_words(row: SetAside) -> str:
    """One sentence on a row that counts for nothing, because it cannot be read.

    >>> set_aside_words(SetAside("notes", "S-1", "6f1c", "JSON is malformed"))
    'A note cannot be read and does not count (shipment S-1, 6f1c).'
    """
    if row.table == "shipments":
        return f"Shipment {row.shipment} cannot be read and is not shown."
    of_shipment = f"shipment {row.shipment}, " if row.shipment else ""
    return f"{_ROW_WORDS[row.table]} cannot be read and does not count ({of_shipment}{row.name[:12]})."
