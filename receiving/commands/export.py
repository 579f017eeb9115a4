"""``receiving export``: one shipment's result as a file."""

import argparse
from collections.abc import Callable

from receiving import service
from receiving.cli import DONE
from receiving.commands.files import check_not_inside, check_output, write_file
from receiving.commands.terminal import show, show_fault
from receiving.errors import BadRequest, StoreError
from receiving.messages import message

_MAKERS: dict[str, Callable[[service.Context, str], str | bytes]] = {
    ".csv": service.make_result_csv,
    ".xlsx": service.make_result_xlsx,
    ".json": service.make_result_json,
}


def run(options: argparse.Namespace) -> int:
    """Write the result in the form that the file's name asks for."""
    make = _MAKERS.get(options.out.suffix.lower())
    if make is None:
        raise BadRequest(
            message("{file} does not say in which form.", file=str(options.out)),
            next_step=message("Let --out end in .csv, .xlsx or .json."),
        )
    check_not_inside(options.out, options.data)
    check_output(options.out, [])
    with service.Context.at(options.data) as ctx:
        made = make(ctx, options.shipment)
        try:
            service.write_command(ctx, "export", shipment=options.shipment, about=options.out.name)
        except StoreError as fault:  # on a full disk reading goes on
            show_fault(message("That this was exported is not written down: {fault}", fault=fault.words))
    write_file(options.out, made.encode() if isinstance(made, str) else made)
    show(message("The result of shipment {shipment} is in {file}", shipment=options.shipment, file=str(options.out)))
    return DONE
