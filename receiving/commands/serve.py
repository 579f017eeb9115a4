"""``receiving serve``: the page, served by waitress."""

import argparse
from contextlib import suppress

from receiving import service
from receiving.cli import DONE
from receiving.commands.terminal import show


def run(options: argparse.Namespace) -> int:
    """Serve until stopped."""
    with service.Desk.at(options.data, workers=options.workers, create=True) as desk:
        serve_page(desk, options)
    return DONE


def serve_page(desk: service.Desk, options: argparse.Namespace) -> None:
    """Serve this desk's pages at the address of the options; says where once it listens."""
    from web.manners import log_requests
    from web.serve import serve

    if options.log:
        log_requests(options.log)
    with suppress(KeyboardInterrupt):
        serve(
            desk,
            host=options.host,
            port=options.port,
            allowed_hosts=options.allow_host,
            proxy=options.proxy,
            proxy_user_header=options.proxy_user_header,
            ready=_say_where,
        )
    show("\nStopped.")


def _say_where(address: str) -> None:
    show(f"\nThe page is at {address} (stop with Ctrl+C).")
