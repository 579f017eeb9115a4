"""The receiving advice as EPCIS 2.0 events in JSON-LD (GS1 EPCIS and CBV 2.0).

Business steps and dispositions are those of the Core Business Vocabulary: what arrived (``arriving``), which outer
boxes were opened (``unpacking``, an AggregationEvent with action DELETE), what was taken over (``receiving``), and what
was found wrong (``inspecting``: ``damaged``, ``mismatch_quantity``). Cartons are GS1 Digital Link URIs of their SSCC.
"""

import hashlib
import re
from collections import defaultdict
from collections.abc import Iterable, Iterator
from datetime import UTC, datetime, timedelta, tzinfo
from typing import Any
from urllib.parse import quote

from receiving.closing.advice import is_gln, is_gtin
from receiving.errors import BadRequest
from receiving.messages import message
from receiving.model import AdvisedCarton, AdvisedItem, AdvisedOver, AdvisedState, Place, ReceivingAdvice

CONTEXT = "https://ref.gs1.org/standards/epcis/2.0.0/epcis-context.jsonld"
CBV = "https://ref.gs1.org/cbv/"
GS1 = "https://id.gs1.org"
PREFIX = "receiving"
_VOCABULARY = {"bizStep": "BizStep-", "disposition": "Disp-"}
_MOST_OFFSET = timedelta(hours=14)
_SIGN = r"(?:[A-Za-z0-9._~!$&'()*+,;=:@-]|%[0-9A-Fa-f]{2})"
_ADDRESS = re.compile(rf"https?://(?:[A-Za-z0-9._~-]+|\[[0-9A-Fa-f:.]+\])(?::[0-9]{{1,5}})?(?:/{_SIGN}*)*")
"""A URI that paths and ``#terms`` can follow: host, port, path of RFC 3986, appendix A, without query and fragment."""

Event = dict[str, Any]


def check_names_base(base: str) -> None:
    """Raises BadRequest where ``base`` is not an http(s) URI that names can stand under."""
    if not _ADDRESS.fullmatch(base):
        raise BadRequest(
            message("{base} is not an address that names can be under.", base=repr(base)),
            next_step=message(
                "Give one that you own, such as https://receiving.example.com: plain letters and digits, "
                "without spaces, ? and #."
            ),
        )


def receiving_events(
    advice: ReceivingAdvice, *, base: str, zone: tzinfo = UTC, written_at: datetime | None = None
) -> dict[str, Any]:
    """An EPCIS document of all that this receipt confirms; ``base`` is the URI under which our own names stand.

    Times are UTC with the offset of the store's ``zone`` beside them. Raises BadRequest where ``base`` is not an
    http(s) URI that names can stand under: EPCIS takes nothing but URIs as names.
    """
    check_names_base(base)
    names = _Names(base.rstrip("/"), advice)
    events = [
        event
        for event in (
            *_arriving(advice, names, zone),
            *_unpacking(advice, names, zone),
            _receiving(advice, names, zone),
            *_inspecting(advice, names, zone),
        )
        if event
    ]
    return {
        "@context": [CONTEXT, {PREFIX: names.vocabulary}],
        "type": "EPCISDocument",
        "schemaVersion": "2.0",
        "creationDate": _time(written_at or advice.confirmed_at),
        "epcisBody": {"eventList": [{**event, "eventID": event_id(event, names.vocabulary)} for event in events]},
    }


class _Names:
    """URIs of cartons, items, places and documents: GS1's where there is a GS1 key, else under ``base``."""

    def __init__(self, base: str, advice: ReceivingAdvice) -> None:
        self.base, self.advice = base, advice
        self.vocabulary = f"{base}/terms#"

    def _own(self, *path: str) -> str:
        return "/".join((self.base, *(quote(part, safe="") for part in path)))

    def carton(self, carton: AdvisedCarton) -> str:
        if carton.sscc:
            return f"{GS1}/00/{carton.sscc}"
        return self._own("shipments", self.advice.shipment, "cartons", carton.carton)

    def over(self, over: AdvisedOver) -> str:
        # A bare run of digits would be hashed as a number, and 18 of them lose their last.
        return f"{GS1}/00/{over.sscc}" if over.sscc else self._own("codes", over.raw)

    def item(self, item: AdvisedItem) -> str:
        if is_gtin(item.item):
            return f"{GS1}/01/{item.item:0>14}"
        return self._own("items", item.item or item.description)

    @property
    def store(self) -> str:
        store = self.advice.store
        return f"{GS1}/414/{store}" if is_gln(store) else self._own("stores", store)

    def place(self, place: Place | None) -> str:
        return f"{self.store}/places/{place.value}" if place and not is_gln(self.advice.store) else self.store

    def documents(self, *, receipt: bool) -> list[dict[str, str]]:
        shipment = self.advice.shipment
        found = [{"type": "desadv", "bizTransaction": self._own("shipments", shipment)}]
        found += [
            {"type": "po", "bizTransaction": self._own("orders", value)}
            for name, value in self.advice.references
            if name == "order"
        ]
        if receipt:
            number = str(self.advice.number)
            found.append({"type": "recadv", "bizTransaction": self._own("shipments", shipment, "receipts", number)})
        return found


def _event(kind: str, action: str, at: datetime, zone: tzinfo, step: str, disposition: str) -> Event:
    return {
        "type": kind,
        "eventTime": _time(at),
        "eventTimeZoneOffset": _offset(at, zone),
        "action": action,
        "bizStep": step,
        "disposition": disposition,
    }


def _arriving(advice: ReceivingAdvice, names: _Names, zone: tzinfo) -> Iterator[Event]:
    """What was seen, by place, as of the first read there."""
    by_place: dict[Place | None, list[AdvisedCarton]] = defaultdict(list)
    for carton in advice.cartons:
        if carton.here and carton.seen_at:
            by_place[carton.place].append(carton)
    for place, cartons in by_place.items():
        first = min(carton.seen_at for carton in cartons if carton.seen_at)
        yield {
            **_event("ObjectEvent", "OBSERVE", first, zone, "arriving", "in_progress"),
            "epcList": [names.carton(carton) for carton in cartons],
            "readPoint": {"id": names.place(place)},
            "bizTransactionList": names.documents(receipt=False),
        }


def _unpacking(advice: ReceivingAdvice, names: _Names, zone: tzinfo) -> Iterator[Event]:
    """Each outer box of which a carton was seen on its own: it was opened, and those are out of it."""
    boxes = {carton.carton: carton for carton in advice.cartons}
    out: dict[str, list[AdvisedCarton]] = defaultdict(list)
    for carton in advice.cartons:
        if carton.outer in boxes and carton.here and carton.seen_at:
            out[carton.outer].append(carton)
    for outer, cartons in out.items():
        first = min(carton.seen_at for carton in cartons if carton.seen_at)
        yield {
            **_event("AggregationEvent", "DELETE", first, zone, "unpacking", "in_progress"),
            "parentID": names.carton(boxes[outer]),
            "childEPCs": [names.carton(carton) for carton in cartons],
            "readPoint": {"id": names.store},
        }


def _receiving(advice: ReceivingAdvice, names: _Names, zone: tzinfo) -> Event | None:
    here = [names.carton(carton) for carton in advice.cartons if carton.here]
    over = [names.over(each) for each in advice.over if each.sscc]
    if not here and not over:
        return None
    return {
        **_event("ObjectEvent", "OBSERVE", advice.confirmed_at, zone, "receiving", "in_progress"),
        "epcList": [*here, *over],
        "readPoint": {"id": names.store},
        "bizLocation": {"id": names.store},
        "bizTransactionList": names.documents(receipt=True),
    }


def _inspecting(advice: ReceivingAdvice, names: _Names, zone: tzinfo) -> Iterator[Event]:
    """What is damaged, and where the count differs from what was advised, missing cartons named as such."""
    here = [carton for carton in advice.cartons if carton.here]
    spoilt = [names.carton(carton) for carton in here if carton.state is AdvisedState.DAMAGED]
    pieces = _pieces(names, [(item, item.damaged) for carton in here for item in carton.items if item.damaged])
    if spoilt or pieces:
        yield _found(advice, names, zone, "damaged", spoilt, pieces)
    missing = [names.carton(carton) for carton in advice.cartons if not carton.here]
    over = [names.over(each) for each in advice.over]
    counted = [(item, item.received) for carton in here for item in carton.items if item.short or item.over]
    if missing or over or counted:
        event = _found(advice, names, zone, "mismatch_quantity", [], _pieces(names, counted))
        event |= {f"{PREFIX}:{name}": uris for name, uris in (("missing", missing), ("over", over)) if uris}
        yield event


def _found(
    advice: ReceivingAdvice, names: _Names, zone: tzinfo, disposition: str, epcs: list[str], pieces: list[Event]
) -> Event:
    event = _event("ObjectEvent", "OBSERVE", advice.confirmed_at, zone, "inspecting", disposition)
    event |= {"epcList": epcs} | ({"quantityList": pieces} if pieces else {})
    return {**event, "readPoint": {"id": names.store}, "bizTransactionList": names.documents(receipt=True)}


def _pieces(names: _Names, quantities: Iterable[tuple[AdvisedItem, int]]) -> list[Event]:
    """Quantities by class of item; the same item in several cartons is one class."""
    total: dict[str, int] = defaultdict(int)
    for item, quantity in quantities:
        total[names.item(item)] += quantity
    return [{"epcClass": item, "quantity": quantity} for item, quantity in total.items()]


def _time(at: datetime) -> str:
    return at.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def _offset(at: datetime, zone: tzinfo) -> str:
    """The zone's offset from UTC then, as EPCIS writes it, e.g. ``-06:00``."""
    offset = at.astimezone(zone).utcoffset() or timedelta()
    if abs(offset) > _MOST_OFFSET:
        offset = timedelta()
    minutes = round(abs(offset).total_seconds() / 60)
    return f"{'-' if offset < timedelta() else '+'}{minutes // 60:02d}:{minutes % 60:02d}"


def event_id(event: Event, vocabulary: str) -> str:
    """The event's hash id (CBV 2.0, section 8.9.2): a `ni` URI (RFC 6920) that follows from its content alone.

    Covers the fields that `receiving_events` writes; ``vocabulary`` is the namespace of the extensions.
    """
    return f"ni:///sha-256;{hashlib.sha256(_pre_hash(event, vocabulary).encode()).hexdigest()}?ver=CBV2.0"


def _pre_hash(event: Event, vocabulary: str) -> str:
    """The event's values in the canonical property order of CBV 2.0; lists are sorted, so their order is not content.

    A document's type stands before it, as in the published vectors of CBV 2.0.
    """
    parts = [f"eventType={event['type']}"]
    parts += [f"{name}={event[name]}" for name in ("eventTime", "eventTimeZoneOffset")]
    parts += [f"parentID={event['parentID']}"] if event.get("parentID") else []
    for name in ("epcList", "childEPCs"):
        parts += _listed(name, [f"epc={epc}" for epc in event.get(name, ())])
    elements = [
        f"quantityElementepcClass={e['epcClass']}quantity={e['quantity']}" for e in event.get("quantityList", ())
    ]
    parts += _listed("quantityList", elements)
    parts.append(f"action={event['action']}")
    parts += [f"{name}={CBV}{prefix}{event[name]}" for name, prefix in _VOCABULARY.items() if name in event]
    parts += [f"{name}id={event[name]['id']}" for name in ("readPoint", "bizLocation") if name in event]
    documents = event.get("bizTransactionList", ())
    parts += _listed(
        "bizTransactionList", [f"type={CBV}BTT-{d['type']}bizTransaction={d['bizTransaction']}" for d in documents]
    )
    own = [(name, uris) for name, uris in event.items() if name.startswith(f"{PREFIX}:")]
    parts += sorted(f"{{{vocabulary}}}{name.partition(':')[2]}={uri}" for name, uris in own for uri in uris)
    return "".join(parts)


def _listed(name: str, elements: list[str]) -> list[str]:
    return [name, *sorted(elements)] if elements else []
