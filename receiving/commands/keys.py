"""``receiving keys``: the keys that receipts are sealed with."""

import argparse

from receiving import service
from receiving.cli import DONE
from receiving.commands.terminal import show
from receiving.messages import message


def run(options: argparse.Namespace) -> int:
    """List the keys; with ``--rotate`` seal with a new one from now on."""
    with service.Context.at(options.data) as ctx:
        if options.rotate:
            show(message("Receipts are sealed with key {key} from now on.", key=service.rotate_key(ctx)))
        keys = service.list_signing_keys(ctx)
    for key in keys:
        named = f"{key.key}  {key.public_key}"
        first, last = f"{key.created_at:%Y-%m-%d}", f"{key.retired_at:%Y-%m-%d}" if key.retired_at else ""
        words = message("{key}  from {day}, in use", key=named, day=first)
        if last:
            words = message("{key}  from {day} to {last}", key=named, day=first, last=last)
        show(words)
    if not keys:
        show(message("There is no key yet: the first confirmation makes one."))
    return DONE
