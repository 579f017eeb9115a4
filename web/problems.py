"""Errors as pages: our message, the next step, and the right status."""

import json
import logging

from flask import Flask, Response, current_app, request
from werkzeug.exceptions import HTTPException, MethodNotAllowed, RequestEntityTooLarge

from receiving.errors import (
    BadRequest,
    Conflict,
    FileFaults,
    Limit,
    MissingLibrary,
    NotAPhoto,
    NotFound,
    NotYet,
    PhotoError,
    PhotoTooLarge,
    ReceivingError,
    StoreError,
    WorkStopped,
)
from receiving.messages import Text, message
from receiving.service import NotFresh, SignInRefused, SignOnUnreachable, TooManyTries
from web import actions
from web.access import NotAllowed, NotSignedIn
from web.frame import render, wants_part
from web.pages.problem import ProblemPage, ProblemPart
from web.protection import CrossSitePost, UnknownHost
from web.quota import TooManyCalls
from web.speech import OF_PROGRAMS, say

_log = logging.getLogger(__name__)

COME_AGAIN_S = 2
"""What a busy service asks for (Retry-After, RFC 9110, section 10.2.3)."""

STATUSES: tuple[tuple[type[ReceivingError], int, Text], ...] = (
    (NotFound, 404, message("Not found")),
    (Conflict, 409, message("Changed meanwhile")),
    (PhotoTooLarge, 413, message("Too large")),
    (NotAPhoto, 415, message("Not a photo")),
    (FileFaults, 422, message("This file cannot be loaded")),
    (PhotoError, 422, message("This photo cannot be read")),
    (BadRequest, 400, message("This cannot be used")),
    (NotSignedIn, 401, message("Sign in again")),
    (NotAllowed, 403, message("Not allowed")),
    (SignInRefused, 403, message("Not signed in")),
    (NotFresh, 403, message("Not changed")),
    (SignOnUnreachable, 502, message("The sign-on did not answer")),
    (TooManyTries, 429, message("Too many tries")),
    (TooManyCalls, 429, message("Too much at once")),
    (actions.MadeByAnother, 412, message("Made by somebody else")),
    (CrossSitePost, 403, message("Not sent")),
    (UnknownHost, 421, message("Not the name of this service")),
    (StoreError, 503, message("The data cannot be reached")),
    (NotYet, 503, message("Not yet")),
    (WorkStopped, 503, message("It could not be worked out now")),
    (MissingLibrary, 503, message("A part is not installed")),
)
"""The status and title of each error; the first that fits counts."""

HTTP_STEPS: dict[int, tuple[Text, Text]] = {
    404: (message("There is no page at this address."), message("Choose a shipment from the list.")),
    405: (
        message("This address does not take that kind of request."),
        message("Go back and use the buttons of the page."),
    ),
    400: (message("The request could not be understood."), message("Reload the page and try again.")),
}


HTTP_TITLES: dict[int, Text] = {
    400: message("Bad Request"),
    404: message("Not Found"),
    405: message("Method Not Allowed"),
}


def set_up(app: Flask) -> None:
    """Show every error as a page of ours."""
    app.register_error_handler(ReceivingError, _ours)
    app.register_error_handler(RequestEntityTooLarge, _too_large)
    app.register_error_handler(HTTPException, _http)
    app.register_error_handler(MemoryError, _no_memory)
    app.register_error_handler(Exception, _unknown)


def status_of(fault: ReceivingError) -> tuple[int, Text]:
    """The HTTP status and the title for this error."""
    return next(
        ((status, title) for kind, status, title in STATUSES if isinstance(fault, kind)), (500, message("It failed"))
    )


def problem(
    status: int,
    title: Text,
    what: Text,
    next_step: Text,
    *,
    details: tuple[Text, ...] = (),
    kept: Text = "",
    final: bool = False,
    field: str = "",
) -> Response:
    """A problem as a page, as a part of the page that is open, or as the answer to an action of a phone."""
    if actions.acting():
        return actions.not_done(status, title, what, next_step, details=details, final=final, field=field)
    if request.path.startswith(OF_PROGRAMS):
        return _plain(status, title, what, next_step, details)
    kind = ProblemPart if wants_part() else ProblemPage
    back = "" if request.method == "GET" else (request.headers.get("Referer") or "")
    return render(kind(title, what, next_step, details, kept, _own_path(back), field), status)


def _plain(status: int, title: Text, what: Text, next_step: Text, details: tuple[Text, ...]) -> Response:
    """A problem for another program (RFC 9457)."""
    stated = {
        "title": say(title),
        "status": status,
        "detail": say(what),
        "next_step": say(next_step),
        "errors": list(map(say, details)),
    }
    return Response(json.dumps(stated), status, mimetype="application/problem+json")


def _own_path(referrer: str) -> str:
    try:
        return referrer if referrer.startswith(request.host_url) else ""
    except ValueError:  # a Host that is not a host at all, as "[:1]": the fault that is told is about it
        return ""


def _ours(fault: ReceivingError) -> Response:
    status, title = status_of(fault)
    busy = isinstance(fault, WorkStopped) and fault.limit is Limit.BUSY
    if status >= 500 and not busy:
        _log.error("%s %s: %s", request.method, request.path, fault)
    details: tuple[Text, ...] = tuple(each.words for each in fault.faults) if isinstance(fault, FileFaults) else ()
    details += tuple(each.message for each in fault.fields)
    final = isinstance(fault, NotAllowed)
    response = problem(status, title, fault.message, fault.next_step, details=details, final=final, field=fault.field)
    if status == 503:
        response.headers["Retry-After"] = str(COME_AGAIN_S)
    if isinstance(fault, TooManyCalls):
        response.headers["Retry-After"] = str(fault.wait_s)
    return response


def _too_large(fault: RequestEntityTooLarge) -> Response:
    limit = float(f"{(current_app.config['MAX_CONTENT_LENGTH'] or 0) / 2**20:.3g}")
    return problem(
        413,
        message("Too large"),
        message("What was sent is larger than {limit} MB; nothing of it was stored.", limit=limit),
        message("Send fewer photos at once."),
    )


def _http(fault: HTTPException) -> Response:
    status = fault.code or 500
    if status < 400:
        return Response(status=status, headers=dict(fault.get_headers()))
    what, step = HTTP_STEPS.get(status, HTTP_STEPS[400])
    response = problem(status, HTTP_TITLES.get(status, HTTP_TITLES[400]), what, step)
    if isinstance(fault, MethodNotAllowed):
        response.headers["Allow"] = ", ".join(sorted(fault.valid_methods or ()))  # RFC 9110, section 15.5.6
    return response


def _no_memory(fault: MemoryError) -> Response:
    """As when all is busy: with more room, or less at once, it is taken."""
    _log.error("%s %s: no memory left", request.method, request.path)
    response = problem(
        503,
        message("Busy"),
        message("The service has no memory left for this; nothing of it was stored."),
        message("Try again in a moment, with fewer or smaller photos at once."),
    )
    response.headers["Retry-After"] = str(COME_AGAIN_S)
    return response


def _unknown(fault: Exception) -> Response:
    _log.exception("%s %s failed", request.method, request.path, exc_info=fault)
    return problem(
        500,
        message("It failed"),
        message("The service could not do this."),
        message("Try again; what was stored before is safe. If it happens again, tell support."),
    )
