"""Signing in and out, the people, and links for store staff."""

from dataclasses import replace

from flask import Blueprint, Response, current_app, make_response, redirect, request, url_for

from receiving import service
from receiving.errors import BadRequest, ReceivingError
from receiving.messages import message
from receiving.model import ACCOUNT_ROLES, AuditKind, AuditWanted, Role
from web import frame
from web.access import SESSION_COOKIE, access, cookie_name, may_have_passkeys, own_path, write_waiting
from web.downloads import download
from web.frame import ctx
from web.pages.audit import audit_page
from web.pages.people import ComePage, LinkMade, PasswordMade, SignInPage, links_page, people_page
from web.pages.problem import trouble_of

pages = Blueprint("people", __name__)


@pages.get("/sign-in")
def sign_in() -> Response:
    """Ask for name and password."""
    return frame.render(sign_in_page(own_path(request.args.get("back", "/"))))


def sign_in_page(back: str, name: str = "", fault: ReceivingError | None = None, *, first: bool = False) -> SignInPage:
    """The page to sign in on, with the ways that there are here; ``first``: a first password is to be replaced."""
    company = current_app.config["COMPANY"]
    return SignInPage(
        back=back,
        name=name,
        trouble=trouble_of(fault),
        passkeys=may_have_passkeys(),
        company=company.label if company else "",
        first=first,
    )


@pages.post("/sign-in")
def begin() -> Response:
    """Begin a session; a refusal comes back on the same page, and the question for an own password."""
    form = request.form
    back, new = own_path(form.get("back", "/")), form.get("new", "")
    try:
        given = service.sign_in(
            ctx(),
            form.get("name", ""),
            form.get("password", ""),
            address=request.remote_addr or "",
            new=new,
            instead_of=access(),
        )
    except service.TooManyTries as fault:
        response = frame.render(sign_in_page(back, form.get("name", ""), fault), 429)
        response.headers["Retry-After"] = str(fault.wait_s)
        return response
    except service.SignInRefused as fault:
        return frame.render(sign_in_page(back, form.get("name", ""), fault, first=bool(new)), 403)
    except service.FirstPassword:
        return frame.render(sign_in_page(back, form.get("name", ""), first=True), 409)
    except BadRequest as fault:
        return frame.render(sign_in_page(back, form.get("name", ""), fault, first=True), 400)
    return with_session(redirect_to(back), given)


@pages.post("/sign-out")
def sign_out() -> Response:
    """End the session, and let the browser forget what it kept of it."""
    service.sign_out(ctx(), access())
    response = redirect_to(url_for(".sign_in"))
    response.delete_cookie(cookie_name(SESSION_COOKIE), secure=request.is_secure)
    response.headers["Clear-Site-Data"] = '"cache"'
    return response


@pages.get("/come")
def come() -> Response:
    """Where a link for store staff leads: its secret stands behind the #, which no browser sends and no log holds."""
    found = access()
    return frame.render(ComePage("" if found.shipment else found.name))


@pages.post("/come")
def enter() -> Response:
    """Store staff come by a link to one shipment."""
    given = service.come_by_link(ctx(), request.form.get("secret", "").strip(), instead_of=access())
    return with_session(redirect_to(url_for("rep.shipment", shipment=given.access.shipment)), given)


def redirect_to(path: str) -> Response:
    """The browser goes on with a GET of this path."""
    return make_response(redirect(path, 303))


def with_session(response: Response, given: service.SignedIn) -> Response:
    """The response with the cookie of a session that has just begun."""
    response.set_cookie(
        cookie_name(SESSION_COOKIE),
        given.token,
        max_age=given.expires_at - ctx().now(),  # not a date: the clock of a phone may be wrong
        httponly=True,
        samesite="Lax",
        secure=request.is_secure,
    )
    response.headers["Cache-Control"] = "no-store"
    response.headers["Referrer-Policy"] = "no-referrer"
    return response


@pages.get("/people")
def people() -> Response:
    """The accounts, and a form for one more; the first one makes everybody sign in from then on."""
    return _people()


def _people(
    fault: ReceivingError | None = None, status: int = 200, made: PasswordMade | None = None, changed: str = ""
) -> Response:
    typed = {name: request.form.get(name, "") for name in ("name", "role", "stores", "programmes", "subject")}
    page = people_page(
        service.list_people(ctx()), typed, fault, signed_in=bool(access().name), made=made, changed=changed
    )
    return frame.render(page, status)


@pages.post("/people")
@frame.once_shown_at("people.people")
def add() -> Response:
    """Add an account; who adds the first one is signed in with it, the others are given a first password."""
    form = request.form
    try:
        made = service.add_account(
            ctx(),
            form.get("name", ""),
            _role(form.get("role", "")),
            own_password=form.get("password", ""),
            subject=form.get("subject", ""),
            instead_of=access(),
            **frame.scope_sent(),
        )
    except service.NotTheFirst:
        raise  # a stranger now, to whom the page with all accounts is not shown
    except ReceivingError as fault:
        return _people(fault, 400)
    if made.signed_in:
        return with_session(redirect_to(url_for(".people")), made.signed_in)
    return _people(made=PasswordMade(made.person.name, made.password))


def _role(role: str) -> Role:
    if role not in {each.value for each in ACCOUNT_ROLES}:
        raise BadRequest(
            message("There is no role {role} for an account.", role=repr(role)),
            next_step=message("Choose one of the roles shown."),
            field="role",
        )
    return Role(role)


@pages.post("/people/<person>")
def change(person: str) -> Response:
    """Make a new first password, close an account or open it again; or take a name out of everything."""
    if request.form.get("what", "") != "erase":
        return _changed(person)
    try:
        service.erase_account(ctx(), person)  # rewrites the whole file, which no transaction may be around
    except ReceivingError as fault:
        return _people(fault, 409, changed=person)
    return redirect_to(url_for(".people"))


@frame.once_shown_at("people.people")
def _changed(person: str) -> Response:
    what, made = request.form.get("what", ""), None
    try:
        if what == "password":
            made = service.reset_password(ctx(), person)
        elif what == "scope":
            role, subject = _role(request.form.get("role", "")), request.form.get("subject", "")
            service.change_account(ctx(), person, role, subject=subject, **frame.scope_sent())
        elif what == "close":
            service.close_account(ctx(), person)
        elif what == "open":
            service.open_account(ctx(), person)
        else:
            raise BadRequest(
                message("There is no action {action}.", action=repr(what)),
                next_step=message("Use the buttons of the page."),
            )
    except ReceivingError as fault:
        return _people(fault, 409, changed=person)
    return _people(made=PasswordMade(made.person.name, made.password)) if made else redirect_to(url_for(".people"))


@pages.get("/people/audit")
def audit() -> Response:
    """Who saw and did what, the newest first."""
    wanted = _audit_wanted()
    write_waiting()
    found = service.get_audit_log(ctx(), wanted)
    return frame.render(audit_page(found.lines, wanted, found.names))


@pages.get("/people/audit.csv")
def audit_file() -> Response:
    """The same lines as CSV, many more at once; those before a number by ``before``."""
    write_waiting()
    lines = service.list_audit(ctx(), replace(_audit_wanted(), most=service.MOST_EXPORTED))
    return download(service.make_audit_csv(lines), f"audit-{frame.local_now().date().isoformat()}.csv", "text/csv")


def _audit_wanted() -> AuditWanted:
    asked = request.args
    before, kind = asked.get("before", ""), asked.get("kind", "")
    return AuditWanted(
        shipment=asked.get("shipment", "").strip(),
        person=asked.get("person", "").strip(),
        kind=AuditKind(kind) if kind in set(AuditKind) else None,
        before=int(before) if before.isascii() and before.isdigit() and len(before) < 16 else 0,
    )


@pages.get("/s/<id:shipment>/links")
def links(shipment: str) -> Response:
    """The links to this shipment for store staff."""
    return frame.render(links_page(shipment, service.list_links(ctx(), shipment), frame.local_now()))


@pages.post("/s/<id:shipment>/links")
@frame.once_shown_at("people.links")
def make_link(shipment: str) -> Response:
    """Make a link; it is shown only this once."""
    days = request.form.get("days", "")
    link, token = service.make_link(
        ctx(),
        shipment,
        request.form.get("label", ""),
        days=int(days) if days.isascii() and days.isdigit() else 0,
        by=access().name,
    )
    address = url_for(".come", _anchor=token, _external=True)
    made = LinkMade(link.label, address, service.qr_svg(address))
    return frame.render(links_page(shipment, service.list_links(ctx(), shipment), frame.local_now(), made))


@pages.post("/s/<id:shipment>/links/<link>")
@frame.once
def revoke_link(shipment: str, link: str) -> Response:
    """End a link and the sessions that came by it."""
    service.revoke_link(ctx(), shipment, link)
    return redirect_to(url_for(".links", shipment=shipment))
