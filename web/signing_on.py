"""Ways to sign in beside a password: a passkey, and the company's own sign-on."""

from flask import Blueprint, Response, current_app, make_response, redirect, request, url_for

from receiving import service
from receiving.errors import NotFound
from receiving.messages import message
from receiving.service import CompanySignOn
from web import frame
from web.access import access, cookie_name, own_origin, own_path
from web.frame import ctx
from web.people import sign_in_page, with_session

pages = Blueprint("signing_on", __name__)

STATE_COOKIE = "sign_on"
STATE_S = 600


def company() -> CompanySignOn | None:
    """The company's sign-on, where this service was told of one."""
    found: CompanySignOn | None = current_app.config["COMPANY"]
    return found


@pages.post("/sign-in/passkey/options")
def passkey_options() -> Response:
    """What the browser needs to sign in with a passkey."""
    _, host = own_origin()
    return Response(service.offer_passkey_to_use(ctx(), host=host), mimetype="application/json")


@pages.post("/sign-in/passkey")
def by_passkey() -> Response:
    """Begin a session by a passkey."""
    origin, host = own_origin()
    back = own_path(request.form.get("back", "/"))
    try:
        given = service.sign_in_by_passkey(
            ctx(), request.form.get("credential", ""), host=host, origin=origin, instead_of=access()
        )
    except service.SignInRefused as fault:
        return frame.render(sign_in_page(back, fault=fault), 403)
    return with_session(make_response(redirect(back, 303)), given)


@pages.get("/sign-in/company")
def leave() -> Response:
    """Go to the company's sign-on."""
    leaving = service.leave_to_sign_on(
        ctx(),
        _company(),
        back_to=url_for(".come_back", _external=True),
        then=own_path(request.args.get("back", "/")),
        again="again" in request.args,
    )
    response = make_response(redirect(leaving.address, 303))
    response.set_cookie(
        cookie_name(STATE_COOKIE),
        leaving.state,
        max_age=STATE_S,
        httponly=True,
        samesite="Lax",
        secure=request.is_secure,
    )
    response.headers["Cache-Control"] = "no-store"
    return response


@pages.get("/sign-in/company/back")
def come_back() -> Response:
    """Come back from the company's sign-on."""
    asked = request.args
    try:
        given, then = service.come_from_sign_on(
            ctx(),
            _company(),
            state=asked.get("state", ""),
            held=request.cookies.get(cookie_name(STATE_COOKIE), ""),
            code=asked.get("code", ""),
            issuer=asked.get("iss", ""),
            error=asked.get("error", ""),
            instead_of=access(),
        )
    except (service.SignInRefused, service.SignOnUnreachable) as fault:
        status = 403 if isinstance(fault, service.SignInRefused) else 502
        response = frame.render(sign_in_page("/", fault=fault), status)
    else:
        response = with_session(make_response(redirect(own_path(then), 303)), given)
    response.delete_cookie(cookie_name(STATE_COOKIE), secure=request.is_secure)
    return response


def _company() -> CompanySignOn:
    found = company()
    if found is None:
        raise NotFound(
            message("This service has no company sign-on."), next_step=message("Sign in with name and password.")
        )
    return found
