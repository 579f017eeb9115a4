"""What a phone needs to work for hours without a signal: scripts, pages, a shipment's codes, and a way to greet us."""

import contextvars
import io
import json
from collections.abc import Mapping
from typing import Any
from urllib.parse import unquote, urlencode

from flask import Blueprint, Response, current_app, jsonify, request, url_for
from werkzeug.test import run_wsgi_app

from receiving import service
from receiving.errors import BadRequest, NotFound
from receiving.language import script_catalogue
from receiving.messages import message
from receiving.model import CartonState
from web import actions, frame, speech
from web.access import access
from web.frame import ctx
from web.pages.phone import NoSignalPage, OutboxPage, sheet_json
from web.protection import form_token

pages = Blueprint("phone", __name__)

FOR_GOOD = "public, max-age=31536000, immutable"
"""The address of an asset names its content (RFC 8246)."""
MOST_CARTON_PAGES = 80
MOST_ACTIONS = 50
"""Of one request: a phone gives one up after 30 s, and each takes some 10 ms."""


@pages.get("/assets/<mark>/<path:name>")
def asset(mark: str, name: str) -> Response:
    """A script, style or picture; its address changes with any of them, so it is never asked for twice."""
    response = current_app.send_static_file(name)
    response.headers["Cache-Control"] = FOR_GOOD
    return response


@pages.get("/assets/<mark>/words/<code>.js")
def script_words(mark: str, code: str) -> Response:
    """The words of the scripts in a language, as a script that a page loads before all others. Raises NotFound."""
    if code not in {each.code for each in speech.languages()}:
        raise NotFound(
            message("There is no language {code} here.", code=repr(code[:20])),
            next_step=message("Choose one of those at the foot of a page."),
        )
    words = json.dumps(script_catalogue(code), ensure_ascii=False)
    response = Response(f"globalThis.catalogue = {words};\n", mimetype="text/javascript")
    response.headers["Cache-Control"] = FOR_GOOD
    return response


@pages.get("/no-signal")
def no_signal() -> Response:
    """What a phone shows for a page that it does not hold while there is no signal; kept by its service worker."""
    return frame.render(NoSignalPage())


@pages.get("/shell")
def shell() -> Response:
    """What a phone needs to open any page of ours without a signal."""
    return jsonify(
        assets=frame.all_assets(), pages=[url_for("rep.shipments"), url_for(".outbox"), url_for(".no_signal")]
    )


@pages.get("/manifest.webmanifest")
def web_manifest() -> Response:
    """What a phone shows when this is put on its home screen (W3C Web Application Manifest)."""
    icons = [
        {"src": frame.asset_address(f"icon-{size}.png"), "sizes": f"{size}x{size}", "type": "image/png"}
        for size in (192, 512)
    ]
    response = jsonify(
        name=speech.say(message("Shipment receiving")),
        short_name=speech.say(message("Receiving")),
        id="/",
        start_url=url_for("rep.shipments"),
        scope="/",
        display="standalone",
        background_color="#f3f1ec",
        theme_color="#123f36",
        icons=icons,
    )
    response.mimetype = "application/manifest+json"
    return response


@pages.get("/signal")
def signal() -> Response:
    """Who answers, this browser's token, the time, and whether the person is known: what is asked before sending."""
    now_ms = round(frame.setting().ctx.now().timestamp() * 1000)
    known = not access().stranger
    response = jsonify(service=actions.SERVICE, token=form_token(), now_ms=now_ms, signed_in=known)
    response.headers["Cache-Control"] = "no-store"
    return response


@pages.get("/outbox")
def outbox() -> Response:
    """What this phone did and what still waits on it; the phone itself fills the list."""
    return frame.render(OutboxPage())


@pages.post("/actions")
def act() -> Response:
    """Several actions of an outbox in one request, done in order, each exactly as if it came alone.

    It stops at the first that cannot be taken now: what follows it may build on it. Raises BadRequest for what is not
    a list of actions.
    """
    sent = request.get_json(silent=True)
    listed = sent.get("actions") if isinstance(sent, dict) else None
    if not isinstance(listed, list) or not 0 < len(listed) <= MOST_ACTIONS or not all(map(_is_action, listed)):
        raise BadRequest(
            message("This is not a list of actions."),
            next_step=message(
                "Send up to {most_actions} as JSON, each with id, url, made_at and fields.", most_actions=MOST_ACTIONS
            ),
        )
    answers: list[object] = []
    for action in listed:
        answers.append(_done_alone(action))
        if not isinstance(answers[-1], dict) or answers[-1].get("state") not in ("done", "refused"):
            break
    return jsonify(service=actions.SERVICE, answers=answers)


def _is_action(given: object) -> bool:
    return (
        isinstance(given, dict)
        and all(isinstance(given.get(name), str) for name in ("id", "url", "made_at"))
        and given["url"].startswith("/s/")
        and isinstance(given.get("made_by", ""), str)
        and isinstance(given.get("fields"), list)
        and all(
            isinstance(field, list) and len(field) == 2 and all(isinstance(each, str) for each in field)
            for field in given["fields"]
        )
    )


def _done_alone(action: Mapping[str, Any]) -> object:
    """The answer to one action, sent through the whole app as a request of its own from the same browser."""
    body = urlencode([tuple(field) for field in action["fields"]]).encode()
    environ = {
        name: value
        for name, value in request.environ.items()
        if not name.startswith(("werkzeug.", "receiving.waited")) and name != "HTTP_ACCEPT_ENCODING"
    }
    environ |= {
        "REQUEST_METHOD": "POST",
        "PATH_INFO": unquote(action["url"], "latin-1"),
        "QUERY_STRING": "",
        "CONTENT_TYPE": "application/x-www-form-urlencoded",
        "CONTENT_LENGTH": str(len(body)),
        "HTTP_X_ACTION": action["id"],
        "HTTP_X_MADE_AT": action["made_at"],
        "HTTP_X_MADE_BY": action.get("made_by", ""),
        "wsgi.input": io.BytesIO(body),
    }
    app = current_app._get_current_object()  # type: ignore[attr-defined]
    chunks, _, _ = contextvars.Context().run(run_wsgi_app, app.wsgi_app, environ, buffered=True)
    try:
        return json.loads(b"".join(chunks))
    except ValueError:
        return None


@pages.get("/offline.js")
def offline() -> Response:
    """The service worker; it must stand at the top, since its folder is what it may serve."""
    return current_app.send_static_file("offline.js")


@pages.get("/s/<id:shipment>/sheet")
def sheet(shipment: str) -> Response:
    """What a phone answers scans by while there is no signal, and the pages that it should have by then."""
    found = service.get_phone_sheet(ctx(), shipment)
    missing_first = sorted(found.cartons, key=lambda finding: finding.state is CartonState.RECEIVED)
    views = [f"rep.{name}" for name in ("shipment", "stage", "hand_over", "contents", "bay_sheets")]
    addresses = [url_for(view, shipment=shipment) for view in (*views, "plan.plan", "manager.confirm")]
    addresses += [
        url_for("rep.carton", shipment=shipment, carton=finding.carton.carton)
        for finding in missing_first[:MOST_CARTON_PAGES]
    ]
    response = jsonify(sheet_json(found, addresses, frame.scanner_profile()))
    response.headers["Cache-Control"] = "no-store"
    return response
