"""``receiving check``: whether everything in the data folder is as it was stored."""

import argparse
from dataclasses import asdict

from receiving import service
from receiving.cli import DONE, FAILED
from receiving.commands.row_words import rows_words
from receiving.commands.terminal import show, show_json
from receiving.messages import Text, joined, message, plural
from receiving.service import Damage, DamageKind

_DAMAGE_WORDS = {
    DamageKind.DATABASE: message("the database itself is damaged"),
    DamageKind.SCHEMA: message("a table, an index or a guard of the database was altered"),
    DamageKind.ROW_ALTERED: message("altered after it was stored"),
    DamageKind.ROW_UNREADABLE: message("cannot be read, so it does not count"),
    DamageKind.ROWS_MISSING: message("rows are missing"),
    DamageKind.ROWS_DISAGREE: message("does not agree with what it follows from"),
    DamageKind.PHOTO_ALTERED: message("the photo's file was altered"),
    DamageKind.PHOTO_MISSING: message("the photo's file is missing"),
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
            "{number} damage. Keep a copy of this folder as it is, then restore the last backup:",
            "{number} damages. Keep a copy of this folder as it is, then restore the last backup:",
        )
    )
    show("receiving restore BACKUP --data NEW_FOLDER")
    return FAILED


def in_words(damage: Damage) -> Text:
    """One damage as a line; what it is of by the names of the database's tables and rows."""
    named: Text = " ".join(part for part in (damage.table.replace("_", " "), damage.name) if part)
    if named and damage.shipment and damage.shipment != damage.name:
        named = message("{row} (shipment {shipment})", row=named, shipment=damage.shipment)
    return joined(named, _DAMAGE_WORDS[damage.kind], damage.detail, separator=": ")
