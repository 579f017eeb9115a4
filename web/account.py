"""A person's own account: password, passkeys, PIN, and where he is signed in."""

from flask import Blueprint, Response, current_app, make_response, redirect, request, url_for

from receiving import service
from receiving.errors import BadRequest, ReceivingError
from web import frame
from web.access import access, may_have_passkeys, own_origin
from web.frame import ctx
from web.pages.account import account_page
from web.people import with_session

pages = Blueprint("account", __name__)


@pages.get("/account")
def account() -> Response:
    """What the person who is signed in may change of his own account."""
    return _account()


def _account(fault: ReceivingError | None = None, status: int = 200) -> Response:
    page = account_page(
        service.get_own_account(ctx(), access()),
        access().session,
        frame.local_now(),
        fault,
        can_add=may_have_passkeys(),
        company=_company(),
    )
    return frame.render(page, status)


def _company() -> str:
    company = current_app.config["COMPANY"]
    return company.label if company else ""


def _back() -> Response:
    return make_response(redirect(url_for(".account"), 303))


@pages.post("/account/again")
def again() -> Response:
    """Sign in again, to change how one signs in; the session before ends."""
    try:
        password, address = request.form.get("again", ""), request.remote_addr or ""
        given = service.sign_in_again(ctx(), access(), password, address=address)
    except service.TooManyTries as fault:
        return _account(fault, 429)
    except service.SignInRefused as fault:
        fault.field = "again"
        return _account(fault, 400)
    except service.FirstPassword as fault:
        return _account(fault, 409)
    return with_session(_back(), given)


@pages.post("/account/password")
def password() -> Response:
    """Replace the own password; the old one is asked for."""
    form = request.form
    try:
        service.change_own_password(
            ctx(), access(), form.get("old", ""), form.get("new", ""), address=request.remote_addr or ""
        )
    except service.TooManyTries as fault:
        return _account(fault, 429)
    except service.SignInRefused as fault:
        fault.field = "old"
        return _account(fault, 400)
    except BadRequest as fault:
        return _account(fault, 400)
    return _back()


@pages.post("/account/pin")
def pin() -> Response:
    """Set or take away the own PIN."""
    try:
        service.set_own_pin(ctx(), access(), request.form.get("pin", ""))
    except BadRequest as fault:
        return _account(fault, 400)
    except service.NotFresh as fault:
        return _account(fault, 403)
    return _back()


@pages.post("/account/sessions")
def sessions() -> Response:
    """Sign out everywhere but here."""
    try:
        service.end_other_sessions(ctx(), access())
    except service.NotFresh as fault:
        return _account(fault, 403)
    return _back()


@pages.post("/account/passkeys/options")
def passkey_options() -> Response:
    """What the browser needs to make a passkey."""
    _, host = own_origin()
    return Response(service.offer_passkey_to_add(ctx(), access(), host=host), mimetype="application/json")


@pages.post("/account/passkeys")
def add_passkey() -> Response:
    """Keep the passkey that the browser made."""
    origin, host = own_origin()
    form = request.form
    try:
        service.add_passkey(
            ctx(), access(), form.get("credential", ""), label=form.get("label", ""), host=host, origin=origin
        )
    except service.NotFresh as fault:
        return _account(fault, 403)
    return _back()


@pages.post("/account/passkeys/remove")
def remove_passkey() -> Response:
    """Forget a passkey."""
    try:
        service.remove_passkey(ctx(), access(), request.form.get("credential", ""))
    except service.NotFresh as fault:
        return _account(fault, 403)
    return _back()
