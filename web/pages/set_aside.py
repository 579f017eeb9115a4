"""Stored rows that cannot be read, as a person reads of them."""

from receiving.messages import Message, message
from receiving.service import SetAside

_ROW_WORDS = {
    "actions": message("An action"),
    "documents": message("A document"),
    "manifest_revisions": message("A revision of the manifest"),
    "notes": message("A note"),
    "photos": message("A photo's record"),
    "reads": message("A read"),
    "receipts": message("A receipt"),
}


def set_aside_words(row: SetAside) -> Message:
    """One sentence on a row that counts for nothing, because it cannot be read.

    >>> str(set_aside_words(SetAside("notes", "S-1", "6f1c", "JSON is malformed")))
    'A note cannot be read and does not count (shipment S-1, 6f1c).'
    """
    if row.table == "shipments":
        return message("Shipment {shipment} cannot be read and is not shown.", shipment=row.shipment)
    what, name = _ROW_WORDS[row.table], row.name[:12]
    if row.shipment:
        return message(
            "{kind} cannot be read and does not count (shipment {shipment}, {name}).",
            kind=what,
            shipment=row.shipment,
            name=name,
        )
    return message("{kind} cannot be read and does not count ({name}).", kind=what, name=name)
