"""The replacement request: one for the store, numbered, revised rather than duplicated; as CSV and JSON."""

import json
from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import date, datetime
from itertools import count
from typing import Any

from receiving.errors import BadRequest
from receiving.messages import Text, message
from receiving.model import Address, Carton, CartonKind, ContentLine, Manifest
from receiving.model.replacement import (
    Delivery,
    LeftOut,
    LeftOutReason,
    ReplacementLine,
    ReplacementRequest,
    RequestReason,
)
from receiving.sheets import csv_text
from receiving.wording import address_words, asked_words, term

COLUMNS = (
    "request",
    "revision",
    "store",
    "line",
    "shipment",
    "section",
    "column",
    "row",
    "kind",
    "item",
    "description",
    "qty",
    "reason",
    "carton",
    "remark",
    "deliver_to",
    "contact",
    "phone",
    "needed_by",
)


def replacement_request(
    store: str,
    lines: Iterable[ReplacementLine],
    delivery: Delivery,
    *,
    number: int,
    requested_at: datetime,
    requested_by: str,
    previous: ReplacementRequest | None = None,
    left_out: Iterable[LeftOut] = (),
) -> ReplacementRequest:
    """The request for these lines, which may come from several shipments of the store.

    With ``previous``, its number is kept: the same content gives ``previous`` itself, other content its next
    revision, in which a line that stays keeps its number. ``left_out`` is kept with the reasons. Raises `BadRequest`
    where there is nothing to send or no one to send it to.
    """
    asked = tuple(sorted(set(lines), key=_line_order))
    if not asked and previous is None:
        raise BadRequest(
            message("Store {store} lacks nothing, so there is no request to make.", store=store),
            next_step=message("Note what is missing or damaged first."),
        )
    if not delivery.deliver_to.strip():
        raise BadRequest(
            message("The request does not say where to deliver to."),
            next_step=message("Fill in where to deliver to and send it again."),
        )
    if not delivery.contact.strip():
        raise BadRequest(
            message("The request has no contact."), next_step=message("Fill in the contact and send it again.")
        )
    if previous is None:
        return ReplacementRequest(number, 1, store, requested_at, requested_by, delivery, asked, tuple(left_out))
    if previous.store != store:
        raise BadRequest(
            message(
                "Request {reference} is for store {store}, not {other}.",
                reference=previous.reference,
                store=previous.store,
                other=store,
            ),
            next_step=message("Make a request of its own for each store."),
        )
    if (previous.lines, previous.delivery) == (asked, delivery):
        return previous
    numbers = _numbers(asked, previous)
    return ReplacementRequest(
        previous.number,
        previous.revision + 1,
        store,
        requested_at,
        requested_by,
        delivery,
        asked,
        tuple(left_out) or previous.left_out,
        numbers,
        max(previous.last_number, *numbers, 0),
    )


def _numbers(lines: Sequence[ReplacementLine], previous: ReplacementRequest) -> tuple[int, ...]:
    """The number of each line: that of the previous revision where it asked for the same, else a new one.

    Labels and reads of what is on its way go by these numbers, so none is ever given to something else.
    """
    known: dict[ReplacementLine, list[int]] = {}
    for number, line in zip(previous.numbers, previous.lines, strict=True):
        known.setdefault(_what(line), []).append(number)
    fresh = count(previous.last_number + 1)
    return tuple(known[what].pop(0) if known.get(what := _what(line)) else next(fresh) for line in lines)


def request_changes(old: ReplacementRequest, new: ReplacementRequest) -> tuple[Text, ...]:
    """What the newer revision asks for otherwise, one sentence for each line, in the order of the request."""
    before = {_what(line): line for line in old.lines}
    after = {_what(line): line for line in new.lines}
    changes: list[Text] = [
        message("No longer asked for: {line}", line=_line_words(before[key])) for key in before if key not in after
    ]
    for key, line in after.items():
        if key not in before:
            changes.append(message("New: {line}", line=_line_words(line)))
        elif before[key].qty != line.qty:
            changes.append(message("{line}, before {number}", line=_line_words(line), number=before[key].qty))
    if old.delivery != new.delivery:
        changes.append(message("Delivery or contact changed"))
    return tuple(changes)


def replacement_manifest(request: ReplacementRequest) -> Manifest:
    """What the request should bring, as a manifest to reconcile like any other: one carton for each line.

    It names no visit: it serves those of the shipments that it replaces, and they may be moved.
    """
    cartons = tuple(
        Carton(
            carton,
            line.kind,
            contents=(ContentLine(line.section, line.address, line.item, line.description, line.qty),),
        )
        for carton, line in request.cartons
    )
    return Manifest(request.reference, request.store, cartons)


def replacement_csv(request: ReplacementRequest) -> str:
    """The request as CSV: one row for each line, with the delivery on every row."""
    return csv_text(
        COLUMNS, (_row(request, *numbered) for numbered in zip(request.numbers, request.lines, strict=True))
    )


def _row(request: ReplacementRequest, number: int, line: ReplacementLine) -> tuple[object, ...]:
    delivery = request.delivery
    cell = (line.address.column, line.address.row) if line.address is not None else ("", "")
    what = (line.kind, line.item, line.description, line.qty, line.reason, line.carton, line.remark)
    where = (delivery.deliver_to, delivery.contact, delivery.phone, delivery.needed_by or "")
    return (
        request.reference,
        request.revision,
        request.store,
        number,
        line.shipment,
        line.section,
        *cell,
        *what,
        *where,
    )


def replacement_json(request: ReplacementRequest) -> str:
    """The request as JSON, from which `replacement_from_json` makes the same value again."""
    delivery = request.delivery
    content = {
        "request": request.reference,
        "number": request.number,
        "revision": request.revision,
        "store": request.store,
        "requested_at": request.requested_at.isoformat(),
        "requested_by": request.requested_by,
        "replaces_requests": request.separate,
        "delivery": {
            "deliver_to": delivery.deliver_to,
            "contact": delivery.contact,
            "phone": delivery.phone,
            "needed_by": delivery.needed_by.isoformat() if delivery.needed_by else None,
            "remarks": delivery.remarks,
        },
        "lines": [
            {"number": number, **_line_json(line)} for number, line in zip(request.numbers, request.lines, strict=True)
        ],
        "last_number": request.last_number,
        "left_out": [_left_out_json(each) for each in request.left_out],
    }
    return json.dumps(content, ensure_ascii=False, indent=2)


def replacement_from_json(text: str) -> ReplacementRequest:
    """The request that `replacement_json` wrote; raises `BadRequest` that says what is wrong with the text."""
    try:
        content = json.loads(text)
        delivery = dict(content["delivery"])
        day = delivery.pop("needed_by")
        return ReplacementRequest(
            int(content["number"]),
            int(content["revision"]),
            str(content["store"]),
            datetime.fromisoformat(content["requested_at"]),
            str(content["requested_by"]),
            Delivery(
                **{name: str(stated) for name, stated in delivery.items()},
                needed_by=date.fromisoformat(day) if day else None,
            ),
            tuple(map(_line_from_json, content["lines"])),
            tuple(map(_left_out_from_json, content.get("left_out", ()))),
            tuple(int(line.get("number", n)) for n, line in enumerate(content["lines"], start=1)),
            int(content.get("last_number", 0)),
        )
    except (ValueError, KeyError, TypeError, AttributeError, OverflowError, RecursionError) as fault:
        raise BadRequest(
            message("This is not a replacement request: {kind} {fault}.", kind=type(fault).__name__, fault=str(fault)),
            next_step=message("Take the JSON exactly as it was exported."),
        ) from fault


def _line_json(line: ReplacementLine) -> dict[str, Any]:
    address = line.address
    return {
        "shipment": line.shipment,
        "section": line.section,
        "column": address.column if address is not None else None,
        "row": address.row if address is not None else None,
        "kind": line.kind.value,
        "item": line.item,
        "description": line.description,
        "qty": line.qty,
        "reason": line.reason.value,
        "carton": line.carton,
        "remark": line.remark,
    }


def _line_from_json(row: dict[str, Any]) -> ReplacementLine:
    column, line_row = row["column"], row["row"]
    return ReplacementLine(
        str(row["shipment"]),
        str(row["section"]),
        Address(str(row["section"]), int(column), int(line_row)) if column is not None else None,
        CartonKind(row["kind"]),
        str(row["item"]),
        str(row["description"]),
        int(row["qty"]),
        RequestReason(row["reason"]),
        str(row["carton"]),
        str(row["remark"]),
    )


def _left_out_json(left: LeftOut) -> dict[str, Any]:
    due = left.due.isoformat() if left.due else None
    return {"reason": left.reason.value, "detail": left.detail, "due": due, "line": _line_json(left.line)}


def _left_out_from_json(row: dict[str, Any]) -> LeftOut:
    due = date.fromisoformat(row["due"]) if row["due"] else None
    return LeftOut(_line_from_json(row["line"]), LeftOutReason(row["reason"]), str(row["detail"]), due)


def _line_order(line: ReplacementLine) -> tuple[object, ...]:
    cell = (line.address.column, line.address.row) if line.address is not None else (0, 0)
    return (
        line.shipment,
        line.section,
        *cell,
        line.item,
        line.description,
        line.reason,
        line.carton,
        line.remark,
        line.qty,
    )


def _what(line: ReplacementLine) -> ReplacementLine:
    """What is asked for and why, whatever its quantity and remark."""
    return replace(line, qty=1, remark="")


def _line_words(line: ReplacementLine) -> Text:
    values = {"qty": line.qty, "item": asked_words(line), "reason": term(line.reason)}
    place = address_words(line.address) if line.address is not None else line.section
    if place:
        return message("{qty} × {item} for {place} ({reason})", place=place, **values)
    return message("{qty} × {item} ({reason})", **values)


def by_section(lines: Sequence[ReplacementLine]) -> tuple[tuple[str, tuple[ReplacementLine, ...]], ...]:
    """The lines grouped by section, in the order of the request."""
    names = dict.fromkeys((line.shipment, line.section) for line in lines)
    return tuple((name[1], tuple(line for line in lines if (line.shipment, line.section) == name)) for name in names)
