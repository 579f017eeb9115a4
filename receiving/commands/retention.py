"""``receiving prune`` and ``receiving erase-name``: what is taken out of a data folder, by rule or by right."""

import argparse
from dataclasses import asdict

from receiving import service
from receiving.cli import DONE
from receiving.commands.terminal import counted, show, show_json


def run(options: argparse.Namespace) -> int:
    """Take photos or a name out, or say what would go."""
    with service.Context.at(options.data) as ctx:
        if options.command == "prune":
            _prune(ctx, options)
        else:
            _erase(ctx, options)
    return DONE


def _prune(ctx: service.Context, options: argparse.Namespace) -> None:
    found = service.prune_photos(
        ctx, days=options.older_than, with_receipts=options.with_receipts, dry_run=options.dry_run
    )
    if options.json:
        show_json({"dry_run": options.dry_run, **asdict(found)})
        return
    would = "would go" if options.dry_run else "went"
    count = counted(len(found.photos), "photo")
    show(f"{count} {would}, {found.size_bytes / 2**20:.1f} MB, after {counted(found.days, 'day')}.")
    if found.kept:
        stay = "photo as old stays" if found.kept == 1 else "photos as old stay"
        show(f"{found.kept} {stay}, since a receipt shows {'it' if found.kept == 1 else 'them'} (--with-receipts).")


def _erase(ctx: service.Context, options: argparse.Namespace) -> None:
    found = service.erase_name(ctx, options.name, dry_run=options.dry_run)
    if options.json:
        show_json({"dry_run": options.dry_run, **asdict(found)})
        return
    rows = ", ".join(f"{count} {table.replace('_', ' ')}" for table, count in found.rows.items()) or "no rows"
    was = "would be" if options.dry_run else "was"
    were = was if options.dry_run or found.receipts == 1 else "were"
    show(f"{found.name} {was} taken out of {rows}; {counted(found.receipts, 'receipt')} {were} sealed anew.")
    if not options.dry_run:
        show(f"In its place stands {found.mark}. Backups made before still hold the name.")
