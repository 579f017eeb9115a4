"""Guards on every request: only hosts that are ours, a token against forged posts, headers against foreign scripts."""

import hashlib
import hmac
import re
import secrets
from collections.abc import Iterable
from ipaddress import ip_address
from urllib.parse import urlsplit

from flask import Flask, Response, current_app, g, request
from flask.globals import request_ctx

from receiving import service
from receiving.errors import BadRequest, ReceivingError
from receiving.messages import message
from web.access import FOR_NOBODY, access, cookie_name

TOKEN_COOKIE = "token"
HSTS = "max-age=31536000; includeSubDomains"
"""HTTP Strict Transport Security (RFC 6797) for a year."""
TOKEN_DAYS_S = 400 * 24 * 3600
SAFE_METHODS = {"GET", "HEAD", "OPTIONS"}

HEADERS = {
    "Content-Security-Policy": (
        "default-src 'none'; script-src 'self' 'wasm-unsafe-eval'; style-src 'self'; img-src 'self' blob:; "
        "connect-src 'self'; "
        "worker-src 'self'; manifest-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
    ),
    "X-Service": "receiving",
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(self), geolocation=(), microphone=()",
}
"""Content Security Policy Level 3 (W3C); the rest as the OWASP Secure Headers Project lists them."""


class CrossSitePost(ReceivingError):
    """A form was sent without the token that this browser got from us."""


class UnknownHost(ReceivingError):
    """The page was asked for under a host name that is not ours."""


_HOST = re.compile(r"(?:\[([0-9A-Fa-f:.]+)\]|([^\[\]:/@\s]+))(?::[0-9]{1,5})?")
"""Host with its port (RFC 9110, section 7.2; RFC 3986, section 3.2.2): an IPv6 address in brackets, or the rest."""


def set_up(app: Flask, allowed_hosts: Iterable[str] = (), *, secret: str) -> None:
    """Guard every request of the app; ``allowed_hosts`` may be asked for beside localhost and IP addresses.

    ``secret`` is what form tokens are signed with, so that only this service can make one.

    Raises BadRequest for what is not a host name.
    """
    names = frozenset(map(checked_host, allowed_hosts)) | {"localhost"}

    def check_host() -> None:
        _check_host(names)

    app.config["FORM_SECRET"] = secret
    app.before_request(check_host)
    app.after_request(_add_headers)
    app.jinja_env.globals["form_token"] = form_token


def checked_host(name: str) -> str:
    """A host name as it is compared: lower case, no dot at the end. Raises BadRequest.

    >>> checked_host("Receiving.example.")
    'receiving.example'
    """
    if not re.fullmatch(r"[A-Za-z0-9_-]+(\.[A-Za-z0-9_-]+)*\.?", name):
        raise BadRequest(
            message("{name} is not a host name.", name=repr(name)),
            next_step=message("Give the name alone, without http:// and port."),
        )
    return name.lower().removesuffix(".")


def _check_host(names: frozenset[str]) -> None:
    """Against DNS rebinding: a foreign page whose own name leads to this machine must not read what is here."""
    asked = request.headers.get("Host", "")
    if not _is_ours(asked, names):
        if request_ctx.url_adapter is None:  # the host is none that has an IDNA form, as "." or "a..b"
            request_ctx.url_adapter = current_app.url_map.bind("localhost")  # the page's own addresses name no host
        raise UnknownHost(
            message("This service is not known as {host}.", host=repr(asked[:100])),
            next_step=message(
                "Open it by its IP address; or ask whoever runs it to start it with --allow-host and this name."
            ),
        )


def _is_ours(asked: str, names: frozenset[str]) -> bool:
    parts = _HOST.fullmatch(asked)
    if parts is None:
        return False
    host = (parts[1] or parts[2]).lower().removesuffix(".")
    return host in names or _is_address(host, version=6 if parts[1] else 4)


def _is_address(host: str, *, version: int) -> bool:
    try:
        return ip_address(host).version == version
    except ValueError:
        return False


def form_token() -> str:
    """The token that a form must send back; the browser's cookie holds the same (signed double submit).

    It is made by this service for this session, so neither a foreign page nor another session can make one up
    (OWASP Cross-Site Request Forgery Prevention: signed double-submit cookie).
    """
    if "token" not in g:
        held = request.cookies.get(cookie_name(TOKEN_COOKIE), "")
        g.token = held if _made_here(held) else _new_token()
    token: str = g.token
    return token


def _new_token() -> str:
    nonce = secrets.token_urlsafe(18)
    return f"{nonce}.{_signature(nonce)}"


def _made_here(token: str) -> bool:
    nonce, _, signature = token.rpartition(".")
    return bool(nonce) and hmac.compare_digest(signature.encode(), _signature(nonce).encode())


def _signature(nonce: str) -> str:
    key = current_app.config["FORM_SECRET"].encode()
    return hmac.new(key, f"{access().session} {nonce}".encode(), hashlib.sha256).hexdigest()


def check_token() -> None:
    """Refuse a form that did not come from a page of ours in this session. Raises CrossSitePost."""
    if request.method in SAFE_METHODS or (request.endpoint or "").startswith("api."):
        return  # a call of the API is let in by a header that no foreign page can send
    held = request.cookies.get(cookie_name(TOKEN_COOKIE), "")
    sent = request.headers.get("X-Token") or request.form.get("token", "")
    same = secrets.compare_digest(held.encode(), sent.encode())
    if not same or not _made_here(held) or not _from_our_page():
        raise CrossSitePost(
            message("This form did not come from a page that this browser has open."),
            next_step=message("Reload the page and send it again."),
        )


LABEL_TEXTS = frozenset(("text", "gs1", "matrix", "example"))
"""Fields that hold what a scanner sends, which has control characters of its own, or a file's text, checked there."""


def check_texts() -> None:
    """Refuse a form of which some text would read other than it is. Raises BadRequest."""
    if request.method in SAFE_METHODS or (request.endpoint or "").startswith("api."):
        return  # what a program sends is looked at where it is understood
    for name, value in request.form.items(multi=True):
        if name not in LABEL_TEXTS:
            service.refuse_hidden_characters({name[:40]: value})


def _from_our_page() -> bool:
    """What the browser says of where the form stood; one that says nothing is judged by its token alone.

    Over https a page of this host that came over http is foreign too: anybody on the way can have written it.
    """
    origin = request.headers.get("Origin")
    if origin is None:
        return True
    parts = urlsplit(origin)
    return parts.netloc.lower() == request.host.lower() and (parts.scheme == "https" or not request.is_secure)


def _add_headers(response: Response) -> Response:
    for name, value in HEADERS.items():
        response.headers.setdefault(name, value)
    if request.is_secure and request.environ.get("HTTP_HOST", "").partition(":")[0] != "localhost":
        # A browser heeds it once it trusts the certificate (RFC 6797, 8.1), and never for an address in digits; at
        # localhost other programs may answer without https.
        response.headers.setdefault("Strict-Transport-Security", HSTS)
    if "Cache-Control" not in response.headers:
        response.headers["Cache-Control"] = "no-store" if request.method not in SAFE_METHODS else "private, no-cache"
    # Whoever asks for what is the same for all is not looked up: a token for nobody must not take the place of his own.
    if (
        request.endpoint not in FOR_NOBODY
        and "token" in g
        and g.token != request.cookies.get(cookie_name(TOKEN_COOKIE))
    ):
        response.set_cookie(
            cookie_name(TOKEN_COOKIE),
            g.token,
            max_age=TOKEN_DAYS_S,
            samesite="Lax",
            httponly=True,
            secure=request.is_secure,
        )
    return response
