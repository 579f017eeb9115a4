"""Whether the service can do its work."""

import os
import tempfile

from receiving.errors import StoreError
from receiving.messages import message
from receiving.model.limits import ROOM_BYTES
from receiving.service.context import Context

READY_WITHIN_S = 2.0
"""Whoever asks waits no longer for a lock that another program holds: who asks again meanwhile takes the threads."""


def check_ready(ctx: Context) -> int:
    """How many photos wait to be read; raises StoreError where the data cannot be read or written now."""
    with ctx.store() as store, store.transaction(within_s=READY_WITHIN_S):  # takes the lock, and writes nothing
        waiting = len(store.waiting_photos())
    try:
        # A name that nobody sees, in the folder itself: its disk may be full, read-only, or gone.
        with tempfile.TemporaryFile(dir=ctx.data, buffering=0) as file:
            written = file.write(os.urandom(ROOM_BYTES))
    except OSError as fault:
        raise StoreError(
            message("Nothing can be written: {fault}.", fault=fault.strerror or fault),
            next_step=message("Free some space, or correct the folder's permissions."),
            where=str(ctx.data),
        ) from fault
    if written < ROOM_BYTES:
        raise StoreError(message("The disk is full."), next_step=message("Free some space."), where=str(ctx.data))
    return waiting
