"""Guards on every request: a token against forged posts, and headers that let no foreign script run."""

import secrets

from flask import Flask, Response, g, request

from receiving.errors import ReceivingError

TOKEN_COOKIE = "token"
TOKEN_DAYS_S = 400 * 24 * 3600
SAFE_METHODS = {"GET", "HEAD", "OPTIONS"}

HEADERS = {
    "Content-Security-Policy": (
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob:; connect-src 'self'; "
        "worker-src 'self'; manifest-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
    ),
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(self), geolocation=(), microphone=()",
}
"""Content Security Policy Level 3 (W3C); the rest as the OWASP Secure Headers Project lists them."""


class ForeignPost(ReceivingError):
    """A form was sent without the token that this browser got from us."""


def set_up(app: Flask) -> None:
    """Guard every request of the app."""
    app.before_request(_check_token)
    app.after_request(_add_headers)
    app.jinja_env.globals["form_token"] = form_token


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
