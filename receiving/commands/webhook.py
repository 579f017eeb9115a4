"""``receiving webhook``: the programs that are told of what happens."""

import argparse
import json
from typing import TypedDict

from receiving import service
from receiving.cli import DONE
from receiving.commands.terminal import show
from receiving.messages import Text, joined, message, plural
from receiving.service import Delivery, Webhook
from receiving.wording import stored_words


def run_webhook(options: argparse.Namespace) -> int:
    """Add, list, try, change and end webhooks, and list what was sent."""
    with service.Context.at(options.data) as ctx:
        ctx.webhook_networks = service.read_networks(getattr(options, "webhook_network", ()))
        match options.deed:
            case "add":
                made = service.make_webhook(ctx, options.url, options.event, by="", **_scope(options))
                show(made.webhook_id)
                show(message("Its secret, shown only this once: {secret}", secret=made.secret))
            case "list":
                _show_all(service.list_webhooks(ctx), as_json=options.json)
            case "deliveries":
                _show_deliveries(service.list_webhook_deliveries(ctx, options.most), as_json=options.json)
            case "secret":
                secret = service.rotate_webhook_secret(ctx, options.webhook)
                show(message("The new secret, shown only this once: {secret}", secret=secret))
                show(message("Messages are signed with the old one too for 24 hours."))
            case "try":
                service.try_webhook(ctx, options.webhook)
                show(
                    message(
                        "The running service sends a trial message; see {command}.",
                        command="receiving webhook deliveries",
                    )
                )
            case "again":
                service.send_delivery_again(ctx, options.delivery)
                show(message("The running service sends it again."))
            case _:
                service.end_webhook(ctx, options.webhook)
                show(message("It is no longer notified."))
    return DONE


class Limits(TypedDict):
    """What a program is told of alone."""

    stores: list[str] | None
    programmes: list[str] | None


def _scope(options: argparse.Namespace) -> Limits:
    return Limits(stores=options.store or None, programmes=options.programme or None)


def _show_all(found: tuple[Webhook, ...], *, as_json: bool) -> None:
    for each in found:
        events = sorted(each.events)
        limits = (each.scope.stores, each.scope.programmes)
        stores, programmes = (None if names is None else sorted(names) for names in limits)
        if as_json:
            facts = {"webhook": each.webhook_id, "url": each.url, "events": events}
            show(json.dumps({**facts, "stores": stores, "programmes": programmes}))
        else:
            of = [message("all stores") if stores is None else message("stores {stores}", stores=", ".join(stores))]
            if programmes is not None:
                of.append(message("programmes {programmes}", programmes=", ".join(programmes)))
            if each.ended_at:
                of.append(message("ended"))
            named = f"{each.webhook_id}  {each.url}: {', '.join(events)}"
            show(joined(named, joined(*of, separator=", "), separator="; "))
    if not found and not as_json:
        show(message("No program is notified of anything."))


def _show_deliveries(found: tuple[Delivery, ...], *, as_json: bool) -> None:
    for each in found:
        if as_json:
            show(json.dumps(_as_json(each)))
        else:
            named = f"{each.delivery_id}  {each.at:%Y-%m-%d %H:%M} UTC  {each.kind} {each.shipment}"
            show(joined(named, _words(each), separator=": "))
    if not found and not as_json:
        show(message("Nothing was sent yet."))


def _as_json(each: Delivery) -> dict[str, object]:
    return {
        "delivery": each.delivery_id,
        "webhook": each.webhook_id,
        "event": each.kind,
        "event_id": each.event_id,
        "shipment": each.shipment,
        "at": each.at.isoformat(),
        "tries": each.tries,
        "answer": each.answer,
        "fault": str(stored_words(each.fault)),
        "delivered_at": each.delivered_at.isoformat() if each.delivered_at else None,
        "next_at": each.next_at.isoformat() if each.next_at else None,
    }


def _words(each: Delivery) -> Text:
    if each.delivered_at:
        at = f"{each.delivered_at:%Y-%m-%d %H:%M} UTC"
        return message("delivered {moment}, answered {answer}", moment=at, answer=each.answer)
    given_up = plural(each.tries, "tried {number} time, given up", "tried {number} times, given up")
    if each.next_at is None:
        return joined(given_up, stored_words(each.fault), separator="; ")
    again = f"{each.next_at:%Y-%m-%d %H:%M} UTC"
    waits = plural(
        each.tries, "tried {number} time, next {moment}", "tried {number} times, next {moment}", moment=again
    )
    return joined(waits, stored_words(each.fault), separator="; ")
