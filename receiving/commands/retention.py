"""``receiving prune`` and ``receiving erase-name``: what is taken out of a data folder, by rule or by right."""

import argparse
from dataclasses import asdict

from receiving import service
from receiving.cli import DONE
from receiving.commands.row_words import rows_words
from receiving.commands.terminal import show, show_json
from receiving.messages import figure, message, plural


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
    size = figure(found.size_bytes / 2**20, 1)
    days = plural(found.days, "{number} day", "{number} days")
    if options.dry_run:
        show(
            plural(
                len(found.photos),
                "{number} photo would go, {size} MB, after {days}.",
                "{number} photos would go, {size} MB, after {days}.",
                size=size,
                days=days,
            )
        )
    else:
        show(
            plural(
                len(found.photos),
                "{number} photo went, {size} MB, after {days}.",
                "{number} photos went, {size} MB, after {days}.",
                size=size,
                days=days,
            )
        )
    if found.kept:
        show(
            plural(
                found.kept,
                "{number} photo as old stays, since a receipt shows it (--with-receipts).",
                "{number} photos as old stay, since a receipt shows them (--with-receipts).",
            )
        )


def _erase(ctx: service.Context, options: argparse.Namespace) -> None:
    found = service.erase_name(ctx, options.name, dry_run=options.dry_run)
    if options.json:
        show_json({"dry_run": options.dry_run, **asdict(found)})
        return
    values = {"name": found.name, "rows": rows_words(found.rows) if found.rows else message("no rows")}
    if options.dry_run:
        show(
            plural(
                found.receipts,
                "{name} would be taken out of {rows}; {number} receipt would be sealed anew.",
                "{name} would be taken out of {rows}; {number} receipts would be sealed anew.",
                **values,
            )
        )
        return
    show(
        plural(
            found.receipts,
            "{name} was taken out of {rows}; {number} receipt was sealed anew.",
            "{name} was taken out of {rows}; {number} receipts were sealed anew.",
            **values,
        )
    )
    show(message("In its place stands {mark}. Backups made before still hold the name.", mark=found.mark))
