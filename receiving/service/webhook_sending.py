"""Webhooks: other programs are told of what happens, beside the requests, and again until they have it.

Each message is signed, and sent to nobody but the address that its name stands for.

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
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from http.client import HTTPConnection, HTTPException
from ipaddress import IPv4Address, IPv4Network, IPv6Address, IPv6Network, ip_address, ip_network
from itertools import groupby
from urllib.parse import urlsplit

from receiving import __version__
from receiving.errors import BadRequest, NotFound
from receiving.messages import Text, message
from receiving.model import Deed, Receipt, Seal
from receiving.service.accounts import checked_limits
from receiving.service.auditing import record
from receiving.service.context import Context
from receiving.service.stored_texts import refuse_hidden_characters
from receiving.store import Delivery, Store, Webhook
from receiving.wording import to_stored_text
from receiving.wording.network import why_no_answer

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
            raise BadRequest(message("{written} is not a network.", written=repr(text)), next_step=step) from fault
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
        return Sent(0, message("No answer: {why}.", why=why_no_answer(fault)))
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
            "Ask whoever runs the service to start it with --webhook-network and that network, if it is meant."
        ),
    )


# Deliveries: what is due is sent in threads of its own, and a failed one again after a growing wait.


WAITS_S = (10, 60, 5 * 60, 30 * 60, 2 * 3600, 6 * 3600, 12 * 3600, 24 * 3600)
"""How long each try waits after the one before; after the last a person has to send it again. Two days in all."""

OLD_SECRET_FOR = timedelta(hours=24)
"""So long messages are signed with the old secret too, while the other program learns the new one."""

EVERY_S = 1.0
AT_ONCE, MOST_DUE = 4, 40
FORGET_EVERY = timedelta(hours=1)


class EventKind(StrEnum):
    """What other programs are told of."""

    SHIPMENT_SHORT = "shipment_short"
    ADVICE_CHANGED = "advice_changed"
    SHIPMENT_CONFIRMED = "shipment_confirmed"
    RECEIPT_SEALED = "receipt_sealed"


TRIAL = "trial"
"""The kind of a message that was sent to see whether it arrives."""


def make_webhook(
    ctx: Context,
    url: str,
    events: Iterable[str],
    *,
    by: str,
    stores: Iterable[str] | None = None,
    programmes: Iterable[str] | None = None,
) -> Webhook:
    """Tell this address of these events (of these stores and programmes alone) from now on. Raises BadRequest.

    Its secret is shown only this once.
    """
    wanted = frozenset(events)
    if not wanted or not wanted <= set(EventKind):
        raise BadRequest(
            message("None of the chosen events exists."),
            next_step=message("Choose from {events}.", events=", ".join(EventKind)),
        )
    refuse_hidden_characters({"url": url, "by": by}, lines=False)
    address = check_url(url, ctx.webhook_networks)
    made = Webhook(ctx.new_id(), address, wanted, checked_limits(stores, programmes), new_secret(), ctx.now(), by)
    with ctx.transaction() as store:
        store.add_webhook(made)
        record(ctx, store, Deed.WEBHOOK_MADE, about=_host(made.url), detail=" ".join(sorted(wanted)))
    return made


def list_webhooks(ctx: Context) -> tuple[Webhook, ...]:
    """All webhooks, those in use first."""
    with ctx.store() as store:
        return store.webhooks()


def list_webhook_deliveries(ctx: Context, most: int = 100, webhook_id: str = "") -> tuple[Delivery, ...]:
    """The last deliveries (of one webhook), the newest first."""
    with ctx.store() as store:
        return store.deliveries(most, webhook_id)


@dataclass(frozen=True)
class WebhooksView:
    """All webhooks, those in use first, and the last deliveries, the newest first."""

    webhooks: tuple[Webhook, ...]
    deliveries: tuple[Delivery, ...]


def get_webhooks_view(ctx: Context) -> WebhooksView:
    """All webhooks and what was sent to them last."""
    with ctx.moment():
        return WebhooksView(list_webhooks(ctx), list_webhook_deliveries(ctx))


def rotate_webhook_secret(ctx: Context, webhook_id: str) -> str:
    """Sign with a new secret from now on, and with the old one too for a day; gives the new one. Raises NotFound."""
    secret = new_secret()
    with ctx.transaction() as store:
        if not store.change_secret(webhook_id, secret, ctx.now() + OLD_SECRET_FOR):
            raise _no_webhook()
        record(ctx, store, Deed.WEBHOOK_CHANGED, about=_host_of(store, webhook_id), detail="secret")
    return secret


def end_webhook(ctx: Context, webhook_id: str) -> None:
    """Tell this address nothing more. Raises NotFound."""
    with ctx.transaction() as store:
        if not store.end_webhook(webhook_id, ctx.now()):
            raise _no_webhook()
        record(ctx, store, Deed.WEBHOOK_ENDED, about=_host_of(store, webhook_id))


def _host_of(store: Store, webhook_id: str) -> str:
    return next((_host(each.url) for each in store.webhooks() if each.webhook_id == webhook_id), "")


def _host(url: str) -> str:
    """What the audit log says of an address: its path may hold a secret."""
    return urlsplit(url).hostname or ""


def try_webhook(ctx: Context, webhook_id: str) -> None:
    """Send a message that says nothing, to see whether it arrives. Raises NotFound."""
    with ctx.transaction() as store:
        if webhook_id not in {each.webhook_id for each in store.webhooks() if each.ended_at is None}:
            raise _no_webhook()
        store.add_event(ctx.new_id(), TRIAL, "", ctx.now(), {}, only=webhook_id)


def send_delivery_again(ctx: Context, delivery_id: int) -> None:
    """Send a delivery once more, from the first wait on. Raises NotFound."""
    with ctx.transaction() as store:
        if not store.send_again(delivery_id, ctx.now()):
            raise NotFound(
                message("There is no such delivery to a webhook in use."),
                next_step=message("Choose one from the list."),
            )


def _no_webhook() -> NotFound:
    return NotFound(message("There is no such webhook in use."), next_step=message("Choose one from the list."))


def notify_of_receipt(ctx: Context, store: Store, receipt: Receipt, seal: Seal) -> None:
    """Store the events of a confirmation; call it in its transaction."""
    shown = receipt.shown
    data = {
        "number": receipt.number,
        "name": receipt.name,
        "role": receipt.role,
        "with_exceptions": receipt.with_exceptions,
        "expected": shown.expected,
        "received": shown.received,
        "short": shown.short,
        "digest": shown.digest,
    }
    sealed = {"number": receipt.number, "digest": shown.digest, "signature": seal.signature, "key": seal.public_key}
    for kind, what in ((EventKind.SHIPMENT_CONFIRMED, data), (EventKind.RECEIPT_SEALED, sealed)):
        store.add_event(store.new_event_id(), kind, shown.shipment, receipt.confirmed_at, what)


def keep_sending(ctx: Context) -> None:
    """Send what is due from now on, in threads of its own, until the context is closed."""
    forgotten, sender = ctx.now() - FORGET_EVERY, _Sender(ctx)
    ctx.at_close(sender.close)

    def work() -> float:
        nonlocal forgotten
        if ctx.now() - forgotten >= FORGET_EVERY:
            with ctx.transaction() as store:
                store.forget_deliveries(ctx.now())
            forgotten = ctx.now()
        return 0.1 if sender.go_on() else EVERY_S

    ctx.repeat(work, name="webhooks")


class _Sender:
    """Sends to several addresses side by side: one that answers slowly holds up nobody but itself."""

    def __init__(self, ctx: Context) -> None:
        self._ctx = ctx
        self._pool = ThreadPoolExecutor(AT_ONCE, thread_name_prefix="webhook")
        self._under_way: dict[str, Future[list[tuple[Delivery, Sent]]]] = {}

    def go_on(self) -> bool:
        """Store what came of messages, and send what is due to addresses that are free; True while any is under way."""
        self.store_ended()
        self.send_due()
        return bool(self._under_way)

    def send_due(self) -> None:
        """Begin to send what is due, to addresses to which nothing is under way."""
        for webhook, several in _due(self._ctx, self._under_way):
            self._under_way[webhook.webhook_id] = self._pool.submit(_send_all, self._ctx, webhook, several)

    def store_ended(self) -> int:
        """Store what came of messages; gives how many were tried."""
        ended = [name for name, job in self._under_way.items() if job.done()]
        tried = [each for name in ended for each in self._under_way[name].result()]
        if tried:
            with self._ctx.transaction() as store:
                for delivery, sent in tried:
                    _store_result(store, delivery, sent, self._ctx.now())
        for name in ended:
            del self._under_way[name]
        return len(tried)

    def wait(self) -> None:
        """Wait until nothing is under way."""
        for job in self._under_way.values():
            job.result()

    def close(self) -> None:
        """Send nothing more; what is under way is sent once more by the next start, under its own id."""
        self._pool.shutdown(wait=False, cancel_futures=True)


def send_due(ctx: Context) -> int:
    """Send what is due and wait for it; gives how many messages were tried.

    An address that fails gets nothing more in this round: its other messages wait as long as the one that failed.
    """
    sender = _Sender(ctx)
    try:
        sender.send_due()
        sender.wait()
        return sender.store_ended()
    finally:
        sender.close()


def _due(ctx: Context, but: Iterable[str] = ()) -> list[tuple[Webhook, list[Delivery]]]:
    """What is due to each address, in the order in which it happened, without these webhooks."""
    with ctx.store() as store:
        due = store.due_deliveries(ctx.now(), MOST_DUE, but)
        known = {each.webhook_id: each for each in store.webhooks()} if due else {}
    ordered = sorted(due, key=lambda each: (each.webhook_id, each.delivery_id))
    return [(known[name], list(several)) for name, several in groupby(ordered, key=lambda each: each.webhook_id)]


def _send_all(ctx: Context, webhook: Webhook, several: list[Delivery]) -> list[tuple[Delivery, Sent]]:
    done: list[tuple[Delivery, Sent]] = []
    for delivery in several:
        if done and done[-1][1].fault:
            done.append((delivery, Sent(0, message("Waits for an earlier message."))))
            continue
        now = ctx.now()
        old = [webhook.old_secret] if webhook.old_until and webhook.old_until > now else []
        sent = send(
            webhook.url,
            delivery.body.encode(),
            message_id=delivery.event_id,
            signed_with=[webhook.secret, *old],
            now=now,
            allowed=ctx.webhook_networks,
        )
        done.append((delivery, sent))
    return done


def _store_result(store: Store, delivery: Delivery, sent: Sent, now: datetime) -> None:
    wait = next_wait(delivery.tries)
    failed = bool(sent.fault)
    store.tried(
        delivery.delivery_id,
        answer=sent.answer,
        fault=to_stored_text(sent.fault),
        delivered_at=None if failed else now,
        next_at=now + wait if failed and wait is not None else None,
    )


def next_wait(tries: int) -> timedelta | None:
    """How long a message waits that failed after this many tries before; None where it is given up.

    >>> next_wait(0), next_wait(8)
    (datetime.timedelta(seconds=10), None)
    """
    return timedelta(seconds=WAITS_S[tries]) if tries < len(WAITS_S) else None
