"""The API for other programs: notices and scans in; state, plan and receipt out. OpenAPI is made from this code.

Every call names a token (RFC 6750) whose scopes say what it may do. What is posted names an id of its own
(``Idempotency-Key``, a UUID): sent again, it is answered again and not done again.
"""

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from functools import wraps
from hashlib import sha256
from typing import Any

import msgspec
from flask import Blueprint, Response, g, request
from werkzeug.exceptions import HTTPException
from werkzeug.urls import iri_to_uri

from receiving import service
from receiving.errors import BadRequest, FileFaults, NotFound, ReceivingError
from receiving.messages import message
from receiving.model import Access, Place, Role, ShortDeclaration, Source
from receiving.service import DispatchRow, Scope, Selection
from web.access import access, count_call
from web.api_description import KEY, MOST_PAGE, OPERATIONS, Operation, description
from web.api_types import (
    DeclaredShort,
    MessageOut,
    Missing,
    NewScan,
    NoticeResult,
    NoticeResults,
    PhotoResult,
    Plan,
    Problem,
    ReceiptLine,
    ReceiptOut,
    ScanResult,
    ShipmentList,
    ShipmentState,
    Trip,
)
from web.frame import ctx
from web.manager import MESSAGE_TYPES
from web.problems import status_of
from web.quota import TooManyCalls

pages = Blueprint("api", __name__, url_prefix="/api/v1")

METHODS = ("GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS", "TRACE")


class Refused(ReceivingError):
    """The call names no token in use."""


class Forbidden(ReceivingError):
    """The token of the call may not do this."""


def operation(
    method: str,
    path: str,
    *,
    scope: Scope,
    gives: type,
    takes: type | None = None,
    query: tuple[str, ...] = (),
) -> Callable[[Callable[..., Any]], Callable[..., Response]]:
    """Make a function one call of the API: checked, described, and answered as JSON."""

    def make(work: Callable[..., Any]) -> Callable[..., Response]:
        summary = (work.__doc__ or "").split("\n")[0]
        OPERATIONS.append(Operation(method, path, summary, scope, gives, takes, query))
        rule = (
            path.replace("{shipment}", "<id:shipment>")
            .replace("{photo}", "<photo>")
            .replace("{number}", "<int(max=999999):number>")
            .replace("{kind}", "<kind>")
        )

        @wraps(work)
        def call(**values: Any) -> Response:
            try:
                _check_token(scope)
                return _json(work(**values))
            except ReceivingError as fault:
                return _problem(fault)
            except HTTPException as fault:
                status = fault.code or 500
                return _json(Problem(fault.name, status, fault.description or "", "Correct the request."), status)

        pages.add_url_rule(rule, work.__name__, call, methods=[method], provide_automatic_options=False)
        others = [name for name in METHODS if name != method and not (name == "HEAD" and method == "GET")]
        pages.add_url_rule(
            rule, f"not_{work.__name__}", _not_allowed(method), methods=others, provide_automatic_options=False
        )
        return call

    return make


def _not_allowed(method: str) -> Callable[..., Response]:
    """Answers every other method of a call."""

    def refuse(**values: Any) -> Response:
        allowed = "GET, HEAD" if method == "GET" else method
        fault = Problem("Not allowed", 405, f"This call takes {allowed} alone.", f"Send it with {method}.")
        response = _json(fault, 405)
        response.headers["Allow"] = allowed
        return response

    return refuse


def _check_token(scope: Scope) -> None:
    kind, _, secret = request.headers.get("Authorization", "").partition(" ")
    token = service.find_api_token(ctx(), secret.strip()) if kind.casefold() == "bearer" else None
    count_call(token.token_id if token else request.remote_addr or "", request.endpoint)
    if token is None:
        raise Refused(
            message("This call names no token in use."), next_step=message("Send 'Authorization: Bearer' with a token.")
        )
    if scope not in token.scopes:
        raise Forbidden(
            message("This token may not {scope}.", scope=scope.value), next_step=message("Use one with this scope.")
        )
    g.access = Access(f"token {token.name}", Role.STORE_STAFF, scope=token.sees)
    ctx().actor = replace(ctx().actor, name=g.access.name, role="token")
    shipment = (request.view_args or {}).get("shipment")
    if token.sees.limited and shipment is not None and not service.may_see(ctx(), g.access, shipment=shipment):
        raise NotFound(
            message("There is no shipment {shipment}.", shipment=repr(shipment)), next_step=message("Check the number.")
        )


def _json(value: object, status: int = 200) -> Response:
    kind = "application/problem+json" if isinstance(value, Problem) else "application/json"
    response = Response(msgspec.json.encode(value), status, mimetype=kind)
    if status == 401:
        response.headers["WWW-Authenticate"] = "Bearer"
    return response


def _problem(fault: ReceivingError) -> Response:
    status, title = status_of(fault)
    if isinstance(fault, Forbidden | service.NotWithin | Refused):
        status, title = (401, "No token") if isinstance(fault, Refused) else (403, "Not allowed")
    errors = [str(each) for each in fault.faults] if isinstance(fault, FileFaults) else []
    response = _json(Problem(str(title), status, str(fault.message), str(fault.next_step), errors), status)
    if isinstance(fault, TooManyCalls):
        response.headers["Retry-After"] = str(fault.wait_s)
    return response


def _key() -> str:
    key = request.headers.get(KEY, "").strip()
    if not key:
        raise BadRequest(
            message("The call has no {key}.", key=KEY), next_step=message("Send a UUID, made once for each call.")
        )
    return key


@operation("GET", "/shipments", scope=Scope.READ, gives=ShipmentList, query=("page",))
def list_shipments() -> ShipmentList:
    """All shipments with what to do about each, the most pressing first, a page at a time."""
    page = request.args.get("page", "1")
    if not (page.isascii() and page.isdigit() and 1 <= int(page[:9]) <= MOST_PAGE):
        raise BadRequest(
            message("The page {page} is not a number from 1.", page=repr(page[:20])),
            next_step=message("Ask for page 1."),
        )
    listed = service.get_list_page(ctx(), Selection(), page=int(page), scope=access().scope)
    following = listed.number + 1 if listed.number < listed.pages else 0
    return ShipmentList([_state(row) for row in listed.rows], listed.number, following, listed.wanted)


@operation("GET", "/shipments/{shipment}", scope=Scope.READ, gives=ShipmentState)
def read_shipment(shipment: str) -> ShipmentState:
    """One shipment with what to do about it."""
    return _state(service.decide_shipment(ctx(), shipment))


def _state(decided: DispatchRow) -> ShipmentState:
    row = decided.row
    return ShipmentState(
        shipment=row.shipment,
        store=row.store,
        state=decided.urgency.name.lower(),
        next_step=decided.next_step.value,
        visit=row.visit_date,
        days_to_visit=decided.days_to_visit,
        latest_order=decided.latest_order,
        held=row.held,
        confirmed=row.confirmed,
        expected=row.expected,
        here=row.here,
        inside=row.inside,
        missing=[
            Missing(
                each.missing.carton,
                each.status.value,
                each.resolved,
                each.missing.positions,
                each.missing.followed.due if each.missing.followed else None,
                each.missing.request,
            )
            for each in decided.outlooks
        ],
        extra=row.extra,
        to_check=row.to_check,
        last_read_at=row.last_read_at,
        advice=str(service.advice_words(decided)),
    )


@operation("GET", "/shipments/{shipment}/plan", scope=Scope.READ, gives=Plan)
def read_plan(shipment: str) -> Plan:
    """The staging plan of a shipment, made where it is not made yet."""
    plan = service.get_staging_plan(ctx(), shipment)
    trips = [Trip(trip.trip, list(trip.cartons), trip.load_kg) for trip in plan.trips]
    return Plan(shipment, [first.carton for first in plan.open_first], trips)


@operation("GET", "/shipments/{shipment}/receipts/{number}", scope=Scope.READ, gives=ReceiptOut)
def read_receipt(shipment: str, number: int) -> ReceiptOut:
    """One receipt of a shipment."""
    found = service.get_receipt(ctx(), shipment, number)
    shown = found.shown
    return ReceiptOut(
        shipment,
        found.number,
        found.confirmed_at,
        found.name,
        found.role,
        found.with_exceptions,
        shown.expected,
        shown.received,
        shown.digest,
        [ReceiptLine(line.state, line.words, _declared(line.declared)) for line in shown.lines],
    )


@operation(
    "GET",
    "/shipments/{shipment}/receipts/{number}/messages/{kind}",
    scope=Scope.READ,
    gives=MessageOut,
    query=("sender", "receiver"),
)
def read_message(shipment: str, number: int, kind: str) -> MessageOut:
    """A receipt as a standard message: EPCIS 2.0, X12 861 or EDIFACT RECADV; the same receipt is the same message."""
    asked = request.args
    own = iri_to_uri(request.url_root).rstrip("/")
    parties = {"sender": asked.get("sender", ""), "receiver": asked.get("receiver", "")}
    text = service.make_standard_message(ctx(), shipment, number, kind, base=own, **parties)
    return MessageOut(shipment, number, kind, MESSAGE_TYPES[kind], text)


def _declared(stated: ShortDeclaration | None) -> DeclaredShort | None:
    return DeclaredShort(stated.by, stated.at, stated.reason, list(stated.searched)) if stated else None


@operation("POST", "/shipments/{shipment}/scans", scope=Scope.SCAN, gives=ScanResult, takes=NewScan)
def add_scan(shipment: str) -> dict[str, Any]:
    """Store one scan and say what it is."""
    try:
        scan = msgspec.json.decode(request.get_data(), type=NewScan)
    except msgspec.MsgspecError as fault:
        raise BadRequest(
            message("The scan cannot be read: {fault}.", fault=fault),
            next_step=message("Send it as the description says."),
        ) from fault

    made_at = _scanned_at(scan.scanned_at)

    def work() -> dict[str, Any]:
        found = service.add_scan(
            ctx().acting(scan.scan_id, made_at=made_at),
            shipment,
            scan.raw,
            place=scan.place,
            by=_by_whom(scan.by),
            source=Source.SCANNER,
            scan_id=scan.scan_id,
        )
        result = ScanResult(found.read_id, found.outcome.value, found.carton, found.bay, str(found.sentence))
        return msgspec.to_builtins(result)  # type: ignore[no-any-return]

    content = {"shipment": shipment, **msgspec.to_builtins(scan)}
    if scan.scanned_at is None:
        del content["scanned_at"]
    return service.run_once(ctx(), _key(), content, work, dict[str, Any])


def _by_whom(given: str) -> str:
    """Who stands in the record: the program by its token, which alone vouches for the name that it gave."""
    return f"{given} ({access().name})" if given else access().name


def _scanned_at(given: datetime | None) -> datetime:
    """When a scan was made, never later than now. Raises BadRequest for what is not a time of any scan."""
    now = ctx().now()
    try:
        return min(given.astimezone(UTC), now) if given else now
    except OverflowError:
        raise BadRequest(
            message("The time of the scan cannot be used."), next_step=message("Send the time at which it was made.")
        ) from None


@operation(
    "POST",
    "/shipments/{shipment}/photos",
    scope=Scope.SCAN,
    gives=PhotoResult,
    takes=bytes,
    query=("name", "place", "by"),
)
def add_photo(shipment: str) -> dict[str, Any]:
    """Store one photo or short video, which is read beside the calls; the same one again changes nothing."""
    data = request.get_data()
    if not data:
        raise BadRequest(message("The photo is empty."), next_step=message("Send the file as the body of the call."))
    name, by, place = (request.args.get(each, "") for each in ("name", "by", "place"))
    if place and place not in set(Place):
        raise BadRequest(
            message("There is no place {place}.", place=repr(place[:20])),
            next_step=message("Choose from {choices}.", choices=", ".join(Place)),
        )
    where = Place(place) if place else Place.OTHER

    def work() -> dict[str, Any]:
        row = service.add_photo(ctx(), shipment, name[:200] or "photo", data, place=where, by=_by_whom(by[:80].strip()))
        return msgspec.to_builtins(_photo(row))  # type: ignore[no-any-return]

    content = {"shipment": shipment, "name": name, "by": by, "place": place, "sha256": _sha256(data)}
    return service.run_once(ctx(), _key(), content, work, dict[str, Any])


@operation("GET", "/shipments/{shipment}/photos/{photo}", scope=Scope.READ, gives=PhotoResult)
def read_photo(shipment: str, photo: str) -> PhotoResult:
    """How far the reading of a photo is."""
    return _photo(service.get_photo(ctx(), shipment, photo).row)


def _photo(row: service.PhotoRow) -> PhotoResult:
    return PhotoResult(
        row.photo, row.name, row.place.value, row.status.value, row.found, str(row.error), str(row.advice)
    )


@operation("POST", "/notices", scope=Scope.NOTICE, gives=NoticeResults, takes=bytes, query=("name",))
def add_notice() -> dict[str, Any]:
    """Store a manifest or ship notice (CSV, XLSX, X12 856, DESADV), all of it or nothing."""
    name, data = request.args.get("name", "notice")[:200], request.get_data()
    if not data:
        raise BadRequest(message("The notice is empty."), next_step=message("Send the file as the body of the call."))

    def work() -> dict[str, Any]:
        results = service.import_manifest(ctx(), name, data, scope=access().scope)
        found = [NoticeResult(r.shipment, r.store, r.status, r.revision, list(map(str, r.changes))) for r in results]
        return msgspec.to_builtins(NoticeResults(found))  # type: ignore[no-any-return]

    # What was answered to who sees more is not for a token that sees a part, though it sends the same key and file.
    sees = access().scope
    part = {"stores": sorted(sees.stores or ()), "programmes": sorted(sees.programmes or ())} if sees.limited else {}
    return service.run_once(ctx(), _key(), {"name": name, "sha256": _sha256(data), **part}, work, dict[str, Any])


def _sha256(data: bytes) -> str:
    return sha256(data).hexdigest()


@pages.get("/openapi.json")
def openapi() -> Response:
    """What the API can do, as OpenAPI 3.1 (spec.openapis.org), made from the code that does it."""
    return Response(msgspec.json.encode(description()), mimetype="application/json")


@pages.route("/", defaults={"rest": ""})
@pages.route("/<path:rest>", methods=["GET", "POST", "PUT", "PATCH", "DELETE"])
def unknown(rest: str) -> Response:
    """There is no such call."""
    fault = NotFound(
        message("There is no call {path}.", path=repr(rest[:80])), next_step=message("See /api/v1/openapi.json.")
    )
    return _problem(fault)
