"""``receiving serve`` and ``demo``: the page served by waitress, and the sample shipment shown on it."""

import argparse
import signal
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING

from receiving import service
from receiving.cli import DONE
from receiving.commands.files import file_bytes
from receiving.commands.receipts import folder_of
from receiving.commands.terminal import show
from receiving.messages import message
from web.manners import log_requests
from web.serve import serve

if TYPE_CHECKING:
    from web.serve import Where
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import timedelta

from receiving.commands.files import PHOTO_SUFFIXES
from receiving.commands.in_words import reconciliation_in_words
from receiving.commands.terminal import show_fault, show_json, show_photo_progress
from receiving.errors import BadRequest
from receiving.expected import read_manifests, write_manifest_csv
from receiving.model import Manifest, Place
from receiving.setup import PROJECT
from receiving.wording.plain import reconciliation_as_json


def run_serve(options: argparse.Namespace) -> int:
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


_INSTALLED = PROJECT / "receiving" / "sample_images"

SAMPLES = _INSTALLED if _INSTALLED.exists() else PROJECT / "sample_images"

DAYS_TO_VISIT = 8


def run_demo(options: argparse.Namespace) -> int:
    """Load the sample scenario, read its photos, print the reconciliation, and serve the page."""
    if not (SAMPLES / "manifest.csv").exists():
        raise BadRequest(
            message("The sample scenario is not in {folder}.", folder=str(SAMPLES)),
            next_step=message("Install the package again, or run the demo from its source."),
        )
    with _data_folder(options.data) as data, service.Context.at(data, workers=options.workers, create=True) as ctx:
        shipment = load_scenario(ctx)
        _read_photos(ctx, shipment)
        service.get_staging_plan(ctx, shipment)
        view = service.get_shipment(ctx, shipment)
        for photo in view.photos:
            if photo.error:
                show_fault(message("{file}: {fault}", file=photo.name, fault=photo.error))
        names = {photo.photo: photo.name for photo in view.photos}
        if options.json:
            plain = reconciliation_as_json(view.reconciliation, view.plan, view.manifest, names)
            show_json({**plain, "to_check": view.to_check.count})
            return DONE
        show(reconciliation_in_words(view.reconciliation, view.plan, view.manifest, view.to_check.count, names))
        if not options.no_serve:
            serve_page(ctx, options)
    return DONE


@contextmanager
def _data_folder(given: Path | None) -> Iterator[Path]:
    if given:
        if given.exists() and (not given.is_dir() or any(given.iterdir())):
            raise BadRequest(
                message(
                    "{folder} is not an empty folder; the sample shipments would be mixed with what is in it.",
                    folder=str(given),
                ),
                next_step=message("Name a new folder with --data, or leave it out: the demo then uses one of its own."),
            )
        yield given
        return
    with tempfile.TemporaryDirectory(prefix="receiving-demo-") as folder:
        yield Path(folder)


def load_scenario(ctx: service.Context) -> str:
    """Import the sample manifests and layout; gives the id of the shipment that the photos show.

    The visits are moved to the days after today, so that the scenario does not grow old.
    """
    main = _manifests(SAMPLES / "manifest.csv")
    visit = ctx.now().date() + timedelta(days=DAYS_TO_VISIT)
    later = visit - main[0].dispatch_date if main[0].dispatch_date else timedelta()
    for path in (SAMPLES / "manifest.csv", *sorted(SAMPLES.glob("manifest_*.csv"))):
        moved = (replace(m, dispatch_date=m.dispatch_date and m.dispatch_date + later) for m in _manifests(path))
        service.import_manifest(ctx, path.name, write_manifest_csv(moved).encode())
    for path in sorted(SAMPLES.glob("layout*.toml")):
        service.import_layout(ctx, path.name, file_bytes(path))
    return main[0].shipment


def _manifests(path: Path) -> tuple[Manifest, ...]:
    return read_manifests(path.name, file_bytes(path)).manifests


def _read_photos(ctx: service.Context, shipment: str) -> None:
    paths = sorted(p for p in SAMPLES.rglob("*") if p.suffix.lower() in PHOTO_SUFFIXES)
    for count, path in enumerate(paths, 1):
        service.add_photo(ctx, shipment, path.name, file_bytes(path), place=Place.BACK_ROOM, by="Demo")
        show_photo_progress(count, len(paths))
    service.finish_photos(ctx)
