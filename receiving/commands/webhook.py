"""``receiving webhook``: the programs that are told of what happens."""

import argparse
import json
from typing import TypedDict

from receiving import service
from receiving.cli import DONE
from receiving.commands.terminal import show
from receiving.service import Delivery, Webhook


def run(options: argparse.Namespace) -> int:
    """Add, list, try, change and end webhooks, and list what was sent."""
    with service.Context.at(options.data) as ctx:
        ctx.webhook_networks = service.read_networks(getattr(options, "webhook_network", ()))
        match options.deed:
            case "add":
                made = service.make_webhook(ctx, options.url, options.event, by="", **_scope(options))
                show(f"{made.webhook_id}\nIts secret, shown this once: {made.secret}")
            case "list":
                _show_all(service.webhooks(ctx), as_json=options.json)
            case "deliveries":
                _show_deliveries(service.webhook_deliveries(ctx, options.most), as_json=options.json)
            case "secret":
                show(f"The new secret, shown this once: {service.rotate_webhook_secret(ctx, options.webhook)}")
                show("Messages are signed with the old one too for 24 hours.")
            case "try":
                service.try_webhook(ctx, options.webhook)
                show("The running service sends a trial message; see receiving webhook deliveries.")
            case "again":
                service.send_delivery_again(ctx, options.delivery)
                show("The running service sends it again.")
            case _:
                service.end_webhook(ctx, options.webhook)
                show("It is told nothing more.")
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
            told = {"webhook": each.webhook_id, "url": each.url, "events": events}
            show(json.dumps({**told, "stores": stores, "programmes": programmes}))
        else:
            of = "all stores" if stores is None else f"stores {', '.join(stores)}"
            of += "" if programmes is None else f", programmes {', '.join(programmes)}"
            ended = ", ended" if each.ended_at else ""
            show(f"{each.webhook_id}  {each.url}: {', '.join(events)}; {of}{ended}")
    if not found and not as_json:
        show("No program is told of anything.")


def _show_deliveries(found: tuple[Delivery, ...], *, as_json: bool) -> None:
    for each in found:
        if as_json:
            show(json.dumps(_as_json(each)))
        else:
            show(f"{each.delivery_id}  {each.at:%Y-%m-%d %H:%M} UTC  {each.kind} {each.shipment}: {_words(each)}")
    if not found and not as_json:
        show("Nothing was sent yet.")


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
        "fault": each.fault,
        "delivered_at": each.delivered_at.isoformat() if each.delivered_at else None,
        "next_at": each.next_at.isoformat() if each.next_at else None,
    }


def _words(each: Delivery) -> str:
    if each.delivered_at:
        return f"delivered {each.delivered_at:%Y-%m-%d %H:%M} UTC, answered {each.answer}"
    tries = f"tried {each.tries} time{'' if each.tries == 1 else 's'}"
    until = f", next {each.next_at:%Y-%m-%d %H:%M} UTC" if each.next_at else ", given up"
    return f"{tries}{until}{f'; {each.fault}' if each.fault else ''}"
