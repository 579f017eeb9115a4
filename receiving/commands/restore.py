"""``receiving restore``: a data folder from a backup."""

import argparse

from receiving import service
from receiving.cli import DONE
from receiving.commands.terminal import show, show_json


def run(options: argparse.Namespace) -> int:
    """Make the data folder and say what it holds; status 1 where it is in use or the backup is damaged."""
    report = service.restore(options.backup, options.data)
    shipments = report.rows["shipments"]
    if options.json:
        show_json({"data": str(options.data), "shipments": shipments, "photos": report.photos})
    else:
        held = f"{_counted(shipments, 'shipment')} and {_counted(report.photos, 'photo')}"
        show(f"{options.data}: {held}, checked: all is as it was stored.")
        show(f"Serve it: receiving serve --data {options.data}")
    return DONE


def _counted(count: int, what: str) -> str:
    return f"{count} {what}{'' if count == 1 else 's'}"
