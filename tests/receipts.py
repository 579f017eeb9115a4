"""A receipt as a store manager confirms it, for tests of what comes after."""

from typing import Any

from receiving import service
from receiving.model import Receipt


def confirm_with_shorts(
    ctx: service.Context, shipment: str, *, digest: str = "", name: str = "Grace", role: str = "Manager", **more: Any
) -> Receipt:
    """Confirm what is shown now, or was under this digest; whatever is missing was searched for and is short."""
    return service.confirm(
        ctx,
        shipment,
        digest or service.show_receipt(ctx, shipment).digest,
        name=name,
        role=role,
        with_exceptions=True,
        missing=service.MissingAnswer(searched=True),
        **more,
    )
