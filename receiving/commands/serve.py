"""``receiving serve``: the page, served by waitress."""

import argparse
import signal
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING

from receiving import service
from receiving.cli import DONE
from receiving.commands.files import file_bytes
from receiving.commands.messages import folder_of
from receiving.commands.terminal import show
from receiving.messages import message
from web.manners import log_requests
from web.serve import serve

if TYPE_CHECKING:
    from web.serve import Where


def run(options: argparse.Namespace) -> int:
    """Serve until stopped."""
    # Until the service listens a stop is a Ctrl+C: process 1 of a container gets only signals that it has asked for.
    signal.signal(signal.SIGTERM, signal.default_int_handler)
    with service.Context.at(options.data, workers=options.workers, create=True) as ctx:
        serve_page(ctx, options)
    return DONE


def serve_page(ctx: service.Context, options: argparse.Namespace) -> None:
    """Serve this context's pages at the address of the options; says where once it listens."""
    ctx.webhook_networks = service.read_networks(options.webhook_network)
    if options.messages_to:
        service.keep_writing(ctx, folder_of(options, options.messages_to))
    if options.log:
        log_requests(options.log)
    with suppress(KeyboardInterrupt):
        serve(
            ctx,
            host=options.host,
            port=options.port,
            allowed_hosts=options.allow_host,
            proxy=options.proxy,
            proxy_user_header=options.proxy_user_header,
            tls=options.tls,
            company=_company(options.company_sign_on),
            ready=_say_where,
        )
    show()
    show(message("Stopped."))


def _say_where(where: "Where") -> None:
    show()
    show(message("The page is at {address} (stop with Ctrl+C).", address=where.address))
    if where.lets_everybody_in:
        show(
            message(
                "There is no account yet: whoever uses this machine can read and write. Before you open the page to "
                "others, add a coordinator: receiving user add NAME --role coordinator --data FOLDER."
            )
        )
    if where.is_readable_on_the_way:
        show(
            message(
                "Passwords and records go over the network unencrypted, and a phone's camera does not open on "
                "such a page. Stop this and give --tls, or let only a server in front of it that encrypts be reached."
            )
        )
    if where.install_address:
        show(
            message(
                "A phone opens this first, once, and installs the certificate: {address}", address=where.install_address
            )
        )
        show(service.qr_terminal(where.install_address))
        show(message("Compare the fingerprint (SHA-256) that the phone shows:"))
        show(_in_lines(where.fingerprint))


def _in_lines(fingerprint: str) -> str:
    pairs = fingerprint.split(":")
    return "\n".join(f"  {' '.join(pairs[n : n + 8])}" for n in range(0, len(pairs), 8))


def _company(path: Path | None) -> service.CompanySignOn | None:
    return service.read_company_sign_on(path.name, file_bytes(path)) if path else None
