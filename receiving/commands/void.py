"""``receiving void``: a shipment that was imported by mistake, hidden from every list, and brought back."""

import argparse

from receiving import service
from receiving.cli import DONE
from receiving.commands.terminal import show, show_json
from receiving.messages import message


def run(options: argparse.Namespace) -> int:
    """Void the shipment, or restore it."""
    with service.Context.at(options.data) as ctx:
        if options.undo:
            service.restore_shipment(ctx, options.shipment, by=options.by, reason=options.reason)
        else:
            service.void_shipment(ctx, options.shipment, by=options.by, reason=options.reason)
        service.write_command(ctx, "void --undo" if options.undo else "void", shipment=options.shipment)
    if options.json:
        show_json({"shipment": options.shipment, "voided": not options.undo})
    elif options.undo:
        show(message("Shipment {shipment} counts again.", shipment=options.shipment))
    else:
        show(
            message(
                "Shipment {shipment} is voided: it is in no list. To bring it back: add --undo.",
                shipment=options.shipment,
            )
        )
    return DONE
