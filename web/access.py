"""Who sent a request, and what he may see and do: one table of rights for all pages and forms, checked before any view.

While there is no account, whoever reaches the page is the one user of this machine. With the first account everybody
signs in; store staff come by a link to one shipment.
"""

import threading
import uuid
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from http import HTTPStatus
from urllib.parse import urlsplit

from flask import Flask, Response, current_app, g, redirect, request, url_for

from receiving import service
from receiving.errors import NotFound, ReceivingError
from receiving.messages import message
from receiving.model import NOTHING, Access, Actor, AuditLine, Deed, Right, Role
from web.proxy import USER
from web.quota import Quota

SESSION_COOKIE = "session"
ONE_USER = Access("", None)
"""The one user of this machine, while there are no accounts."""
STRANGER = Access("", None, scope=NOTHING, stranger=True)
"""Whoever did not sign in where everybody has to; he may do nothing."""

PUBLIC = frozenset(
    {
        "static",
        "phone.asset",
        "phone.script_words",
        "phone.no_signal",
        "phone.offline",
        "phone.signal",
        "phone.shell",
        "phone.web_manifest",
        "phone.outbox",
        "people.sign_in",
        "people.begin",
        "people.come",
        "people.enter",
        "signing_on.passkey_options",
        "signing_on.by_passkey",
        "signing_on.leave",
        "signing_on.come_back",
        "manners.alive",
        "manners.ready",
        "manners.metrics",
        "trust.trust",
        "trust.authority",
        "languages.choose",
    }
)
"""Endpoints that anybody may ask for: what a page is drawn with, and the ways to sign in."""
FOR_NOBODY = frozenset(each for each in PUBLIC if each.startswith(("static", "manners."))) | {
    "phone.asset",
    "phone.script_words",
    "phone.offline",
    "phone.shell",
    "phone.web_manifest",
}
"""Those of them that are the same whoever asks, so that nobody is looked up for them."""

NEEDED: Mapping[str, Right] = {
    "rep.shipments": Right.SEE,
    "rep.who": Right.RECEIVE,
    "rep.place": Right.RECEIVE,
    "rep.shipment": Right.SEE,
    "rep.find": Right.SEE,
    "rep.stage": Right.SEE,
    "rep.hand_over": Right.SEE,
    "rep.live": Right.SEE,
    "rep.state": Right.SEE,
    "rep.add_scan": Right.RECEIVE,
    "rep.add_scan_list": Right.RECEIVE,
    "rep.add_photos": Right.RECEIVE,
    "crops.add": Right.RECEIVE,
    "crops.ready": Right.RECEIVE,
    "phone.act": Right.SEE,
    "rep.photo": Right.SEE,
    "rep.photo_print": Right.RECEIVE,
    "rep.photo_image": Right.SEE,
    "rep.answer": Right.SEE,
    "phone.sheet": Right.SEE,
    "rep.question": Right.SEE,
    "rep.answer_question": Right.RECEIVE,
    "rep.carton": Right.SEE,
    "rep.linked_carton": Right.SEE,
    "rep.scanner": Right.SEE,
    "rep.set_scanner": Right.RECEIVE,
    "rep.contents": Right.SEE,
    "rep.bay_sheets": Right.SEE,
    "rep.bay_sheets_file": Right.SEE,
    "rep.add_note": Right.RECEIVE,
    "plan.plan": Right.SEE,
    "plan.plan_file": Right.SEE,
    "plan.change": Right.RECEIVE,
    "coordinator.overview": Right.DECIDE,
    "coordinator.overview_csv": Right.DECIDE,
    "coordinator.overview_xlsx": Right.DECIDE,
    "coordinator.decide_all": Right.DECIDE,
    "coordinator.follow": Right.DECIDE,
    "imports.imports": Right.PREPARE,
    "imports.stores_file": Right.PREPARE,
    "imports.preview": Right.PREPARE,
    "imports.taken": Right.PREPARE,
    "programme.programme": Right.DECIDE,
    "programme.programme_file": Right.DECIDE,
    "programme.readiness_file": Right.DECIDE,
    "programme.call_list": Right.DECIDE,
    "programme.call_list_file": Right.DECIDE,
    "programme.deliveries": Right.DECIDE,
    "tokens.tokens": Right.ADMINISTER,
    "tokens.make": Right.ADMINISTER,
    "tokens.end": Right.ADMINISTER,
    "webhooks.webhooks": Right.ADMINISTER,
    "webhooks.make": Right.ADMINISTER,
    "webhooks.change_secret": Right.ADMINISTER,
    "webhooks.try_it": Right.ADMINISTER,
    "webhooks.end": Right.ADMINISTER,
    "webhooks.again": Right.ADMINISTER,
    "programme.swaps": Right.DECIDE,
    "programme.costs": Right.PREPARE,
    "programme.lanes": Right.PREPARE,
    "programme.take": Right.DECIDE,
    "imports.columns": Right.PREPARE,
    "imports.preview_again": Right.PREPARE,
    "manager.confirm": Right.CONFIRM,
    "manager.give": Right.CONFIRM,
    "manager.receipt": Right.SEE,
    "manager.receipt_file": Right.SEE,
    "manager.receipt_data": Right.SEE,
    "manager.receipt_archive": Right.SEE,
    "manager.record_file": Right.SEE,
    "manager.message_file": Right.SEE,
    "replacement.draft": Right.ORDER,
    "replacement.issue": Right.ORDER,
    "replacement.withdraw": Right.ORDER,
    "replacement.issued": Right.SEE,
    "replacement.issued_file": Right.SEE,
    "office_shipment.manifest": Right.SEE,
    "office_shipment.manifest_file": Right.SEE,
    "office_shipment.result_file": Right.SEE,
    "office_shipment.planogram": Right.SEE,
    "office_shipment.carton_edit": Right.PREPARE,
    "office_shipment.carton_check": Right.PREPARE,
    "office_shipment.restore": Right.PREPARE,
    "office_shipment.restore_revision": Right.PREPARE,
    "office_shipment.void": Right.PREPARE,
    "office_shipment.void_shipment": Right.PREPARE,
    "office_shipment.restore_shipment": Right.PREPARE,
    "office_shipment.labels": Right.SEE,
    "office_shipment.labels_file": Right.SEE,
    "office_shipment.label_picture": Right.SEE,
    "office_shipment.stickers_file": Right.SEE,
    "people.sign_out": Right.SEE,
    "account.account": Right.SEE,
    "account.password": Right.SEE,
    "account.again": Right.SEE,
    "account.pin": Right.SEE,
    "account.sessions": Right.SEE,
    "account.passkey_options": Right.SEE,
    "account.add_passkey": Right.SEE,
    "account.remove_passkey": Right.SEE,
    "people.people": Right.ADMINISTER,
    "people.add": Right.ADMINISTER,
    "people.change": Right.ADMINISTER,
    "people.audit": Right.ADMINISTER,
    "people.audit_file": Right.ADMINISTER,
    "people.links": Right.DECIDE,
    "people.make_link": Right.DECIDE,
    "people.revoke_link": Right.DECIDE,
}
"""The right that each endpoint asks for; the office's are all `Right.PREPARE`."""

PREPARED_BLUEPRINTS = frozenset({"office"})
OWN_TOKENS = frozenset({"api"})
"""Blueprints whose calls name a token of their own, which they check themselves; a session opens nothing there."""
DECIDING_NOTES = frozenset({"shipment_delivered", "shipment_voided", "shortage_followed", "visit_decided"})
"""Kinds of notes that a coordinator alone makes, and alone withdraws."""
NOT_AUDITED = PUBLIC | frozenset({"rep.live", "rep.state", "rep.photo_image"})

FLUSH_AFTER = timedelta(seconds=5)
FLUSH_AT = 100
WRITE_EVERY_S = 2.0
"""A killed service loses the lines of at most so long: pages that were shown; deeds are written as they are done."""

PAUSE = timedelta(hours=1)
"""After this long without a request who is named by a proxy has come anew."""
MOST_PROXIED = 10_000
NO_TOKEN = "api"
"""Who calls the API before his token is known."""


class NotSignedIn(ReceivingError):
    """Nobody is signed in at this browser, or the session is over."""


class NotAllowed(ReceivingError):
    """The person who is signed in may not do this."""


@dataclass
class Trail:
    """Lines of the audit log that wait to be written together."""

    lines: list[AuditLine] = field(default_factory=list)
    since: datetime | None = None
    lock: threading.Lock = field(default_factory=threading.Lock)

    def add(self, line: AuditLine) -> list[AuditLine]:
        """Take one line; gives the lines that are due to be written now."""
        with self.lock:
            self.lines.append(line)
            self.since = self.since or line.at
            if len(self.lines) < FLUSH_AT and line.at - self.since < FLUSH_AFTER:
                return []
            return self._take()

    def take(self) -> list[AuditLine]:
        """All lines that wait."""
        with self.lock:
            return self._take()

    def put_back(self, lines: list[AuditLine]) -> None:
        """Let lines that could not be written wait on, before those that came since."""
        with self.lock:
            self.lines[:0] = lines

    def _take(self) -> list[AuditLine]:
        due, self.lines, self.since = self.lines, [], None
        return due


def set_up(app: Flask, ctx: service.Context) -> None:
    """Let every request of the app in, or refuse it; call it after all blueprints are registered.

    Raises KeyError for an endpoint of which nobody said what right it asks for.
    """
    missing = sorted(rule.endpoint for rule in app.url_map.iter_rules() if needed_right(rule.endpoint) is None)
    missing = [each for each in missing if each not in PUBLIC and not has_own_tokens(each)]
    if missing:
        raise KeyError(f"web.access.NEEDED says nothing of {', '.join(missing)}")
    trail = app.extensions["receiving.audit"] = Trail()
    app.extensions["receiving.proxied"] = {}
    app.jinja_env.globals["access"] = access
    ctx.at_close(lambda: _write(ctx, trail.take()))
    app.before_request(lambda: _let_in(ctx))
    app.after_request(lambda response: _audit(ctx, trail, response))


def has_own_tokens(endpoint: str | None) -> bool:
    """True for a call of the API, which lets nobody in by a session."""
    return (endpoint or "").partition(".")[0] in OWN_TOKENS


def needed_right(endpoint: str) -> Right | None:
    """The right that this endpoint asks for; None where nothing is said of it."""
    if endpoint.partition(".")[0] in PREPARED_BLUEPRINTS:
        return Right.PREPARE
    return NEEDED.get(endpoint)


def access() -> Access:
    """What the sender of this request may do; nothing before anybody was asked."""
    return getattr(g, "access", STRANGER)


def _let_in(ctx: service.Context) -> Response | None:
    g.request_id = str(uuid.uuid4())
    ctx.actor = Actor(address=request.remote_addr or "", request_id=g.request_id)
    response = _checked(ctx, request.endpoint)
    found = access()
    ctx.actor = replace(ctx.actor, name=found.name, role=found.role.value if found.role else "")
    return response


def _checked(ctx: service.Context, endpoint: str | None) -> Response | None:
    if has_own_tokens(endpoint):
        g.access = Access(NO_TOKEN, Role.STORE_STAFF, scope=NOTHING)
        return None
    if endpoint is None or endpoint in PUBLIC:
        g.access = STRANGER if endpoint in FOR_NOBODY else _counted(_who(ctx), endpoint) or STRANGER
        return None
    found = _counted(_who(ctx), endpoint)
    if found is None:
        return _ask_to_sign_in()
    g.access = found
    right = needed_right(endpoint)
    if right is None or not found.may(right) or not _may_note(ctx, found):
        raise NotAllowed(
            message("This account may not do that.") if found.name else message("This may not be done."),
            next_step=message("Ask a coordinator, or sign in with another account."),
        )
    if found.shipment and endpoint == "rep.shipments":
        return redirect(url_for("rep.shipment", shipment=found.shipment))  # type: ignore[return-value]
    _check_scope(ctx, found)
    return None


def _counted(found: Access | None, endpoint: str | None) -> Access | None:
    """Who sent this request, unless he asks for too much. Raises TooManyCalls."""
    if found is not ONE_USER:
        count_call(found.session if found and found.session else request.remote_addr or "", endpoint)
    return found


def count_call(who: str, endpoint: str | None) -> None:
    """Count one request of this session, program or address. Raises TooManyCalls."""
    quota: Quota | None = current_app.config["QUOTA"]
    if quota is not None:
        quota.take(who, endpoint or "")


def _who(ctx: service.Context) -> Access | None:
    """Who sent this request: a session, else the one user of this machine while there is no account."""
    if not _has_people(ctx):
        return ONE_USER
    signed_on = request.environ.get(USER, "")
    held = service.find_access(ctx, request.cookies.get(cookie_name(SESSION_COOKIE), ""))
    if signed_on:
        named = service.find_access_by_name(ctx, signed_on)
        if named:
            _come_by_proxy(ctx, named)
        else:
            service.write_refusal(ctx, Deed.SIGN_IN_REFUSED, detail="proxy")
        # A session of the same person says when he signed in here; a session of anybody else opens nothing.
        return held if held and named and held.name == named.name and not held.shipment else named
    return held


def _come_by_proxy(ctx: service.Context, found: Access) -> None:
    """Another server names the person with each request: his first one here after a pause is written down."""
    seen: dict[tuple[str, str], datetime] = current_app.extensions["receiving.proxied"]
    key, now = (found.session, request.remote_addr or ""), ctx.now()
    last = seen.get(key)
    if last is None or now - last > PAUSE:
        if len(seen) >= MOST_PROXIED:
            seen.clear()
        service.write_arrival(ctx, found, "proxy")
    seen[key] = now


def _has_people(ctx: service.Context) -> bool:
    # Accounts are closed and never removed, so this is asked until it is true.
    if not current_app.config.get("HAS_PEOPLE"):
        current_app.config["HAS_PEOPLE"] = service.has_people(ctx)
    return bool(current_app.config["HAS_PEOPLE"])


def _ask_to_sign_in() -> Response:
    if request.method == "GET" and "X-Part" not in request.headers and request.endpoint != "rep.state":
        back = request.full_path if request.query_string else request.path
        return redirect(url_for("people.sign_in", back=back))  # type: ignore[return-value]
    raise NotSignedIn(
        message("You are no longer signed in."), next_step=message("Sign in again; what you entered is kept.")
    )


def _may_note(ctx: service.Context, found: Access) -> bool:
    if request.endpoint != "rep.add_note" or found.may(Right.DECIDE):
        return True
    kind = request.form.get("kind", "")
    if kind == "note_withdrawn":
        shipment = str((request.view_args or {})["shipment"])
        return not DECIDING_NOTES & service.find_note_kinds(ctx, shipment, request.form.getlist("withdrawn"))
    return kind not in DECIDING_NOTES


def _check_scope(ctx: service.Context, found: Access) -> None:
    """Shipments and stores of others are not there for this person, in the same words as those that do not exist."""
    of = request.view_args or {}
    if not found.scope.limited and not found.shipment:
        return
    if "shipment" in of and not service.may_see(ctx, found, shipment=str(of["shipment"])):
        raise NotFound(
            message("There is no shipment {shipment}.", shipment=repr(of["shipment"])),
            next_step=message("Check the number, or import its manifest first."),
        )
    if "store" in of and not service.may_see(ctx, found, store=str(of["store"])):
        raise NotFound(
            message("There is no store {store}.", store=repr(of["store"])), next_step=message("Check the number.")
        )


def _audit(ctx: service.Context, trail: Trail, response: Response) -> Response:
    response.headers["X-Request-Id"] = g.get("request_id", "")
    found = access()
    if has_own_tokens(request.endpoint) and found.name == NO_TOKEN:
        if response.status_code == HTTPStatus.UNAUTHORIZED:
            service.write_refusal(ctx, Deed.TOKEN_REFUSED, by=replace(ctx.actor, name="", role=""))
    elif found.name and request.endpoint and request.endpoint not in NOT_AUDITED:
        of = request.view_args or {}
        line = AuditLine(
            at=ctx.now(),
            name=found.name,
            role=found.role.value if found.role else "",
            action=f"{request.method} {request.endpoint}",
            shipment=str(of.get("shipment", "")),
            store=str(of.get("store", "")),
            status=response.status_code,
            address=request.remote_addr or "",
            request_id=g.get("request_id", ""),
        )
        _write(ctx, trail.add(line))
    ctx.actor = None
    return response


def keep_writing(app: Flask, ctx: service.Context) -> None:
    """Write the lines that wait from now on, also while nobody asks for anything, until the context is closed."""
    trail: Trail = app.extensions["receiving.audit"]

    def work() -> float:
        lines = trail.take()
        try:
            _write(ctx, lines)
        except ReceivingError:
            trail.put_back(lines)
            raise
        return WRITE_EVERY_S

    ctx.repeat(work, name="audit")


def write_waiting() -> None:
    """Write the lines that wait, before somebody reads the log."""
    _write(current_app.extensions["receiving"].ctx, current_app.extensions["receiving.audit"].take())


def _write(ctx: service.Context, lines: list[AuditLine]) -> None:
    if lines:
        service.write_audit(ctx, lines)


def cookie_name(name: str) -> str:
    """The name of a cookie as it is sent: over https bound to this host alone (RFC 6265bis, 4.1.3.2)."""
    return f"__Host-{name}" if request.is_secure else name


def own_origin() -> tuple[str, str]:
    """The origin of this page as browsers write it, and its host alone."""
    return f"{request.scheme}://{request.host}", (urlsplit(f"//{request.host}").hostname or "")


def may_have_passkeys() -> bool:
    """A passkey is bound to a host's name, over https or on this machine (Web Authentication, level 3, 5.1.2)."""
    host = own_origin()[1]
    return host == "localhost" or (request.is_secure and not host.replace(".", "").isdigit() and ":" not in host)


def own_path(wanted: str, default: str = "") -> str:
    """This path where it is one of ours, else ``default`` or the list of shipments: no form leads to another site."""
    parts = urlsplit(wanted)
    ours = wanted.startswith("/") and not wanted.startswith(("//", "/\\")) and wanted.isprintable()
    return wanted if ours and not parts.scheme and not parts.netloc else default or url_for("rep.shipments")
