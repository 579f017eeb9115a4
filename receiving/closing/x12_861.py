"""The receiving advice as X12 861, version 005010, one functional group with one transaction set.

Order, requirement and number of segments are held against an open definition of the transaction set by the tests
(freight-trust/libedi), and so are the places in RCD (GotWoods/EDDY). Codes of elements 66, 88, 128, 235, 353, 355, 374,
412 (receiving conditions) and 962 (kind of advice) are held against published lists (tests/checks/edi_code_lists.json).
"""

from collections.abc import Iterator
from datetime import UTC, datetime

from receiving.closing.advice import Limits, Parties, checked_text, is_gln, is_gtin
from receiving.messages import Text, message
from receiving.model import AdvisedCarton, AdvisedItem, AdvisedOver, AdvisedState, ReceivingAdvice

LIMITS = Limits(message("an X12 861 message"), "*~>^", "ascii")
DAMAGED, SHORT, OVER = "01", "02", "03"
CARTON = "CT"
ORIGINAL, REPLACE, DOCK_ADVICE = "00", "05", "1"
"""Elements 353, the second for a receipt that takes the place of an earlier one of its shipment, and 962."""
UNITS = {"": "EA", "ea": "EA", "each": "EA", "pc": "PC", "pcs": "PC", "piece": "PC", "set": "ST", "kit": "KT"}
"""Element 355 by the manifest's unit; an unknown unit is a carton's own count, each."""
GTIN_QUALIFIERS = {8: "EO", 12: "UP", 13: "EN", 14: "UK"}
"""Element 235 by the number of digits, as kputnam/stupidedi names them; any other item number is the vendor's, VN."""
REFERENCES = {"order": "PO", "bill of lading": "BM", "carrier reference": "CN", "packing list": "PK"}
"""Element 128 by the reference's name."""
_CARTON_NUMBER = message("carton number")
_EXTRA_CODE = message("code of an extra carton")
_INTERCHANGE_ADDRESS = message("interchange address")
_ITEM_NUMBER = message("item number")
_RECEIPT_NUMBER = message("receipt number")
_SHIPMENT_NUMBER = message("shipment number")
_STORE_NUMBER = message("store number")


def receiving_advice_x12(
    advice: ReceivingAdvice, parties: Parties, *, control: int, written_at: datetime, usage: str = "P"
) -> str:
    """The advice as an X12 interchange; ``control`` (1 to 999,999,999) numbers it, ``usage`` is P or T (test).

    Raises BadRequest for a value that the message cannot carry unchanged.
    """
    body = [
        [
            "BRA",
            _text(advice.document, _RECEIPT_NUMBER, 50),
            _day(advice.confirmed_at),
            REPLACE if advice.replaces else ORIGINAL,
            DOCK_ADVICE,
            _time(advice),
        ],
        ["REF", "SI", _text(advice.shipment, _SHIPMENT_NUMBER, 50)],
        *([["REF", REFERENCES[name], _text(value, name, 50)] for name, value in _known(advice)]),
        ["DTM", "050", _day(advice.confirmed_at), _time(advice)],
        ["N1", "ST", "", *_store(advice.store)],
        *_lines(advice),
    ]
    lines = sum(segment[0] == "RCD" for segment in body)
    inside = [["ST", "861", "0001"], *body, ["CTT", str(lines)]]
    inside.append(["SE", str(len(inside) + 1), "0001"])
    segments = [_isa(parties, control, written_at, usage), _gs(parties, control, written_at), *inside]
    segments += [["GE", "1", str(control)], ["IEA", "1", f"{control:09d}"]]
    return "".join("*".join(_trimmed(segment)) + "~\n" for segment in segments)


def _trimmed(segment: list[str]) -> list[str]:
    """The segment without empty elements at its end."""
    end = len(segment)
    while end and not segment[end - 1]:
        end -= 1
    return segment if segment[0] == "ISA" else segment[:end]


def _isa(parties: Parties, control: int, at: datetime, usage: str) -> list[str]:
    sender, receiver = (_text(party, _INTERCHANGE_ADDRESS, 15) for party in (parties.sender, parties.receiver))
    utc = at.astimezone(UTC)
    return [
        *("ISA", "00", " " * 10, "00", " " * 10, "ZZ", f"{sender:<15}", "ZZ", f"{receiver:<15}"),
        *(f"{utc:%y%m%d}", f"{utc:%H%M}", "^", "00501", f"{control:09d}", "0", usage, ">"),
    ]


def _gs(parties: Parties, control: int, at: datetime) -> list[str]:
    utc = at.astimezone(UTC)
    return ["GS", "RC", parties.sender, parties.receiver, f"{utc:%Y%m%d}", f"{utc:%H%M}", str(control), "X", "005010"]


def _text(value: str, what: Text, most: int) -> str:
    return checked_text(value, what, most, LIMITS)


def _day(at: datetime) -> str:
    return f"{at.astimezone(UTC):%Y%m%d}"


def _time(advice: ReceivingAdvice) -> str:
    return f"{advice.confirmed_at.astimezone(UTC):%H%M}"


def _known(advice: ReceivingAdvice) -> list[tuple[str, str]]:
    return [pair for pair in advice.references if pair[0] in REFERENCES]


def _store(store: str) -> tuple[str, str]:
    # Element 66: UL is a GLN, 92 a number that the buyer gave.
    return ("UL" if is_gln(store) else "92", _text(store, _STORE_NUMBER, 80))


def _lines(advice: ReceivingAdvice) -> Iterator[list[str]]:
    number = 0
    for carton in advice.cartons:
        for item in carton.items or (None,):
            number += 1
            yield _item_line(number, carton, item) if item else _carton_line(number, carton)
            if item and item.item:
                yield ["LIN", "", _item_qualifier(item.item), _text(item.item, _ITEM_NUMBER, 48)]
            yield _mark(carton)
    for over in advice.over:
        number += 1
        yield ["RCD", str(number), "1", CARTON, "", "", "1", CARTON, OVER]
        yield _over_mark(over)


def _item_line(number: int, carton: AdvisedCarton, item: AdvisedItem) -> list[str]:
    unit = UNITS.get(item.unit.casefold(), "EA")
    damaged = item.received if carton.state is AdvisedState.DAMAGED else item.damaged
    questions = [(damaged, DAMAGED), (item.short, SHORT), (item.over, OVER)]
    return _rcd(number, item.received, unit, questions)


def _carton_line(number: int, carton: AdvisedCarton) -> list[str]:
    damaged = int(carton.state is AdvisedState.DAMAGED)
    return _rcd(number, int(carton.here), CARTON, [(damaged, DAMAGED), (int(not carton.here), SHORT)])


def _rcd(number: int, received: int, unit: str, questions: list[tuple[int, str]]) -> list[str]:
    contested = [cell for qty, condition in questions if qty for cell in (str(qty), unit, condition)]
    return ["RCD", str(number), str(received), unit, "", "", *contested]


def _item_qualifier(item: str) -> str:
    return GTIN_QUALIFIERS[len(item)] if is_gtin(item) else "VN"


def _mark(carton: AdvisedCarton) -> list[str]:
    # Element 88: GM is an SSCC with its application identifier, CA a number that the shipper put on the case.
    if carton.sscc:
        return ["MAN", "GM", f"00{carton.sscc}", "", "CA", _text(carton.carton, _CARTON_NUMBER, 48)]
    return ["MAN", "CA", _text(carton.number, _CARTON_NUMBER, 48)]


def _over_mark(over: AdvisedOver) -> list[str]:
    return ["MAN", "GM", f"00{over.sscc}"] if over.sscc else ["MAN", "CA", _text(over.raw, _EXTRA_CODE, 48)]
