"""``receiving verify``: whether a receipt is still what was confirmed."""

import argparse

from receiving import service
from receiving.cli import DONE, FAILED
from receiving.commands.files import file_bytes
from receiving.commands.terminal import show
from receiving.service import Finding, Flaw, Verdict

WORDS = {
    Flaw.TEXT_CHANGED: "its text was changed, {place}",
    Flaw.HEADER_CHANGED: "its header or signature was changed",
    Flaw.UNKNOWN_KEY: "it was sealed with a key that is not this service's",
    Flaw.CHAIN_BROKEN: "the receipt before it was changed or removed",
    Flaw.EVIDENCE_CHANGED: "a read or a note of the time before it was changed or removed",
    Flaw.PHOTO_CHANGED: "the photo {what} is missing or was changed",
    Flaw.NOT_AS_STORED: "it differs from the receipt in the data folder, {place}",
}


def run(options: argparse.Namespace) -> int:
    """Verify a record alone, or against a data folder; a shipment's own receipts where a number is given."""
    if options.data is None:
        verdicts: tuple[Verdict, ...] = (service.verify_file(options.file.name, file_bytes(options.file)),)
    else:
        with service.Context.at(options.data) as ctx:
            verdicts = (service.verify_against(ctx, options.file.name, file_bytes(options.file)),)
    for verdict in verdicts:
        _tell(verdict)
    return DONE if all(verdict.sound for verdict in verdicts) else FAILED


def _tell(verdict: Verdict) -> None:
    name = f"Receipt {verdict.number} of shipment {verdict.shipment}"
    if verdict.sound:
        how = "with this data folder" if verdict.against_store else "by itself"
        show(f"{name} is as it was confirmed, compared {how} (key {verdict.key}).")
        if verdict.erased_on:
            show(f"A name was taken out of this data folder on {verdict.erased_on}; the rest is compared.")
        if not verdict.against_store:
            show("Compare the key with the one that the service shows: receiving keys --data FOLDER.")
    for finding in verdict.findings:
        show(f"{name}: {_words(finding)}.")


def _words(finding: Finding) -> str:
    first, last = finding.first, finding.last
    place = "" if first is None else (f"at byte {first}" if first == last else f"between bytes {first} and {last}")
    return WORDS[finding.flaw].format(place=place, what=finding.what)
