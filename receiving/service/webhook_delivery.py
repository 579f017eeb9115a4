"""Webhooks: other programs are told of what happens, beside the requests, and again until they have it."""

from collections.abc import Iterable
from concurrent.futures import ThreadPoolExecutor
from datetime import datetime, timedelta
from enum import StrEnum
from itertools import groupby

from receiving.errors import BadRequest, NotFound
from receiving.messages import message
from receiving.model import Receipt, Seal
from receiving.service.api_tokens import checked_limits
from receiving.service.context import Context
from receiving.service.webhook_sending import Sent, check_url, new_secret, send
from receiving.store import Delivery, Store, Webhook
from receiving.wording import keep_text

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

    Its secret is shown this once.
    """
    wanted = frozenset(events)
    if not wanted or not wanted <= set(EventKind):
        raise BadRequest(
            message("None of the chosen events exists."),
            next_step=message("Choose from {events}.", events=", ".join(EventKind)),
        )
    address = check_url(url, ctx.webhook_networks)
    made = Webhook(ctx.new_id(), address, wanted, checked_limits(stores, programmes), new_secret(), ctx.now(), by)
    with ctx.store() as store:
        store.add_webhook(made)
    return made


def webhooks(ctx: Context) -> tuple[Webhook, ...]:
    """All webhooks, those in use first."""
    with ctx.store() as store:
        return store.webhooks()


def webhook_deliveries(ctx: Context, most: int = 100, webhook_id: str = "") -> tuple[Delivery, ...]:
    """The last deliveries (of one webhook), the newest first."""
    with ctx.store() as store:
        return store.deliveries(most, webhook_id)


def rotate_webhook_secret(ctx: Context, webhook_id: str) -> str:
    """Sign with a new secret from now on, and with the old one too for a day; gives the new one. Raises NotFound."""
    secret = new_secret()
    with ctx.store() as store:
        if not store.change_secret(webhook_id, secret, ctx.now() + OLD_SECRET_FOR):
            raise _no_webhook()
    return secret


def end_webhook(ctx: Context, webhook_id: str) -> None:
    """Tell this address nothing more. Raises NotFound."""
    with ctx.store() as store:
        if not store.end_webhook(webhook_id, ctx.now()):
            raise _no_webhook()


def try_webhook(ctx: Context, webhook_id: str) -> None:
    """Send a message that says nothing, to see whether it arrives. Raises NotFound."""
    with ctx.store() as store:
        if webhook_id not in {each.webhook_id for each in store.webhooks() if each.ended_at is None}:
            raise _no_webhook()
        store.add_event(ctx.new_id(), TRIAL, "", ctx.now(), {}, only=webhook_id)


def send_delivery_again(ctx: Context, delivery_id: int) -> None:
    """Send a delivery once more, from the first wait on. Raises NotFound."""
    with ctx.store() as store:
        if not store.send_again(delivery_id, ctx.now()):
            raise NotFound(
                message("There is no such delivery to a webhook in use."),
                next_step=message("Choose one from the list."),
            )


def _no_webhook() -> NotFound:
    return NotFound(message("There is no such webhook in use."), next_step=message("Choose one from the list."))


def tell_of_receipt(ctx: Context, store: Store, receipt: Receipt, seal: Seal) -> None:
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
    """Send what is due from now on, in a thread of its own, until the context is closed."""
    forgotten = ctx.now() - FORGET_EVERY

    def work() -> float:
        nonlocal forgotten
        if ctx.now() - forgotten >= FORGET_EVERY:
            with ctx.store() as store:
                store.forget_deliveries(ctx.now())
            forgotten = ctx.now()
        return 0.0 if send_due(ctx) else EVERY_S

    ctx.repeat(work, name="webhooks")


def send_due(ctx: Context) -> int:
    """Send what is due; gives how many messages were tried.

    An address that fails gets nothing more in this round: its other messages wait as long as the one that failed.
    """
    with ctx.store() as store:
        due = store.due_deliveries(ctx.now(), MOST_DUE)
        known = {each.webhook_id: each for each in store.webhooks()}
    if not due:
        return 0
    ordered = sorted(due, key=lambda each: (each.webhook_id, each.delivery_id))
    groups = [(known[name], list(several)) for name, several in groupby(ordered, key=lambda each: each.webhook_id)]
    with ThreadPoolExecutor(AT_ONCE, thread_name_prefix="webhook") as pool:
        done = list(pool.map(lambda group: _send_all(ctx, *group), groups))
    tried = [each for group in done for each in group]
    with ctx.transaction() as store:
        for delivery, sent in tried:
            _keep(store, delivery, sent, ctx.now())
    return len(tried)


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


def _keep(store: Store, delivery: Delivery, sent: Sent, now: datetime) -> None:
    wait = next_wait(delivery.tries)
    failed = bool(sent.fault)
    store.tried(
        delivery.delivery_id,
        answer=sent.answer,
        fault=keep_text(sent.fault),
        delivered_at=None if failed else now,
        next_at=now + wait if failed and wait is not None else None,
    )


def next_wait(tries: int) -> timedelta | None:
    """How long a message waits that failed after so many tries before; None where it is given up.

    >>> next_wait(0), next_wait(8)
    (datetime.timedelta(seconds=10), None)
    """
    return timedelta(seconds=WAITS_S[tries]) if tries < len(WAITS_S) else None
