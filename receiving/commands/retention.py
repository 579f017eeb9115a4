"""``receiving prune`` and ``receiving erase-name``: what is taken out of a data folder, by rule or by right."""

import argparse
from dataclasses import asdict

from receiving import service
from receiving.cli import DONE
from receiving.commands.terminal import show, show_json


def run(options: argparse.Namespace) -> int:
    """Take photos or a name out, or say what would go."""
    with service.Desk.at(options.data) as desk:
        if options.command == "prune":
            _prune(desk, options)
        else:
            _erase(desk, options)
    return DONE


def _prune(desk: service.Desk, options: argparse.Namespace) -> None:
    found = service.prune_photos(
        desk, days=options.older_than, with_receipts=options.with_receipts, dry_run=options.dry_run
    )
    if options.json:
        show_json({"dry_run": options.dry_run, **asdict(found)})
        return
    would = "would go" if options.dry_run else "went"
    show(f"{len(found.photos)} photos {would}, {found.size_bytes / 2**20:.1f} MB, after {found.days} days.")
    if found.kept:
        show(f"{found.kept} as old stay, since a receipt shows them (--with-receipts).")


def _erase(desk: service.Desk, options: argparse.Namespace) -> None:
    found = service.erase_name(desk, options.name, dry_run=options.dry_run)
    if options.json:
        show_json({"dry_run": options.dry_run, **asdict(found)})
        return
    rows = ", ".join(f"{count} {table.replace('_', ' ')}" for table, count in found.rows.items()) or "no rows"
    would = "would be" if options.dry_run else "was"
    show(f"{found.name} {would} taken out of {rows}; {found.receipts} receipts {would} sealed anew.")
    if not options.dry_run:
        show(f"In its place stands {found.mark}. Backups made before still hold the name.")
