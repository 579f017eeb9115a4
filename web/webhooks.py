"""The page of webhooks: the programs that are told of what happens, and what was sent to them."""

from flask import Blueprint, Response, make_response, redirect, request, url_for

from receiving import service
from web import frame
from web.frame import ctx
from web.pages.webhooks import webhooks_page

pages = Blueprint("webhooks", __name__)


@pages.get("/webhooks")
def webhooks() -> Response:
    """All webhooks with what was sent to them."""
    return _show()


def _show(secret: str = "") -> Response:
    return frame.render(webhooks_page(service.get_webhooks_view(ctx()), frame.local_now(), secret=secret))


@pages.post("/webhooks")
@frame.once_shown_at("webhooks.webhooks")
def make() -> Response:
    """Tell a program of events from now on, and show its secret this once."""
    made = service.make_webhook(
        ctx(),
        request.form.get("url", ""),
        request.form.getlist("event"),
        by=frame.person(),
        **frame.scope_sent(),
    )
    return _show(made.secret)


@pages.post("/webhooks/<webhook>/secret")
@frame.once_shown_at("webhooks.webhooks")
def change_secret(webhook: str) -> Response:
    """Sign with a new secret, shown only this once."""
    return _show(service.rotate_webhook_secret(ctx(), webhook))


@pages.post("/webhooks/<webhook>/try")
@frame.once
def try_it(webhook: str) -> Response:
    """Send a trial message."""
    service.try_webhook(ctx(), webhook)
    return _back()


@pages.post("/webhooks/<webhook>/end")
@frame.once
def end(webhook: str) -> Response:
    """Tell this program nothing more."""
    service.end_webhook(ctx(), webhook)
    return _back()


@pages.post("/webhook-deliveries/<int:delivery>/again")
@frame.once
def again(delivery: int) -> Response:
    """Send a delivery once more."""
    service.send_delivery_again(ctx(), delivery)
    return _back()


def _back() -> Response:
    return make_response(redirect(url_for(".webhooks"), 303))
