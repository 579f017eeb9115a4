"""Small pictures of labels that a phone's camera could not read: kept, read, and answered like a scan."""

import threading
from collections.abc import Iterator
from contextlib import contextmanager

from flask import Blueprint, Response, request

from receiving import service
from receiving.errors import BadRequest
from receiving.messages import message
from web import actions, frame
from web.frame import ctx
from web.note_forms import by_whom
from web.pages.scan_bar import scan_answer, seen_before, unread_answer
from web.rep import shown_answer

pages = Blueprint("crops", __name__)

WAIT_S = 4.0
"""A phone waits for what a small picture shows while others are answered: how long, and how many at a time."""
_awaited = threading.BoundedSemaphore(3)


@pages.post("/s/<id:shipment>/crops")
def add(shipment: str) -> Response:
    """One small picture, named ``photos`` as photos are; what it shows, or what to do where it shows nothing.

    Raises BadRequest for what no phone's outbox sent: the answer names the action that it is for.
    """
    if not actions.acting():
        raise BadRequest(
            message("The picture came without the id of an action."),
            next_step=message("Send it with the header X-Action and a UUID (RFC 9562), made once for each picture."),
        )
    upload = request.files.get("photos")
    if upload is None or not upload.filename:
        raise BadRequest(message("No picture was sent."), next_step=message("Hold the camera on the label once more."))
    with _waiting() as within_s:
        found = service.read_label_picture(
            ctx(), shipment, upload.filename, upload.read(), place=frame.place(), by=by_whom(), within_s=within_s
        )
    answers = found.answers
    if not answers:
        return actions.done(photo=found.photo, **shown_answer(unread_answer(shipment, is_read=answers is not None)))
    before = answers[0].earlier
    already = seen_before(before, frame.local_now()) if before and before.photo != found.photo else ""
    return actions.done(photo=found.photo, **shown_answer(scan_answer(answers[0], shipment, already=already)))


@pages.get("/s/<id:shipment>/camera")
def ready(shipment: str) -> Response:
    """A camera was opened at this shipment: what reads its small pictures is made ready."""
    service.expect_pictures(ctx())
    return Response(status=204)


@contextmanager
def _waiting() -> Iterator[float]:
    """How long this phone may wait: not at all where enough others do."""
    may = _awaited.acquire(blocking=False)
    try:
        yield WAIT_S if may else 0.0
    finally:
        if may:
            _awaited.release()
