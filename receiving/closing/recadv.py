"""The receiving advice as UN/EDIFACT RECADV D.01B, in the EANCOM 2002 S3 subset (GS1).

Quantity qualifiers (6063) and discrepancies (4221) as the EANCOM segment notes of RECADV give them: 12 despatch
quantity, 194 received and accepted, 124 damaged goods; AE delivered but not advised, AF goods delivered damaged,
CP shipment partial, considered complete. Other codes are from memory of the UN/EDIFACT code lists.
"""

from collections.abc import Iterator
from datetime import UTC, datetime

from receiving.closing.advice import Limits, Parties, checked_text, is_gln, is_gtin
from receiving.messages import Text, message
from receiving.model import AdvisedCarton, AdvisedItem, AdvisedState, ReceivingAdvice

LIMITS = Limits(message("an EDIFACT RECADV message"), "", "latin-1")
REFERENCES = {"order": "ON", "bill of lading": "BM", "despatch advice": "AAK", "delivery note": "DQ"}
"""Data element 1153 by the reference's name."""
ORIGINAL, REPLACE, PREVIOUS = "9", "5", "ACW"
"""Data elements 1225, the second for a receipt that takes the place of an earlier one of its shipment, and 1153."""
_RELEASE = str.maketrans({sign: f"?{sign}" for sign in "?+:'"})
_CARTON_NUMBER = message("carton number")
_INTERCHANGE_ADDRESS = message("interchange address")
_ITEM_NUMBER = message("item number")
_PARTY_NUMBER = message("party number")
_RECEIPT_NUMBER = message("receipt number")
_SHIPMENT_NUMBER = message("shipment number")


def receiving_advice_edifact(
    advice: ReceivingAdvice, parties: Parties, *, control: int, written_at: datetime, test: bool = False
) -> str:
    """The advice as an EDIFACT interchange in ISO 8859-1 (UNOC); ``control`` (1 to 99,999,999,999,999) numbers it.

    Raises BadRequest for a value that the message cannot carry unchanged.
    """
    body = [
        f"BGM+632+{_text(advice.document, _RECEIPT_NUMBER, 35)}+{REPLACE if advice.replaces else ORIGINAL}",
        f"DTM+137:{_stamp(written_at)}:203",
        f"DTM+50:{_stamp(advice.confirmed_at)}:203",
        "RFF+AAK:" + _text(advice.shipment, _SHIPMENT_NUMBER, 70),
        *((f"RFF+{PREVIOUS}:" + _text(advice.replaces, _RECEIPT_NUMBER, 70),) if advice.replaces else ()),
        *(f"RFF+{REFERENCES[n]}:" + _text(value, n, 70) for n, value in advice.references if n in REFERENCES),
        _party("BY", parties.sender),
        _party("SU", parties.receiver),
        _party("DP", advice.store),
        "CPS+1",
        *_packages(advice),
    ]
    lines = sum(segment.startswith("LIN+") for segment in body)
    inside = ["UNH+1+RECADV:D:01B:UN:EAN006", *body, f"CNT+2:{lines}"]
    inside.append(f"UNT+{len(inside) + 1}+1")
    sender, receiver = (_text(party, _INTERCHANGE_ADDRESS, 35) for party in (parties.sender, parties.receiver))
    at = written_at.astimezone(UTC)
    header = f"UNB+UNOC:3+{_address(sender)}+{_address(receiver)}+{at:%y%m%d}:{at:%H%M}+{control}"
    # Data element 0035, the test indicator, is the eleventh of UNB.
    header += "++++++1" if test else ""
    return "".join(f"{segment}'\n" for segment in ("UNA:+.? ", header, *inside, f"UNZ+1+{control}")).replace(
        "UNA:+.? '\n", "UNA:+.? '", 1
    )


def _text(value: str, what: Text, most: int) -> str:
    return checked_text(value, what, most, LIMITS).translate(_RELEASE)


def _address(party: str) -> str:
    return f"{party}:14" if is_gln(party) else party


def _stamp(at: datetime) -> str:
    return f"{at.astimezone(UTC):%Y%m%d%H%M}"


def _party(role: str, number: str) -> str:
    # Data element 3055: 9 is GS1, 92 assigned by the buyer.
    return f"NAD+{role}+{_text(number, _PARTY_NUMBER, 35)}::{9 if is_gln(number) else 92}"


def _packages(advice: ReceivingAdvice) -> Iterator[str]:
    line = 0
    levels = {carton.carton: place for place, carton in enumerate(advice.cartons, 2)}
    for carton in advice.cartons:
        # CPS: this level, and the level that it travelled in, where that is a carton of the same advice.
        yield f"CPS+{levels[carton.carton]}+{levels.get(carton.outer, 1)}"
        yield from _package(carton)
        for item in carton.items:
            line += 1
            yield from _item(line, item, carton)
    for place, over in enumerate(advice.over, len(advice.cartons) + 2):
        yield f"CPS+{place}+1"
        yield "PAC+1++CT"
        yield "QVR+1:194+AE"
        yield from _marks(str(over.sscc) if over.sscc else "", over.raw)


def _package(carton: AdvisedCarton) -> Iterator[str]:
    yield "PAC+1++CT"
    if carton.state is AdvisedState.DAMAGED:
        yield "QVR+-1:124+AF"
    elif not carton.here:
        yield "QVR+-1:12+CP"
    yield from _marks(str(carton.sscc or ""), carton.number)


def _marks(sscc: str, number: str) -> Iterator[str]:
    # PCI 33E: marked with a serial shipping container code; 24: the shipper's own marks.
    if sscc:
        yield "PCI+33E"
        yield f"GIN+BJ+{sscc}"
    else:
        yield f"PCI+24+{_text(number, _CARTON_NUMBER, 35)}"


def _item(line: int, item: AdvisedItem, carton: AdvisedCarton) -> Iterator[str]:
    if is_gtin(item.item):
        yield f"LIN+{line}++{item.item}:SRV"
    else:
        yield f"LIN+{line}"
        if item.item:
            yield f"PIA+1+{_text(item.item, _ITEM_NUMBER, 35)}:SA"
    damaged = item.received if carton.state is AdvisedState.DAMAGED else item.damaged
    yield f"QTY+12:{item.despatched}"
    yield f"QTY+194:{item.received - damaged}"
    if damaged:
        yield f"QVR+-{damaged}:124+AF"
    if item.short:
        yield f"QVR+-{item.short}:12+CP"
    if item.over:
        yield f"QVR+{item.over}:12+AC"
