"""Store staff come by a link to one shipment: a secret that expires, and that can be ended."""

import secrets
from datetime import timedelta

from receiving.errors import BadRequest
from receiving.messages import message
from receiving.model import Access, Deed, Role, ShipmentLink
from receiving.service.accounts import checked_name
from receiving.service.auditing import as_actor, record, write_refusal
from receiving.service.context import Context
from receiving.service.signing_in import (
    SignedIn,
    SignInRefused,
    access_by_link,
    end_session,
    is_link_open,
    token_digest,
)
from receiving.store import SessionRecord

LINK_DAYS = (1, 60)


def make_link(ctx: Context, shipment: str, label: str, *, days: int, by: str) -> tuple[ShipmentLink, str]:
    """A link for store staff to one shipment, and its secret.

    Raises BadRequest, also for a label that is somebody's name, since what is done by the link stands under its label;
    NotFound.
    """
    least, most = LINK_DAYS
    if not least <= days <= most:
        raise BadRequest(
            message("A link for {days} days cannot be made.", days=days),
            next_step=message("Choose {least} to {most} days.", least=least, most=most),
        )
    now, token = ctx.clock(), secrets.token_urlsafe(32)
    link = ShipmentLink(ctx.new_id(), shipment, checked_name(label), by, now, now + timedelta(days=days))
    with ctx.transaction() as store:
        if named := store.account_named(link.label):
            raise BadRequest(
                message("{name} has an account, and what is done by this link stands under its name.", name=named.name),
                next_step=message("Name the link after who uses it at the store, as “Dock team”."),
                field="label",
            )
        store.add_link(link, token_digest(token))
        record(ctx, store, Deed.LINK_MADE, about=link.label, detail=f"days={days}", shipment=shipment)
    return link, token


def list_links(ctx: Context, shipment: str) -> tuple[ShipmentLink, ...]:
    """All links to this shipment, the newest first. Raises NotFound."""
    with ctx.store() as store:
        store.shipment(shipment)
        return store.links(shipment)


def revoke_link(ctx: Context, shipment: str, link_id: str) -> None:
    """End a link to this shipment and every session that came by it."""
    with ctx.transaction() as store:
        link = store.link(link_id)
        if link and link.shipment == shipment:
            store.revoke_link(link_id, ctx.clock())
            record(ctx, store, Deed.LINK_ENDED, about=link.label, shipment=shipment)


def come_by_link(ctx: Context, token: str, *, instead_of: Access | None = None) -> SignedIn:
    """Begin a session by a link, ``instead_of`` this browser's.

    Raises SignInRefused where the link is over, revoked or wrong.
    """
    now = ctx.clock()
    with ctx.store() as store:
        link = store.link_of_token(token_digest(token))
    if link is None or not is_link_open(link, now):
        about, shipment = (link.label, link.shipment) if link else ("", "")
        write_refusal(ctx, Deed.SIGN_IN_REFUSED, about=about, detail="link", shipment=shipment)
        raise SignInRefused(
            message("This link does not open a shipment any more."),
            next_step=message("Ask whoever sent it for a new one."),
        )
    with ctx.transaction() as store:
        fresh = secrets.token_urlsafe(32)
        session = SessionRecord(token_digest(fresh), "", link.link_id, now, now, link.expires_at)
        end_session(ctx, store, instead_of)
        store.add_session(session)
        by = as_actor(ctx, link.label, Role.STORE_STAFF)
        record(ctx, store, Deed.SIGNED_IN, about=link.label, detail="link", shipment=link.shipment, by=by)
    return SignedIn(fresh, access_by_link(link, session.token_sha256), link.expires_at)
