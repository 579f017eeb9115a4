"""A server in front of this one: what it says of a request is believed from its address alone.

A proxy tells by X-Forwarded-For, -Proto and -Host who asked, how and for what; with sign-on it tells by a header of its
own who is signed in. The same headers from anybody else are taken off before anything reads them.
"""

from collections.abc import Callable, Iterable
from ipaddress import ip_address
from typing import TYPE_CHECKING, Any

from werkzeug.middleware.proxy_fix import ProxyFix

from receiving.errors import BadRequest
from receiving.messages import message

if TYPE_CHECKING:
    from _typeshed.wsgi import StartResponse, WSGIApplication, WSGIEnvironment

FORWARDED = ("FOR", "PROTO", "HOST", "PORT", "PREFIX", "BY")
USER = "receiving.user"
"""Where the name of the person whom the proxy signed in stands in the environment of a request."""


class TrustedProxy:
    """Middleware that believes the proxy at ``address``, and takes its headers off everybody else's requests.

    ``user_header`` names the header in which the proxy tells who is signed in; empty where it signs nobody in.
    """

    def __init__(self, app: "WSGIApplication", address: str, user_header: str = "") -> None:
        self._app = app
        self._believing = ProxyFix(app, x_for=1, x_proto=1, x_host=1)
        self._address = ip_address(checked_address(address)) if address else None
        self._user_key = f"HTTP_{user_header.upper().replace('-', '_')}" if user_header else ""

    def __call__(self, environ: "WSGIEnvironment", start_response: "StartResponse") -> Iterable[bytes]:
        """Answer a request (WSGI, PEP 3333)."""
        environ.pop(USER, None)
        if self._address is not None and self._is_proxy(environ.get("REMOTE_ADDR", "")):
            if self._user_key:
                environ[USER] = environ.get(self._user_key, "")
            return self._believing(environ, start_response)
        for key in (*(f"HTTP_X_FORWARDED_{name}" for name in FORWARDED), "HTTP_FORWARDED", self._user_key):
            environ.pop(key, None)
        return self._app(environ, start_response)

    def _is_proxy(self, address: str) -> bool:
        try:
            return ip_address(address) == self._address
        except ValueError:
            return False


def checked_address(address: str) -> str:
    """The IP address of a proxy; raises BadRequest for what is not one.

    >>> checked_address("127.0.0.1")
    '127.0.0.1'
    """
    try:
        return str(ip_address(address))
    except ValueError as fault:
        raise BadRequest(
            message("{address} is not an IP address.", address=repr(address)),
            next_step=message("Give the proxy's address as this service sees it."),
        ) from fault


def wrap_app(app: Any, address: str, user_header: str) -> "Callable[..., Iterable[bytes]]":
    """The app behind the check of who forwards."""
    if user_header and not address:
        raise BadRequest(
            message("The header {user_header} would be believed from anybody.", user_header=repr(user_header)),
            next_step=message("Name the proxy that sets it with --proxy ADDRESS."),
        )
    return TrustedProxy(app, address, user_header)
