"""The contents of cartons, kits and lanes as messages: lists hold facts, so that each reader has their words."""

from collections.abc import Mapping
from typing import Any

from receiving import dispatch
from receiving.messages import Message, Text, joined, message, plural
from receiving.model import Address, CartonKind
from receiving.wording import address_words, term


def name_words(name: str) -> Text:
    """What a list calls a carton's contents, a kit or a lane; a name that a manifest gave is said as it is.

    >>> str(name_words('{"kind":"tray","lines":[["TRAY-1",2,"Oak",3,1]]}'))
    'tray: 2 × TRAY-1 for Oak, column 3, row 1'
    """
    facts: Mapping[str, Any] = dispatch.facts_of(name)
    if "kind" in facts:
        return _contents(facts)
    if "mark" in facts:
        return _kit(facts)
    return _lane(facts) if "region" in facts else name


def _contents(facts: Mapping[str, Any]) -> Text:
    kind = term(CartonKind(facts["kind"]))
    lines = joined(*(_line(*line) for line in facts["lines"]), separator="; ")
    return message("{kind}: {lines}", kind=kind, lines=lines) if facts["lines"] else kind


def _line(item: str, qty: int, section: str, column: int, row: int) -> Message:
    place: Text = section or message("any place")
    if column:
        place = address_words(Address(section, column, row))
    return message("{qty} × {item} for {place}", qty=qty, item=item, place=place)


def _kit(facts: Mapping[str, Any]) -> Message:
    return plural(
        facts["cartons"],
        "{sections}, {number} carton ({mark})",
        "{sections}, {number} cartons ({mark})",
        sections=joined(*facts["sections"], separator=", ") if facts["sections"] else message("no section"),
        mark=facts["mark"],
    )


def _lane(facts: Mapping[str, Any]) -> Message:
    shipper: Text = facts["shipper"] or message("shipper not named")
    region: Text = facts["region"] or message("region not known")
    if facts["carrier"]:
        return message("{shipper} to {region} by {carrier}", shipper=shipper, region=region, carrier=facts["carrier"])
    return message("{shipper} to {region}", shipper=shipper, region=region)
