"""ISO/IEC 15434 envelopes and ANSI MH10.8.2 data identifiers, as 2-D symbols of industrial shippers carry them.

Read are the formats 01 (transportation, as MaxiCode symbols of parcel carriers have it), 05 (GS1 application
identifiers), 06 (data identifiers) and 12 (text element identifiers); any other format is named in a fault and its text
is left to the raw read.
Sources: ISO/IEC 15434:2019, clauses 5 and 6; ANSI MH10.8.2 (identifier list maintained by AIM and ANSI MH 10/SC 8);
ANSI MH10.8.3 for the order of format 01: postal code, country, class of service, number, carrier and what it adds.
"""

import re
from dataclasses import dataclass

from receiving.messages import Message, Text, message
from receiving.model import Sscc
from receiving.reading.gs1 import Elements, cut_short, read_element_strings
from receiving.reading.symbology import EOT, GS, RS

HEADER = "[)>"

_DATA_IDENTIFIER = re.compile(r"(\d{0,3}[A-Z])(.+)", re.ASCII | re.DOTALL)
_TEXT_IDENTIFIER = re.compile(r"([A-Z0-9]{3}) (.+)", re.ASCII | re.DOTALL)
_NO_DATA_IDENTIFIER = message("{text} does not begin with a data identifier of ANSI MH10.8.2.")
_NO_TEXT_IDENTIFIER = message("{text} does not begin with a text element identifier.")
_PIECE = re.compile(r"(\d{1,9})\s*/\s*(\d{1,9})", re.ASCII)
_LICENCE_PLATE = re.compile(r"[1-6]?J(.+)", re.ASCII)
_SSCC_PLATE = re.compile(r"[1-6]?J(?:00)?(\d{18})", re.ASCII)


@dataclass(frozen=True)
class Envelope:
    """The fields of an envelope in order, as (identifier, value), and what is wrong, in sentences.

    ``gs1`` are the fields of format 05, whose identifiers are GS1 AIs.
    """

    fields: Elements = ()
    gs1: Elements = ()
    faults: tuple[Text, ...] = ()


def is_envelope(text: str) -> bool:
    """True where the text begins with the message header of ISO/IEC 15434."""
    return text.startswith(HEADER)


def read_envelope(text: str) -> Envelope:
    """All formats of an envelope; missing RS or EOT at its end, lost by many scanners, is not a fault."""
    body = text.removeprefix(HEADER).lstrip(RS).rstrip(EOT + RS)
    fields: list[tuple[str, str]] = []
    gs1: list[tuple[str, str]] = []
    faults: list[Text] = []
    for form in body.split(RS):
        found = _read_format(form)
        fields.extend(found.fields)
        gs1.extend(found.gs1)
        faults.extend(found.faults)
    return Envelope(tuple(fields), tuple(gs1), tuple(faults))


def piece_of(fields: Elements) -> tuple[int, int] | None:
    """Carton n of N from data identifier 13Q (``7/24``), or None.

    >>> piece_of((("13Q", "7/24"),))
    (7, 24)
    """
    for identifier, value in fields:
        found = _PIECE.fullmatch(value.strip()) if identifier == "13Q" else None
        if found and 1 <= int(found[1]) <= int(found[2]):
            return int(found[1]), int(found[2])
    return None


def licence_plate(fields: Elements) -> str:
    """The value of the first unique licence plate (J, 1J … 6J; ISO/IEC 15459-1), or an empty text."""
    return next((value for identifier, value in fields if _LICENCE_PLATE.fullmatch(identifier + value)), "")


_CARRIER_FIELDS = ("postal_code", "country", "service", "number", "carrier", "shipper")
_SHORT_PARCEL = re.compile(r"1Z[A-Z0-9]{8}", re.ASCII)


def carton_numbers(fields: Elements) -> tuple[str, ...]:
    """The numbers of a carton among these fields: license plate first, then package identifications (3S, 4S, 5S).

    Of a carrier's message it is the parcel number, whole and as it stands there.
    """
    plates = [value for identifier, value in fields if _LICENCE_PLATE.fullmatch(identifier + value)]
    packages = [value for identifier, value in fields if identifier in ("3S", "4S", "5S")]
    return tuple(dict.fromkeys((*plates, *packages, *_parcel_numbers(dict(fields)))))


def _parcel_numbers(fields: dict[str, str]) -> tuple[str, ...]:
    """The number of a carrier's message, before it with the shipper and service that the message shortens it by.

    Source: the carrier's guide to its MaxiCode, from memory: ``1Z``, the shipper's six characters, the last two of
    the class of service, and the eight that are left.
    """
    number, shipper, service = (fields.get(name, "") for name in ("number", "shipper", "service"))
    if not number:
        return ()
    if _SHORT_PARCEL.fullmatch(number) and len(shipper) == 6 and len(service) >= 2:
        return (f"{number[:2]}{shipper}{service[-2:]}{number[2:]}", number)
    return (number,)


def plate_sscc(plate: str) -> Sscc | None:
    """The SSCC that a licence plate carries, identifier included (``1J106141411234567897``), or None."""
    found = _SSCC_PLATE.fullmatch(plate)
    try:
        return Sscc(found[1]) if found else None
    except ValueError:
        return None


def _read_format(form: str) -> Envelope:
    number, content = form[:2], form[2:].removeprefix(GS)
    if number == "01":
        return _read_carrier(content)
    if number == "05":
        data = read_element_strings(content)
        return Envelope(data.elements, data.elements, data.faults)
    if number == "06":
        return _read_fields(content, _DATA_IDENTIFIER, _NO_DATA_IDENTIFIER)
    if number == "12":
        return _read_fields(content, _TEXT_IDENTIFIER, _NO_TEXT_IDENTIFIER)
    return Envelope(
        faults=(
            message(
                "Format {format} of ISO/IEC 15434 is not read: {text}.",
                format=repr(number),
                text=repr(cut_short(content)),
            ),
        )
    )


def _read_carrier(content: str) -> Envelope:
    """The fields of format 01 by their places; two digits of the version stand before the postal code."""
    first, *rest = content.split(GS)
    pairs = zip(_CARRIER_FIELDS, (first[2:], *rest), strict=False)
    return Envelope(tuple((name, value) for name, value in pairs if value))


def _read_fields(content: str, shape: re.Pattern[str], fault: Message) -> Envelope:
    found = [(text, shape.fullmatch(text)) for text in content.split(GS) if text]
    fields = tuple((match[1], match[2]) for _, match in found if match)
    return Envelope(
        fields, faults=tuple(fault.filled(text=repr(cut_short(text))) for text, match in found if not match)
    )
