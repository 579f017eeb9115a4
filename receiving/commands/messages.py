"""``receiving messages``: the standard messages of receipts, into a folder where another program looks."""

import argparse
from pathlib import Path

from receiving import service
from receiving.cli import DONE, FAILED
from receiving.commands.files import check_not_inside
from receiving.commands.terminal import show, show_fault
from receiving.messages import plural


def run(options: argparse.Namespace) -> int:
    """Write what was not written yet; status 1 when something could not be."""
    check_not_inside(options.out, options.data)
    with service.Context.at(options.data) as ctx:
        done = service.write_messages(ctx, folder_of(options, options.out), again=options.again)
        service.write_command(ctx, "messages", about=options.out.name)
    for fault in done.faults:
        show_fault(fault)
    show(
        plural(
            len(done.files),
            "{number} message is written to {folder}",
            "{number} messages are written to {folder}",
            folder=str(options.out),
        )
    )
    return FAILED if done.faults else DONE


def folder_of(options: argparse.Namespace, folder: Path) -> service.MessageFolder:
    """The folder with what else the options say of it; EPCIS only where there is a base for its names."""
    usual = [kind for kind in service.MESSAGES if options.base or kind != "jsonld"]
    return service.MessageFolder(
        folder,
        tuple(options.message or usual),
        options.sender_id,
        options.receiver_id,
        options.base,
    )
