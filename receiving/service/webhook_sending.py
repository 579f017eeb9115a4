"""One message of a webhook: signed, and sent to nobody but the address that its name stands for.

Signed as Standard Webhooks 1.0 says (standardwebhooks.com): HMAC-SHA256 over the id, the time and the body. A name is
looked up once and that very address is connected to: a name that changes its mind (DNS rebinding) leads nowhere.
Private and local addresses are refused unless they were allowed (OWASP Server-Side Request Forgery Prevention).
"""

import base64
import hashlib
import hmac
import secrets
import socket
import ssl
import threading
from collections.abc import Iterable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from http.client import HTTPConnection, HTTPException
from ipaddress import IPv4Address, IPv4Network, IPv6Address, IPv6Network, ip_address, ip_network
from urllib.parse import urlsplit

from receiving import __version__
from receiving.errors import BadRequest
from receiving.messages import Text, message

Network = IPv4Network | IPv6Network
Address = IPv4Address | IPv6Address

SECRET_PREFIX = "whsec_"
TIMEOUT_S, LONGEST_S = 10.0, 30.0
"""For one step of a message, and for all of it."""

MAX_URL = 500
_NAT64 = IPv6Network("64:ff9b::/96")
"""Carries an IPv4 address in its last 32 bits (RFC 6052, section 2.1)."""


@dataclass(frozen=True)
class Sent:
    """What came of one try: the HTTP status, 0 where none came, and what went wrong, empty where it arrived."""

    answer: int
    fault: Text


def new_secret() -> str:
    """A secret of 32 bytes as it is shown."""
    return SECRET_PREFIX + base64.b64encode(secrets.token_bytes(32)).decode()


def signature(secret: str, message_id: str, sent_at: int, body: bytes) -> str:
    """The signature of a message, ``sent_at`` in seconds since 1970 (UTC), as its header says it.

    >>> signature("whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw", "msg_p5jXN8AQM9LWM0D4loKWxJek", 1614265330,
    ...           b'{"test": 2432232314}')
    'v1,g0hM9SsE+OTPJTGt/tmIKtSyZlE3uFJELVlNIOLJ1OE='
    """
    key = base64.b64decode(secret.removeprefix(SECRET_PREFIX))
    signed = f"{message_id}.{sent_at}.".encode() + body
    return "v1," + base64.b64encode(hmac.new(key, signed, hashlib.sha256).digest()).decode()


def check_url(url: str, allowed: Sequence[Network] = ()) -> str:
    """The address of a webhook as it is kept. Raises BadRequest.

    Plain http is for networks that were ``allowed``, since nobody on the way should read or change a message.
    """
    text = url.strip()
    parts = urlsplit(text)
    try:
        host, port = parts.hostname, parts.port
    except ValueError:
        host, port = None, 0
    if parts.scheme not in ("http", "https") or not host or len(text) > MAX_URL or not text.isprintable() or port == 0:
        step = message("Write it like https://program.example.com/receiving.")
        raise BadRequest(message("{written} is not a web address.", written=repr(text[:80])), next_step=step)
    if parts.username is not None or parts.fragment:
        step = message("Leave the name, the password and what follows # out of it.")
        raise BadRequest(message("The address holds more than where to send."), next_step=step)
    literal = _literal(host)
    if literal is not None and not may_reach(literal, allowed):
        raise _not_public(host)
    if parts.scheme == "http" and not allowed:
        raise BadRequest(
            message("The address is not https."), next_step=message("Use https, so that nobody on the way reads it.")
        )
    return text


def _literal(host: str) -> Address | None:
    try:
        return ip_address(host)
    except ValueError:
        return None


def read_networks(texts: Iterable[str]) -> tuple[Network, ...]:
    """Networks as ``10.1.0.0/16`` that webhooks may reach though they are not public. Raises BadRequest."""
    found: list[Network] = []
    for text in texts:
        try:
            found.append(ip_network(text))
        except ValueError as fault:
            step = message("Write it like 10.1.0.0/16 or 127.0.0.1/32.")
            raise BadRequest(
                message("{written} is not a network: {fault}.", written=repr(text), fault=fault), next_step=step
            ) from fault
    return tuple(found)


def may_reach(address: Address, allowed: Sequence[Network]) -> bool:
    """True for a public address, also in what an IPv6 address carries of IPv4, and for one that was allowed.

    >>> [may_reach(ip_address(each), ()) for each in ("192.0.43.8", "10.1.2.3", "::ffff:127.0.0.1", "169.254.169.254")]
    [True, False, False, False]
    """
    if any(address.version == network.version and address in network for network in allowed):
        return True
    carried = _carried(address)
    if carried is not None and not may_reach(carried, allowed):
        return False
    return carried is not None or (address.is_global and not address.is_multicast and not address.is_reserved)


def _carried(address: Address) -> IPv4Address | None:
    if isinstance(address, IPv4Address):
        return None
    if address in _NAT64:
        return IPv4Address(int(address) & 0xFFFF_FFFF)
    return address.ipv4_mapped or address.sixtofour or (address.teredo[1] if address.teredo else None)


def send(
    url: str,
    body: bytes,
    *,
    message_id: str,
    signed_with: Sequence[str],
    now: datetime,
    allowed: Sequence[Network] = (),
) -> Sent:
    """Send one message; no redirect is followed, and of the answer its status alone counts."""
    sent_at = int(now.timestamp())
    headers = {
        "Content-Type": "application/json",
        "User-Agent": f"receiving/{__version__}",
        "webhook-id": message_id,
        "webhook-timestamp": str(sent_at),
        "webhook-signature": " ".join(signature(secret, message_id, sent_at, body) for secret in signed_with),
    }
    try:
        check_url(url, allowed)
        status = _post(url, body, headers, allowed)
    except BadRequest as fault:
        return Sent(0, fault.words)
    except (OSError, HTTPException, ValueError) as fault:
        return Sent(0, message("No answer: {fault}.", fault=str(fault) or type(fault).__name__))
    if 200 <= status < 300:
        return Sent(status, "")
    if 300 <= status < 400:
        return Sent(status, message("The program answered {status}: redirects are not followed.", status=status))
    return Sent(status, message("The program answered {status}.", status=status))


def _post(url: str, body: bytes, headers: dict[str, str], allowed: Sequence[Network]) -> int:
    parts = urlsplit(url)
    host, tls = parts.hostname or "", parts.scheme == "https"
    port = parts.port or (443 if tls else 80)
    connection = HTTPConnection(host, port, timeout=TIMEOUT_S)
    connection.sock = _connected(host, port, allowed, tls=tls)
    end = threading.Timer(LONGEST_S, _cut, [connection.sock])
    end.daemon = True
    end.start()
    try:
        path = (parts.path or "/") + (f"?{parts.query}" if parts.query else "")
        named = f"[{host}]" if ":" in host else host
        connection.request("POST", path, body, {"Host": f"{named}:{port}" if parts.port else named, **headers})
        return connection.getresponse().status
    finally:
        end.cancel()
        connection.close()


def _cut(sock: socket.socket) -> None:
    """End a message that drips."""
    with suppress(OSError):  # it may be over already
        sock.shutdown(socket.SHUT_RDWR)


def _connected(host: str, port: int, allowed: Sequence[Network], *, tls: bool) -> socket.socket:
    """A connection to this host, at the address that was looked at."""
    found = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)
    addresses = [str(each[4][0]).partition("%")[0] for each in found]
    if not addresses or not all(may_reach(ip_address(each), allowed) for each in addresses):
        raise _not_public(host)
    plain = socket.create_connection((addresses[0], port), TIMEOUT_S)
    if not tls:
        return plain
    try:
        return ssl.create_default_context().wrap_socket(plain, server_hostname=host)
    except BaseException:
        plain.close()
        raise


def _not_public(host: str) -> BadRequest:
    return BadRequest(
        message("{host} is an address of this machine or of a private network; nothing was sent.", host=repr(host)),
        next_step=message(
            "Let whoever runs the service start it with --webhook-network and that network, if it is meant."
        ),
    )
