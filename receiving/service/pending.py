"""What a person was shown, until they answer: the file of an import, and the counts of a receipt."""

from receiving.model import ShownReceipt
from receiving.service.context import Context
from receiving.store.pending import Purpose
from receiving.store.records import from_text, to_text


def save_upload(ctx: Context, ticket: str, name: str, data: bytes, *, shipper: str = "") -> None:
    """Keep a file whose import was previewed, read as a file of this shipper."""
    with ctx.store() as store:
        store.add_pending(Purpose.IMPORT, ticket, data, shown_at=ctx.now(), name=name, detail=shipper)


def find_upload(ctx: Context, ticket: str) -> tuple[str, str, bytes] | None:
    """The shipper, the name and the bytes of a file whose import was previewed; None where it is too old."""
    with ctx.store() as store:
        found = store.pending(Purpose.IMPORT, ticket)
    return (found.detail, found.name, found.body) if found else None


def save_shown_receipt(ctx: Context, shown: ShownReceipt) -> None:
    """Keep what a store manager is asked to confirm."""
    with ctx.store() as store:
        store.add_pending(Purpose.RECEIPT, shown.digest, to_text(shown).encode(), shown_at=ctx.now())


def find_shown_receipt(ctx: Context, digest: str) -> ShownReceipt | None:
    """What was shown under this digest; None where it is too old."""
    with ctx.store() as store:
        found = store.pending(Purpose.RECEIPT, digest)
    return from_text(found.body.decode(), ShownReceipt) if found else None
