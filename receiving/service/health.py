"""Whether the service can do its work."""

from receiving.service.context import Context


def check_ready(ctx: Context) -> int:
    """How many photos wait to be read; raises StoreError where the data cannot be read or written now."""
    with ctx.transaction() as store:  # takes the lock to write, and writes nothing
        return len(store.waiting_photos())
