"""Guards on every request: only hosts that are ours, a token against forged posts, headers against foreign scripts."""

import re
import secrets
from collections.abc import Iterable
from ipaddress import ip_address

from flask import Flask, Response, g, request

from receiving.errors import BadRequest, ReceivingError

TOKEN_COOKIE = "token"
TOKEN_DAYS_S = 400 * 24 * 3600
SAFE_METHODS = {"GET", "HEAD", "OPTIONS"}

HEADERS = {
    "Content-Security-Policy": (
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob:; connect-src 'self'; "
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


class ForeignPost(ReceivingError):
    """A form was sent without the token that this browser got from us."""


class ForeignHost(ReceivingError):
    """The page was asked for under a host name that is not ours."""


_HOST = re.compile(r"(?:\[([0-9A-Fa-f:.]+)\]|([^\[\]:/@\s]+))(?::[0-9]{1,5})?")
"""Host with its port (RFC 9110, section 7.2; RFC 3986, section 3.2.2): an IPv6 address in brackets, or the rest."""


def set_up(app: Flask, allowed_hosts: Iterable[str] = ()) -> None:
    """Guard every request of the app; ``allowed_hosts`` may be asked for beside localhost and IP addresses.

    Raises BadRequest for what is no host name.
    """
    names = frozenset(map(checked_host, allowed_hosts)) | {"localhost"}

    def check_host() -> None:
        _check_host(names)

    app.before_request(check_host)
    app.before_request(_check_token)
    app.after_request(_add_headers)
    app.jinja_env.globals["form_token"] = form_token


def checked_host(name: str) -> str:
    """A host name as it is compared: lower case, no dot at the end. Raises BadRequest.

    >>> checked_host("Receiving.example.")
    'receiving.example'
    """
    if not re.fullmatch(r"[A-Za-z0-9_-]+(\.[A-Za-z0-9_-]+)*\.?", name):
        raise BadRequest(f"{name!r} is no host name.", next_step="Give the name alone, without http:// and port.")
    return name.lower().removesuffix(".")


def _check_host(names: frozenset[str]) -> None:
    """Against DNS rebinding: a foreign page whose own name leads to this machine must not read what is here."""
    asked = request.headers.get("Host", "")
    if not _is_ours(asked, names):
        raise ForeignHost(
            f"This service is not known as {asked[:100]!r}.",
            next_step="Open it by its IP address; or let whoever runs it start it with --allow-host and this name.",
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
    """The token that a form must send back; the browser's cookie holds the same (double submit)."""
    if "token" not in g:
        g.token = request.cookies.get(TOKEN_COOKIE) or secrets.token_urlsafe(24)
    token: str = g.token
    return token


def _check_token() -> None:
    if request.method in SAFE_METHODS:
        return
    held = request.cookies.get(TOKEN_COOKIE, "")
    sent = request.headers.get("X-Token") or request.form.get("token", "")
    if not held or not secrets.compare_digest(held.encode(), sent.encode()):
        raise ForeignPost(
            "This form did not come from a page that this browser has open.",
            next_step="Reload the page and send it again.",
        )


def _add_headers(response: Response) -> Response:
    for name, value in HEADERS.items():
        response.headers.setdefault(name, value)
    if "Cache-Control" not in response.headers:
        response.headers["Cache-Control"] = "no-store" if request.method not in SAFE_METHODS else "private, no-cache"
    if "token" in g and g.token != request.cookies.get(TOKEN_COOKIE):
        response.set_cookie(
            TOKEN_COOKIE, g.token, max_age=TOKEN_DAYS_S, samesite="Lax", httponly=True, secure=request.is_secure
        )
    return response
