"""``receiving restore``: a data folder from a backup."""

import argparse

from receiving import service
from receiving.cli import DONE
from receiving.commands.terminal import show, show_json
from receiving.messages import message, plural


def run(options: argparse.Namespace) -> int:
    """Make the data folder and say what it holds; status 1 where it is in use or the backup is damaged."""
    report = service.restore(options.backup, options.data)
    with service.Context.at(options.data) as ctx:
        service.write_restored(ctx, options.backup.name)
    shipments = report.rows["shipments"]
    if options.json:
        show_json({"data": str(options.data), "shipments": shipments, "photos": report.photos})
    else:
        show(
            message(
                "{folder}: {shipments} and {photos}, checked: all is as it was stored.",
                folder=str(options.data),
                shipments=plural(shipments, "{number} shipment", "{number} shipments"),
                photos=plural(report.photos, "{number} photo", "{number} photos"),
            )
        )
        serve = f"receiving serve --data {options.data}"
        show(message("Serve it: {command}", command=serve))
    return DONE
