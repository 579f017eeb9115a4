"""``receiving check``: whether everything in the data folder is as it was stored."""

import argparse
from dataclasses import asdict

from receiving import service
from receiving.cli import DONE, FAILED
from receiving.commands.row_words import rows_words
from receiving.commands.terminal import show, show_json
from receiving.messages import Text, joined, message, plural
from receiving.service import DAMAGE_WORDS, Damage


def run(options: argparse.Namespace) -> int:
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
    return joined(named, DAMAGE_WORDS[damage.kind], damage.detail, separator=": ")
