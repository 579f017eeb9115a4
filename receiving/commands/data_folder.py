"""``receiving backup``, ``restore``, ``check``, ``prune`` and ``erase-name``: a data folder as a whole.

It is copied, also while it is served, into one archive or brought up to date in a folder; made anew of a backup; looked
through, whether everything is as it was stored; and what is taken out of it goes by rule or by right.
"""

import argparse
from collections.abc import Callable, Mapping
from dataclasses import asdict

from receiving import service
from receiving.cli import DONE, FAILED
from receiving.commands.files import check_not_inside, check_output
from receiving.commands.terminal import show, show_json
from receiving.messages import Joined, Text, figure, joined, message, plural
from receiving.service import DAMAGE_WORDS, Damage
from receiving.store import BackedUp

_TABLES: dict[str, Callable[[int], Text]] = {
    "actions": lambda n: plural(n, "{number} action", "{number} actions"),
    "api_tokens": lambda n: plural(n, "{number} API token", "{number} API tokens"),
    "audit": lambda n: plural(n, "{number} audit entry", "{number} audit entries"),
    "documents": lambda n: plural(n, "{number} document", "{number} documents"),
    "links": lambda n: plural(n, "{number} link", "{number} links"),
    "manifest_revisions": lambda n: plural(n, "{number} manifest revision", "{number} manifest revisions"),
    "notes": lambda n: plural(n, "{number} note", "{number} notes"),
    "people": lambda n: plural(n, "{number} person", "{number} people"),
    "photos": lambda n: plural(n, "{number} photo", "{number} photos"),
    "reads": lambda n: plural(n, "{number} read", "{number} reads"),
    "receipts": lambda n: plural(n, "{number} receipt", "{number} receipts"),
    "seals": lambda n: plural(n, "{number} seal", "{number} seals"),
    "webhook_events": lambda n: plural(n, "{number} webhook event", "{number} webhook events"),
    "webhooks": lambda n: plural(n, "{number} webhook", "{number} webhooks"),
    "shipments": lambda n: plural(n, "{number} shipment", "{number} shipments"),
}


def rows_words(rows: Mapping[str, int]) -> Joined:
    """Counts of rows by table; a table that has no word here is named as in the database."""
    return joined(*(_counted(table, count) for table, count in rows.items()), separator=", ")


def _counted(table: str, count: int) -> Text:
    words = _TABLES.get(table)
    return words(count) if words else f"{count} {table.replace('_', ' ')}"


def run_backup(options: argparse.Namespace) -> int:
    """Write the copy and say what it holds; status 1 where the data are damaged, and the copy before stays."""
    check_not_inside(options.out, options.data)
    if not options.out.is_dir():
        check_output(options.out, [])
    made = service.back_up(options.data, options.out)
    if options.json:
        show_json({"archive": str(options.out), **asdict(made)})
    else:
        show(_written(str(options.out), made))
        for photo in made.renewed:
            show(
                message(
                    "The copy of photo {photo}… has been damaged there since; it was copied again from the original.",
                    photo=photo[:12],
                )
            )
        use = f"receiving restore {options.out} --data FOLDER"
        show(message("To use it: {command}", command=use))
    return DONE


def _written(out: str, made: BackedUp) -> Text:
    values = {"file": out, "size": figure(made.size / 1_000_000, 1)}
    if made.written == made.photos:
        return plural(
            made.photos,
            "{file}: the database and {number} photo, {size} MB written; all is undamaged.",
            "{file}: the database and {number} photos, {size} MB written; all is undamaged.",
            **values,
        )
    return plural(
        made.photos,
        "{file}: the database and {number} photo ({new} of them new), {size} MB written; all is undamaged.",
        "{file}: the database and {number} photos ({new} of them new), {size} MB written; all is undamaged.",
        new=made.written,
        **values,
    )


def run_restore(options: argparse.Namespace) -> int:
    """Make the data folder and say what it holds; status 1 where it is in use or the backup is damaged."""
    report = service.restore(options.backup, options.data)
    with service.Context.at(options.data) as ctx:
        service.write_restored(ctx, options.backup.name)
    shipments = report.rows["shipments"]
    if options.json:
        show_json({"data": str(options.data), "shipments": shipments, "photos": report.photos})
    else:
        show(
            message(
                "{folder}: {shipments} and {photos}, checked: all is as it was stored.",
                folder=str(options.data),
                shipments=plural(shipments, "{number} shipment", "{number} shipments"),
                photos=plural(report.photos, "{number} photo", "{number} photos"),
            )
        )
        serve = f"receiving serve --data {options.data}"
        show(message("Serve it: {command}", command=serve))
    return DONE


def run_check(options: argparse.Namespace) -> int:
    """Print every damage; status 1 when there is one."""
    report = service.check(options.data)
    if options.json:
        plain = [{**asdict(damage), "detail": str(damage.detail)} for damage in report.damages]
        show_json({"data": str(options.data), "whole": report.whole, **asdict(report), "damages": plain})
        return DONE if report.whole else FAILED
    for damage in report.damages:
        show(in_words(damage))
    if report.more:
        show(message("… and {number} more", number=report.more))
    rows = {table: count for table, count in report.rows.items() if table != "photos"}
    if rows:
        show(
            plural(
                report.photos,
                "{folder}: looked at {rows}, {number} photo.",
                "{folder}: looked at {rows}, {number} photos.",
                folder=str(options.data),
                rows=rows_words(rows),
            )
        )
    if report.whole:
        show(message("Everything is as it was stored."))
        return DONE
    show(
        plural(
            len(report.damages) + report.more,
            "{number} damaged place. Keep a copy of this folder as it is, then restore the last backup:",
            "{number} damaged places. Keep a copy of this folder as it is, then restore the last backup:",
        )
    )
    show("receiving restore BACKUP --data NEW_FOLDER")
    return FAILED


def in_words(damage: Damage) -> Text:
    """One damage as a line; what it is of by the names of the database's tables and rows."""
    named: Text = " ".join(part for part in (damage.table.replace("_", " "), damage.name) if part)
    if named and damage.shipment and damage.shipment != damage.name:
        named = message("{row} (shipment {shipment})", row=named, shipment=damage.shipment)
    return joined(named, DAMAGE_WORDS[damage.kind], damage.detail, separator=": ")


def run_prune(options: argparse.Namespace) -> int:
    """Take photos out, or say what would go."""
    with service.Context.at(options.data) as ctx:
        _prune(ctx, options)
    return DONE


def run_erase_name(options: argparse.Namespace) -> int:
    """Take a person's name out, or say what would go."""
    with service.Context.at(options.data) as ctx:
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
                "{number} photo would be removed, {size} MB, after {days}.",
                "{number} photos would be removed, {size} MB, after {days}.",
                size=size,
                days=days,
            )
        )
    else:
        show(
            plural(
                len(found.photos),
                "{number} photo was removed, {size} MB, after {days}.",
                "{number} photos were removed, {size} MB, after {days}.",
                size=size,
                days=days,
            )
        )
    if found.kept:
        show(
            plural(
                found.kept,
                "{number} photo of that age stays, since a receipt shows it (--with-receipts).",
                "{number} photos of that age stay, since a receipt shows them (--with-receipts).",
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
    show(message("{mark} now stands in its place. Backups made earlier still hold the name.", mark=found.mark))
