"""Actions: what a person does carries an id, and is done once however often it arrives.

Those of a phone's outbox carry it in a header with the time they were made, and are answered by JSON that names the id.

A phone forgets an action only on this answer. A login page, a redirect or an error of a server in between cannot be
mistaken for it; so every response to a request with the header ``X-Action`` is turned into it here, at the edge.

A form that a browser sends by itself carries its id in a field, which a script fills in when the form is first sent.
"""

import hashlib
import uuid
from collections.abc import Callable
from datetime import UTC, datetime
from functools import wraps
from typing import Any, ParamSpec
from urllib.parse import unquote

from flask import Flask, Response, g, jsonify, make_response, redirect, request
from werkzeug.datastructures import FileStorage

from receiving import service
from receiving.errors import BadRequest, ReceivingError
from receiving.messages import Text, message
from receiving.service import Context
from web.access import access
from web.speech import say

SERVICE = "receiving"
ID_HEADER = "X-Action"
MADE_HEADER = "X-Made-At"
MAKER_HEADER = "X-Made-By"
"""Whose account was signed in when the action was made, percent-encoded; empty where nobody signs in."""

ID_FIELD = "action_id"

NOT_CONTENT = frozenset({"token", "pin", "password", ID_FIELD})

P = ParamSpec("P")

RETRY_STATUSES = {
    401: "sign-in",
    403: "token",
    408: "trouble",
    412: "person",
    421: "host",
    429: "trouble",
    500: "failed",
    502: "trouble",
    503: "trouble",
}
"""Statuses after which the same action may succeed later, with the word for why; a phone keeps it and tries again."""


class MadeByAnother(ReceivingError):
    """The action waited on the phone while another person signed in there: it is not his."""


def set_up(app: Flask) -> None:
    """Answer every action in the form that a phone's outbox believes."""
    app.after_request(_as_answer)


def acting() -> bool:
    """True when this request is an action of an outbox."""
    return request.method == "POST" and ID_HEADER in request.headers


def check_maker() -> None:
    """What one person made is not taken in the name of another who signed in at the same phone meanwhile.

    Raises MadeByAnother; the phone keeps the action then.
    """
    maker, now = unquote(request.headers.get(MAKER_HEADER, "")), access().name
    if acting() and maker and now and maker != now:
        raise MadeByAnother(
            message("This was made by {maker}, and {name} is signed in now.", maker=maker, name=now),
            next_step=message("It stays on this phone, and is sent once {maker} signs in here again.", maker=maker),
        )


def action_id() -> str:
    """The action's id, in the one way to write a UUID. Raises BadRequest for what is not a UUID."""
    given = request.headers[ID_HEADER]
    try:
        return str(uuid.UUID(given))
    except ValueError:
        raise BadRequest(
            message("{action_id} is not the id of an action.", action_id=repr(given[:60])),
            next_step=message("Send a UUID (RFC 9562), made once for each action."),
        ) from None


def made_at(now: datetime) -> datetime:
    """When the action was made, by the server's clock; never later than ``now``. Raises BadRequest for no such time."""
    given = request.headers.get(MADE_HEADER, "")
    if not given:
        return now
    try:
        moment = datetime.fromisoformat(given)
        moment = moment.astimezone(UTC) if moment.tzinfo else moment.replace(tzinfo=UTC)
    except (ValueError, OverflowError):
        raise BadRequest(
            message("{time} is not the time of an action.", time=repr(given[:60])),
            next_step=message("Send an RFC 3339 time with its offset."),
        ) from None
    return min(moment, now)


def done(**facts: object) -> Response:
    """The answer that lets the phone forget the action."""
    return jsonify(service=SERVICE, action=request.headers[ID_HEADER], state="done", **facts)


def not_done(
    status: int,
    title: Text,
    what: Text,
    next_step: Text,
    *,
    details: tuple[Text, ...],
    final: bool = False,
    field: str = "",
) -> Response:
    """The answer to an action that was not taken: refused for good, or to be kept and tried again, with the reason.

    ``final``: it will not be taken later either, whatever the status says.
    """
    why = "" if final else RETRY_STATUSES.get(status, "")
    problem = {
        "status": status,
        "title": say(title),
        "message": say(what),
        "next_step": say(next_step),
        "details": list(map(say, details)),
        "field": field,
    }
    response = jsonify(
        service=SERVICE,
        action=request.headers[ID_HEADER],
        state="kept" if why else "refused",
        why=why or "refused",
        problem=problem,
    )
    response.status_code = status
    g.action_answered = True
    return response


def once(
    get_context: Callable[[], Context], shown_at: Callable[[], str] | None = None
) -> Callable[[Callable[P, Response]], Callable[P, Response]]:
    """A view that does an action's work at most once, and answers the same when it is sent again.

    Its work and its answer are stored in one transaction. Not for views that answer slowly: nobody else can write
    meanwhile. What a view raises undoes all of it. A form's view has done it when it leads on to another page; one
    that shows what it did itself says where that is ``shown_at`` later.
    """

    def decorate(view: Callable[P, Response]) -> Callable[P, Response]:
        @wraps(view)
        def answered(*args: P.args, **kwargs: P.kwargs) -> Response:
            if not acting():
                return _of_a_form(get_context(), lambda: view(*args, **kwargs), shown_at)

            def work() -> dict[str, Any]:
                return {"location": view(*args, **kwargs).headers.get("Location", "")}

            return done(**service.run_once(get_context(), action_id(), _content(), work, dict))

        return answered

    return decorate


def _of_a_form(ctx: Context, view: Callable[[], Response], shown_at: Callable[[], str] | None) -> Response:
    """What a form that carries an id did, or led on to when it was sent before; as it comes where it carries none."""
    action = request.form.get(ID_FIELD, "")
    if not action:
        return view()
    given: list[Response] = []

    def work() -> dict[str, Any] | None:
        given.append(response := view())
        location = response.headers.get("Location") or (shown_at() if shown_at else "")
        return {"location": location} if response.status_code < 400 and location else None

    content = _content()
    content["fields"] = [(name, value) for name, value in request.form.items(multi=True) if value and _counts(name)]
    answer = service.run_once_if_done(ctx, action, content, work, dict)
    return given[0] if given or answer is None else make_response(redirect(answer["location"], 303))


def _content() -> dict[str, object]:
    """All that this request asks for; a token renewed meanwhile asks for nothing else, and a PIN is not content."""
    fields = [(name, value) for name, value in request.form.items(multi=True) if _counts(name)]
    files = [(name, file.filename, _sha256(file)) for name, file in request.files.items(multi=True)]
    return {"path": request.path, "fields": fields, "files": files, "made_at": request.headers.get(MADE_HEADER, "")}


def _counts(name: str) -> bool:
    return name not in NOT_CONTENT


def _sha256(file: FileStorage) -> str:
    digest = hashlib.file_digest(file.stream, "sha256").hexdigest()  # type: ignore[arg-type]
    file.stream.seek(0)
    return digest


def _as_answer(response: Response) -> Response:
    """What a page would have got (a redirect, a page, nothing) as the answer to an action that succeeded."""
    if not acting() or "action_answered" in g or response.is_json or response.status_code >= 400:
        return response
    answer = done(location=response.headers.get("Location", ""))
    for name, value in response.headers:
        if name == "Set-Cookie":
            answer.headers.add(name, value)
    return answer
