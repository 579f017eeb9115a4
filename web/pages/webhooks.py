"""Webhooks as people read them."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import ClassVar

from receiving.messages import Text
from receiving.service import Delivery, EventKind, Webhook
from web.pages.tone import Tone
from web.pages.words import limit_words, moment_words

EVENT_WORDS = {
    EventKind.SHIPMENT_SHORT: "a shipment is known to be short",
    EventKind.ADVICE_CHANGED: "what to do about a shipment changes",
    EventKind.SHIPMENT_CONFIRMED: "a store confirms",
    EventKind.RECEIPT_SEALED: "a receipt is sealed",
}


@dataclass(frozen=True)
class EventChoice:
    """An event to tick."""

    value: str
    words: Text


@dataclass(frozen=True)
class WebhookLine:
    """One webhook."""

    webhook_id: str
    url: str
    words: Text
    in_use: bool


@dataclass(frozen=True)
class DeliveryLine:
    """One event on its way to one webhook."""

    delivery_id: int
    event: str
    shipment: str
    to: str
    at: Text
    words: Text
    tone: Tone
    state: Text


@dataclass(frozen=True)
class WebhooksPage:
    """All webhooks and the last deliveries; ``secret`` is the one that was just made."""

    template: ClassVar[str] = "webhooks.html"
    title: ClassVar[str] = "Webhooks"

    secret: str
    lines: tuple[WebhookLine, ...]
    deliveries: tuple[DeliveryLine, ...]
    events: tuple[EventChoice, ...]


def webhooks_page(
    found: Iterable[Webhook], sent: Iterable[Delivery], now: datetime, *, secret: str = ""
) -> WebhooksPage:
    """The page as of ``now``."""
    known = tuple(found)
    urls = {each.webhook_id: each.url for each in known}
    return WebhooksPage(
        secret,
        tuple(_line(each, now) for each in known),
        tuple(_delivery(each, urls.get(each.webhook_id, ""), now) for each in sent),
        tuple(EventChoice(kind.value, EVENT_WORDS[kind]) for kind in EventKind),
    )


def _line(webhook: Webhook, now: datetime) -> WebhookLine:
    events = ", ".join(EVENT_WORDS[EventKind(each)] for each in sorted(webhook.events))
    of = f"; {limits}" if (limits := limit_words(webhook.scope)) else ""
    old = webhook.old_until
    both = f"; signed with the old secret too until {moment_words(old, now)}" if old and old > now else ""
    ended = f"; ended {moment_words(webhook.ended_at, now)}" if webhook.ended_at else ""
    return WebhookLine(webhook.webhook_id, webhook.url, f"told when {events}{of}{both}{ended}", not webhook.ended_at)


def _delivery(each: Delivery, url: str, now: datetime) -> DeliveryLine:
    if each.delivered_at:
        tone, state = Tone.HERE, "Delivered"
        words = f"{moment_words(each.delivered_at, now)}, answered {each.answer}"
    elif each.next_at:
        tone, state = Tone.QUESTION, "Waits"
        words = f"{_tries(each)}; next {moment_words(each.next_at, now)}"
    else:
        tone, state = Tone.MISSING, "Given up"
        words = _tries(each)
    said = f"{words}. {each.fault}" if each.fault else words
    event = each.kind.replace("_", " ")
    return DeliveryLine(each.delivery_id, event, each.shipment, url, moment_words(each.at, now), said, tone, state)


def _tries(each: Delivery) -> str:
    return f"tried {each.tries} time{'' if each.tries == 1 else 's'}" if each.tries else "not tried yet"
