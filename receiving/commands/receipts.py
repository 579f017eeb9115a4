"""``receiving verify``, ``keys`` and ``messages``: is a receipt what was confirmed, and what goes out.

Messages of receipts are standard ones, written into a folder where another program looks.
"""

import argparse
from datetime import date
from pathlib import Path

from receiving import service
from receiving.cli import DONE, FAILED
from receiving.commands.files import check_not_inside, file_bytes
from receiving.commands.terminal import show, show_fault
from receiving.messages import Message, message, plural
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


def run_verify(options: argparse.Namespace) -> int:
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


def run_keys(options: argparse.Namespace) -> int:
    """List the keys; with ``--rotate`` seal with a new one from now on."""
    with service.Context.at(options.data) as ctx:
        if options.rotate:
            show(message("Receipts are sealed with key {key} from now on.", key=service.rotate_key(ctx)))
        keys = service.list_signing_keys(ctx)
    for key in keys:
        named = f"{key.key}  {key.public_key}"
        first, last = f"{key.created_at:%Y-%m-%d}", f"{key.retired_at:%Y-%m-%d}" if key.retired_at else ""
        words = message("{key}  from {day}, in use", key=named, day=first)
        if last:
            words = message("{key}  from {day} to {last}", key=named, day=first, last=last)
        show(words)
    if not keys:
        show(message("There is no key yet: the first confirmation makes one."))
    return DONE


def run_messages(options: argparse.Namespace) -> int:
    """Write what was not written yet; status 1 when something could not be."""
    check_not_inside(options.out, options.data)
    with service.Context.at(options.data) as ctx:
        done = service.write_messages(ctx, folder_of(options, options.out), again=options.again)
        service.write_command(ctx, "messages", about=options.out.name)
    for fault in done.faults:
        show_fault(fault)
    show(
        plural(
            len(done.files),
            "{number} message is written to {folder}",
            "{number} messages are written to {folder}",
            folder=str(options.out),
        )
    )
    return FAILED if done.faults else DONE


def folder_of(options: argparse.Namespace, folder: Path) -> service.MessageFolder:
    """The folder with what else the options say of it; EPCIS only where there is a base for its names."""
    usual = [kind for kind in service.MESSAGES if options.base or kind != "jsonld"]
    return service.MessageFolder(
        folder,
        tuple(options.message or usual),
        options.sender_id,
        options.receiver_id,
        options.base,
    )
