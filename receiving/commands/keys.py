"""``receiving keys``: the keys that receipts are sealed with."""

import argparse

from receiving import service
from receiving.cli import DONE
from receiving.commands.terminal import show


def run(options: argparse.Namespace) -> int:
    """List the keys; with ``--rotate`` seal with a new one from now on."""
    with service.Context.at(options.data) as ctx:
        if options.rotate:
            show(f"Receipts are sealed with key {service.rotate_key(ctx)} from now on.")
        keys = service.signing_keys(ctx)
    for key in keys:
        until = f" to {key.retired_at:%Y-%m-%d}" if key.retired_at else ", in use"
        show(f"{key.key}  {key.public_key}  from {key.created_at:%Y-%m-%d}{until}")
    if not keys:
        show("There is no key yet: the first confirmation makes one.")
    return DONE
