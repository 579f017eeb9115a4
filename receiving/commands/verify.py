"""``receiving verify``: whether a receipt is still what was confirmed."""

import argparse
from datetime import date

from receiving import service
from receiving.cli import DONE, FAILED
from receiving.commands.files import file_bytes
from receiving.commands.terminal import show
from receiving.messages import Message, message
from receiving.service import Finding, Flaw, Verdict

WORDS = {
    Flaw.TEXT_CHANGED: message("its text was changed, {place}"),
    Flaw.HEADER_CHANGED: message("its header or signature was changed"),
    Flaw.UNKNOWN_KEY: message("it was sealed with a key that is not this service's"),
    Flaw.CHAIN_BROKEN: message("the receipt before this one was changed or removed"),
    Flaw.EVIDENCE_CHANGED: message("an earlier read or note was changed or removed"),
    Flaw.PHOTO_CHANGED: message("the photo {photo} is missing or was changed"),
    Flaw.SEAL_MISSING: message("its seal is not in the data folder any more"),
    Flaw.FILE_SEAL_CHANGED: message("the seal of the file around it was changed"),
    Flaw.FILE_CHANGED: message("the file around it was changed, {place}"),
    Flaw.PART_CHANGED: message("what was changed lies in {part}"),
    Flaw.OTHER_KEY: message("it is sealed with another key than the one that was given"),
    Flaw.NOT_AS_STORED: message("it differs from the receipt in the data folder, {place}"),
}


SEAL_WORDS = {
    "header": message("its header differs from the one in the data folder, at byte {number} of it"),
    "signature": message("its signature differs from the one in the data folder, at byte {number} of it"),
    "public_key": message("its key differs from the one in the data folder, at byte {number} of it"),
}
"""What is said of each part of a seal that is not as it is stored."""


def run(options: argparse.Namespace) -> int:
    """Verify a sealed record, PDF or ZIP alone, or against a data folder."""
    if options.data is None:
        verdict = service.verify_file(options.file.name, file_bytes(options.file), key=options.key)
    else:
        with service.Context.at(options.data) as ctx:
            verdict = service.verify_against(ctx, options.file.name, file_bytes(options.file), key=options.key)
    _print_verdict(verdict, key_given=bool(options.key))
    return DONE if verdict.sound else FAILED


def _print_verdict(verdict: Verdict, *, key_given: bool) -> None:
    values = {"number": verdict.number, "shipment": verdict.shipment, "key": verdict.key}
    if verdict.sound and verdict.against_store:
        show(
            message(
                "Receipt {number} of shipment {shipment} is as it was confirmed, "
                "compared with this data folder (key {key}).",
                **values,
            )
        )
    elif verdict.sound:
        show(
            message(
                "Receipt {number} of shipment {shipment} is as it was confirmed, compared by itself (key {key}).",
                **values,
            )
        )
        if not key_given:
            keys = "receiving keys --data FOLDER"
            show(message("Compare the key with the one that the service shows: {command}.", command=keys))
    if verdict.sound and verdict.file_key:
        show(message("The file around it is byte for byte as it was issued (key {key}).", key=verdict.file_key))
    if verdict.sound and verdict.erased_on:
        day = date.fromisoformat(verdict.erased_on)
        show(message("A name was taken out of this data folder on {day}; the rest is compared.", day=day))
    for finding in verdict.findings:
        name = message("Receipt {number} of shipment {shipment}", number=verdict.number, shipment=verdict.shipment)
        show(message("{receipt}: {finding}.", receipt=name, finding=_words(finding)))


def _words(finding: Finding) -> Message:
    first, last = finding.first, finding.last
    if finding.flaw is Flaw.SEAL_NOT_AS_STORED:
        return SEAL_WORDS[finding.what].filled(number=first)
    if finding.flaw is Flaw.NOT_AS_STORED and first is None:
        return message(
            "it differs from the receipt in the data folder in more than the names that were taken out of it"
        )
    place = message("between bytes {first} and {last} of its text", first=first, last=last)
    if finding.flaw is Flaw.FILE_CHANGED:
        place = message("between bytes {first} and {last} of it", first=first, last=last)
    elif first == last:
        place = message("at byte {number} of its text", number=first)
    return WORDS[finding.flaw].filled(place=place, photo=finding.what, part=finding.what)
