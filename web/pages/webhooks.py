"""Webhooks as people read them."""

from dataclasses import dataclass
from datetime import datetime
from typing import ClassVar

from receiving.messages import Message, Text, joined, message, plural
from receiving.service import Delivery, EventKind, Webhook, WebhooksView
from receiving.wording import stored_words
from web.pages.tone import Tone
from web.pages.words import limit_words, moment_words

EVENT_WORDS = {
    EventKind.SHIPMENT_SHORT: message("a shipment is known to be short"),
    EventKind.ADVICE_CHANGED: message("what to do about a shipment changes"),
    EventKind.SHIPMENT_CONFIRMED: message("a store confirms"),
    EventKind.RECEIPT_SEALED: message("a receipt is sealed"),
}


_EVENT_NAMES = {
    EventKind.SHIPMENT_SHORT: message("shipment short"),
    EventKind.ADVICE_CHANGED: message("advice changed"),
    EventKind.SHIPMENT_CONFIRMED: message("shipment confirmed"),
    EventKind.RECEIPT_SEALED: message("receipt sealed"),
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
    event: Text
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
    title: ClassVar[Text] = message("Webhooks")

    secret: str
    lines: tuple[WebhookLine, ...]
    deliveries: tuple[DeliveryLine, ...]
    events: tuple[EventChoice, ...]


def webhooks_page(found: WebhooksView, now: datetime, *, secret: str = "") -> WebhooksPage:
    """The page as of ``now``."""
    known = found.webhooks
    urls = {each.webhook_id: each.url for each in known}
    return WebhooksPage(
        secret,
        tuple(_line(each, now) for each in known),
        tuple(_delivery(each, urls.get(each.webhook_id, ""), now) for each in found.deliveries),
        tuple(EventChoice(kind.value, EVENT_WORDS[kind]) for kind in EventKind),
    )


def _line(webhook: Webhook, now: datetime) -> WebhookLine:
    events = joined(*(EVENT_WORDS[EventKind(each)] for each in sorted(webhook.events)), separator=", ")
    old, ended = webhook.old_until, webhook.ended_at
    parts = (
        message("notified when {events}", events=events),
        limit_words(webhook.scope),
        message("signed with the old secret too until {moment}", moment=moment_words(old, now))
        if old and old > now
        else "",
        message("ended {moment}", moment=moment_words(ended, now)) if ended else "",
    )
    return WebhookLine(webhook.webhook_id, webhook.url, joined(*parts, separator="; "), not ended)


def _delivery(each: Delivery, url: str, now: datetime) -> DeliveryLine:
    words: Text
    if each.delivered_at:
        tone, state = Tone.HERE, message("Delivered")
        words = message("{moment}, answered {answer}", moment=moment_words(each.delivered_at, now), answer=each.answer)
    elif each.next_at:
        tone, state = Tone.QUESTION, message("Waits")
        words = message("{tries}; next {moment}", tries=_tries(each), moment=moment_words(each.next_at, now))
    else:
        tone, state = Tone.MISSING, message("Given up")
        words = _tries(each)
    stated = message("{statement}. {fault}", statement=words, fault=stored_words(each.fault)) if each.fault else words
    at, event = moment_words(each.at, now), _event(each.kind)
    return DeliveryLine(each.delivery_id, event, each.shipment, url, at, stated, tone, state)


def _event(kind: str) -> Text:
    """What happened; a trial is not an event of the house."""
    return _EVENT_NAMES[EventKind(kind)] if kind in set(EventKind) else message("trial message")


def _tries(each: Delivery) -> Message:
    if not each.tries:
        return message("not tried yet")
    return plural(each.tries, "tried {number} time", "tried {number} times")
