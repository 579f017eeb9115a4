"""``receiving check``: whether everything in the data folder is as it was stored."""

import argparse
from dataclasses import asdict

from receiving import service
from receiving.cli import DONE, FAILED
from receiving.commands.terminal import show, show_json
from receiving.service import Damage, DamageKind

_DAMAGE_WORDS = {
    DamageKind.DATABASE: "the database itself is damaged",
    DamageKind.SCHEMA: "a table, an index or a guard of the database was altered",
    DamageKind.ROW_ALTERED: "altered after it was stored",
    DamageKind.ROW_UNREADABLE: "cannot be read, so it does not count",
    DamageKind.ROWS_MISSING: "rows are missing",
    DamageKind.ROWS_DISAGREE: "does not agree with what it follows from",
    DamageKind.PHOTO_ALTERED: "the photo's file was altered",
    DamageKind.PHOTO_MISSING: "the photo's file is missing",
}


def run(options: argparse.Namespace) -> int:
    """Print every damage; status 1 when there is one."""
    report = service.check(options.data)
    if options.json:
        show_json({"data": str(options.data), "whole": report.whole, **asdict(report)})
        return DONE if report.whole else FAILED
    for damage in report.damages:
        show(in_words(damage))
    if report.more:
        show(f"… and {report.more} more")
    rows = ", ".join(f"{count} {table.replace('_', ' ')}" for table, count in report.rows.items() if table != "photos")
    if rows:
        show(f"{options.data}: looked at {rows}, {report.photos} photo{'' if report.photos == 1 else 's'}.")
    if report.whole:
        show("Everything is as it was stored.")
        return DONE
    count = len(report.damages) + report.more
    show(
        f"{count} damage{'' if count == 1 else 's'}. Keep a copy of this folder as it is, then restore the last backup:"
    )
    show("receiving restore BACKUP --data NEW_FOLDER")
    return FAILED


def in_words(damage: Damage) -> str:
    """One damage as a line."""
    named = " ".join(part for part in (damage.table.replace("_", " "), damage.name) if part)
    shipment = f" (shipment {damage.shipment})" if damage.shipment and damage.shipment != damage.name else ""
    detail = f": {damage.detail}" if damage.detail else ""
    return f"{named + shipment + ': ' if named else ''}{_DAMAGE_WORDS[damage.kind]}{detail}"
