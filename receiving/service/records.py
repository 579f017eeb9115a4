"""Records that prove themselves: sealing a receipt, verifying one alone or against the store, and messages out.

Messages go out by a folder, too: each receipt's are written there once, for another program to take. A file is whole or
not there, and one that was taken is not written again; what one cannot carry is said each time.
"""

import hashlib
import json
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from urllib.parse import quote

from receiving.closing import (
    RECORD,
    Finding,
    Flaw,
    IssuedFile,
    Parties,
    are_pair,
    check_alone,
    check_issued,
    check_names_base,
    first_difference,
    first_seal_difference,
    header_of,
    is_issued,
    is_named,
    make_key,
    read_issued,
    read_record,
    receiving_advice_edifact,
    receiving_advice_x12,
    receiving_events,
    same_but_for_names,
    seal,
    seal_digest,
    write_record,
)
from receiving.errors import BadRequest, NotFound, ReceivingError, StoreError
from receiving.messages import Text, message
from receiving.model import Deed, Receipt, Seal, SealedRecord
from receiving.service.auditing import record
from receiving.service.context import Context
from receiving.service.stores import get_shipment_now
from receiving.store import SigningKey, Store
from receiving.store.photos import write_whole

MESSAGES = {"x12": "X12 861", "edi": "EDIFACT RECADV", "jsonld": "EPCIS 2.0"}
"""The standard messages that a receipt goes out in, by the ending of the file."""
_CONTROLS = 999_999_999


@dataclass(frozen=True)
class Verdict:
    """What was found of a record: no findings, and it is what was confirmed. ``against_store``: it was compared.

    ``key`` seals the record, ``file_key`` the PDF or ZIP around it. ``erased_on``: the day on which a name was taken
    out of the store's copy since; empty where none was.
    """

    shipment: str
    number: int
    findings: tuple[Finding, ...]
    against_store: bool
    key: str
    erased_on: str = ""
    file_key: str = ""

    @property
    def sound(self) -> bool:
        """Nothing was changed."""
        return not self.findings


def seal_receipt(ctx: Context, store: Store, receipt: Receipt) -> Seal:
    """Seal a receipt that was just stored; call it in its transaction."""
    shipment = receipt.shown.shipment
    before = store.sealed_records(shipment)
    reads, notes = store.evidence_counts(shipment)
    made = seal(
        store.receipt_text(shipment, receipt.number),
        shipment=shipment,
        number=receipt.number,
        sealed_at=receipt.confirmed_at,
        previous=seal_digest(before[-1].seal) if before else "",
        evidence=(reads, notes, store.evidence_digest(shipment, reads, notes)),
        photos=photos_of(receipt),
        private_hex=signing_key(ctx, store).private_key,
    )
    store.add_seal(shipment, receipt.number, made)
    return made


def photos_of(receipt: Receipt) -> tuple[str, ...]:
    """The photos (SHA-256) that a receipt shows."""
    return tuple(sorted({photo for line in receipt.shown.lines for photo in line.photos}))


def signing_key(ctx: Context, store: Store) -> SigningKey:
    """The key that seals are made with, made at first use.

    Raises StoreError where it was changed: what it sealed would be told to be by a key that is not this service's.
    """
    current = next((key for key in store.signing_keys() if key.retired_at is None), None)
    if current and not are_pair(current.private_key, current.public_key):
        raise StoreError(
            message("The key that seals receipts was changed or lost."),
            next_step=message(
                "Restore it from a backup, or make a new one: {command}. "
                "What the old one sealed can still be verified.",
                command="receiving keys --rotate",
            ),
        )
    return current or _add_key(ctx, store)


def _add_key(ctx: Context, store: Store) -> SigningKey:
    name, private, public = make_key()
    key = SigningKey(name, public, private, ctx.now())
    store.add_signing_key(key)
    return key


def rotate_key(ctx: Context) -> str:
    """Seal with a new key from now on; gives its id. The old one still proves what it sealed; its private half goes."""
    with ctx.transaction() as store:
        made = _add_key(ctx, store).key
        record(ctx, store, Deed.KEY_ROTATED, about=made)
        return made


def list_signing_keys(ctx: Context) -> tuple[SigningKey, ...]:
    """All keys, the current one first."""
    with ctx.store() as store:
        return store.signing_keys()


def get_record_file(ctx: Context, shipment: str, number: int) -> str:
    """A receipt with its seal as a file of its own. Raises NotFound."""
    return write_record(sealed_record(ctx, shipment, number))


def sealed_record(ctx: Context, shipment: str, number: int) -> SealedRecord:
    """A receipt with its seal. Raises NotFound, also for one of before receipts were sealed."""
    with ctx.store() as store:
        store.receipt(shipment, number)
        found = next((r for r in store.sealed_records(shipment) if r.number == number), None)
    if found is None:
        raise NotFound(
            message(
                "Receipt {number} of shipment {shipment} was confirmed before receipts were sealed.",
                number=number,
                shipment=repr(shipment),
            ),
            next_step=message("Use its PDF; receipts that are confirmed from now on have a seal."),
        )
    return found


def verify_file(name: str, data: bytes, *, key: str = "") -> Verdict:
    """Verify a sealed record, or a PDF or ZIP with one inside, by itself: whether it is as it was sealed.

    ``key`` is the public key, or its id, that it has to be sealed with. Raises BadRequest for a file that is none of
    these.
    """
    given = _given(name, data)
    if isinstance(given, Verdict):
        return given
    return given.verdict((*given.alone, *given.of_other_key(key)), against_store=False)


def verify_against(ctx: Context, name: str, data: bytes, *, key: str = "") -> Verdict:
    """Verify it against the store too: its key, its text, the chain, and all that was seen and said until then.

    Raises BadRequest for a file that has no record, NotFound for a shipment or receipt that is not here.
    """
    given = _given(name, data)
    if isinstance(given, Verdict):
        return given
    record = given.record
    with ctx.store() as store:
        store.shipment(record.shipment)
        known = {each.public_key for each in store.signing_keys()}
        unknown = (Finding(Flaw.UNKNOWN_KEY, what=each) for each in given.public_keys[1:] if each not in known)
        findings = (*given.alone, *given.of_other_key(key), *unknown, *_against(ctx, store, record))
        return replace(given.verdict(findings, against_store=True), erased_on=_renewal(store, record)[:10])


@dataclass(frozen=True)
class _Given:
    """A file that is to be verified: its record, the PDF or ZIP around it, what it shows of itself."""

    record: SealedRecord
    file: IssuedFile | None
    alone: tuple[Finding, ...]

    @property
    def public_keys(self) -> tuple[str, ...]:
        """The keys that seal the record and the file around it."""
        return (self.record.seal.public_key, *((self.file.seal.public_key,) if self.file else ()))

    def of_other_key(self, asked: str) -> Iterator[Finding]:
        """A finding for each seal by another key than this one, or than the one with this id; empty asks for none."""
        for each in self.public_keys:
            if asked and each != asked.lower() and not is_named(each, asked.lower()):
                yield Finding(Flaw.OTHER_KEY, what=each)

    def verdict(self, findings: Iterable[Finding], *, against_store: bool) -> Verdict:
        verdict = _verdict(self.record, findings, against_store=against_store)
        return replace(verdict, file_key=self.file.header.key) if self.file else verdict


def _given(name: str, data: bytes) -> _Given | Verdict:
    """What is to be verified; of a PDF or ZIP whose record was changed beyond reading, where it was changed."""
    if not is_issued(data):
        record = read_record(name, data)
        return _Given(record, None, tuple(check_alone(record)))
    file = read_issued(name, data)
    try:
        record = read_record(name, file.part(RECORD) or b"")
    except BadRequest:
        header, changed = file.header, tuple(check_issued(file))
        if not changed:
            raise
        return Verdict(header.shipment, header.number, changed, against_store=False, key="", file_key=header.key)
    named = (file.header.shipment, file.header.number) == (record.shipment, record.number)
    return _Given(
        record,
        file,
        (
            *check_issued(file),
            *(() if named else (Finding(Flaw.PART_CHANGED, what=RECORD),)),
            *check_alone(record),
        ),
    )


def verify_shipment(ctx: Context, shipment: str) -> tuple[Verdict, ...]:
    """Verify every sealed receipt of a shipment as it is stored now. Raises NotFound."""
    with ctx.store() as store:
        store.shipment(shipment)
        return tuple(
            _verdict(record, (*check_alone(record), *_against(ctx, store, record)), against_store=True)
            for record in store.sealed_records(shipment)
        )


def _verdict(record: SealedRecord, findings: Iterable[Finding], *, against_store: bool) -> Verdict:
    header = header_of(record.seal)
    return Verdict(record.shipment, record.number, tuple(findings), against_store, header.key if header else "")


def _against(ctx: Context, store: Store, record: SealedRecord) -> Iterator[Finding]:
    if record.seal.public_key not in {key.public_key for key in store.signing_keys()}:
        yield Finding(Flaw.UNKNOWN_KEY, what=record.seal.public_key)
    stored = store.receipt_text(record.shipment, record.number)
    # Names were erased since, and the receipt was sealed anew: the new record is held against what is stored.
    if _renewal(store, record):
        if not same_but_for_names(record.text, stored):
            yield Finding(Flaw.NOT_AS_STORED)
        now = next(each for each in store.sealed_records(record.shipment) if each.number == record.number)
        yield from (*check_alone(now), *_against(ctx, store, now))
        return
    if stored != record.text:
        place = first_difference(record.text, stored)
        yield Finding(Flaw.NOT_AS_STORED, place, place)
    sealed = next((each.seal for each in store.sealed_records(record.shipment) if each.number == record.number), None)
    if stored and not sealed:
        yield Finding(Flaw.SEAL_MISSING)
    if sealed and (differing := first_seal_difference(record.seal, sealed)):
        yield differing
    header = header_of(record.seal)
    if header is None:
        return  # told by what the record shows of itself
    chain = [each for each in store.sealed_records(record.shipment) if each.number < record.number]
    if header.previous != (seal_digest(chain[-1].seal) if chain else ""):
        yield Finding(Flaw.CHAIN_BROKEN)
    seen = header.evidence
    if store.evidence_digest(record.shipment, seen.reads, seen.notes) != seen.sha256:
        yield Finding(Flaw.EVIDENCE_CHANGED)
    pruned = store.pruned_photos()
    for photo in header.photos:
        if photo not in pruned and not ctx.photos.is_sound(photo):
            yield Finding(Flaw.PHOTO_CHANGED, what=photo)


def _renewal(store: Store, record: SealedRecord) -> str:
    """When the receipt was sealed anew since this record of it was written; empty where it was not."""
    now = next((each for each in store.sealed_records(record.shipment) if each.number == record.number), None)
    header, was = header_of(now.seal) if now else None, seal_digest(record.seal)
    return next((each.at for each in header.renewed if each.was == was), "") if header else ""


def make_standard_message(
    ctx: Context, shipment: str, number: int, kind: str, *, sender: str = "", receiver: str = "", base: str = ""
) -> str:
    """A receipt as one of `MESSAGES`. ``base`` is the address that EPCIS names begin with.

    Raises NotFound, BadRequest for a kind that is not there, or a value that the message cannot carry.
    """
    with ctx.store() as store:
        receipt = store.receipt(shipment, number)
    advice = receipt.advice
    if advice is None:
        raise BadRequest(
            message(
                "Receipt {number} was confirmed by an earlier version, which kept no facts for messages.", number=number
            ),
            next_step=message("Use its PDF, or let the store confirm once more."),
        )
    if kind == "jsonld":
        zone = get_shipment_now(ctx, shipment).tzinfo
        document = receiving_events(advice, base=base, zone=zone) if zone else receiving_events(advice, base=base)
        return json.dumps(document, indent=1, ensure_ascii=False) + "\n"
    parties = Parties(sender or advice.store, receiver or "SHIPPER")
    # The same receipt always gets the same control number, so that sending it twice is seen as such.
    control = int(hashlib.sha256(f"{shipment}\0{number}".encode()).hexdigest()[:12], 16) % _CONTROLS + 1
    if kind == "x12":
        return receiving_advice_x12(advice, parties, control=control, written_at=receipt.confirmed_at)
    if kind == "edi":
        return receiving_advice_edifact(advice, parties, control=control, written_at=receipt.confirmed_at)
    raise BadRequest(
        message("There is no message {kind}.", kind=repr(kind)),
        next_step=message("Choose one of {kinds}.", kinds=", ".join(MESSAGES)),
    )


EVERY_S = 5.0
ENCODINGS = {"edi": "latin-1"}
"""The character set of a message where it is not UTF-8 (UNOC of EDIFACT is ISO 8859-1)."""


@dataclass(frozen=True)
class MessageFolder:
    """Where messages go, in which kinds of `MESSAGES`, and as whose; ``base`` is where EPCIS names stand."""

    folder: Path
    kinds: tuple[str, ...] = tuple(MESSAGES)
    sender: str = ""
    receiver: str = ""
    base: str = ""


@dataclass(frozen=True)
class Written:
    """The files that were written now, and the faults of what could not be."""

    files: tuple[Path, ...]
    faults: tuple[Text, ...]


def write_messages(ctx: Context, to: MessageFolder, *, again: bool = False) -> Written:
    """Write the messages that were not written yet, or all ``again``. Raises BadRequest for a folder, kind or base."""
    unknown = [kind for kind in to.kinds if kind not in MESSAGES]
    if unknown or not to.kinds:
        raise BadRequest(
            message("There is no message {kind}.", kind=repr("".join(unknown[:1]))),
            next_step=message("Choose among {kinds}.", kinds=", ".join(MESSAGES)),
        )
    if "jsonld" in to.kinds and not to.base:
        raise BadRequest(
            message("EPCIS names things by addresses."),
            next_step=message("Give this service's own with --base ADDRESS."),
        )
    if "jsonld" in to.kinds:
        check_names_base(to.base)
    if not to.folder.is_dir():
        raise BadRequest(
            message("{folder} is not a folder.", folder=to.folder),
            next_step=message("Make it first, where the other program looks."),
        )
    files, faults = [], []
    with ctx.store() as store:
        due = store.unwritten_messages(to.kinds, again=again)
    for shipment, number, kind in due:
        try:
            text = make_standard_message(
                ctx, shipment, number, kind, sender=to.sender, receiver=to.receiver, base=to.base
            )
            target = to.folder / f"receipt-{quote(shipment, safe='')}-{number}.{kind}"
            _write(target, text.encode(ENCODINGS.get(kind, "utf-8")))
        except (ReceivingError, UnicodeEncodeError) as fault:
            faults.append(
                message(
                    "Receipt {number} of shipment {shipment} as {kind}: {fault}",
                    number=number,
                    shipment=shipment,
                    kind=MESSAGES[kind],
                    fault=fault,
                )
            )
            continue
        with ctx.transaction() as store:
            store.add_written_message(shipment, number, kind, ctx.now())
        files.append(target)
    return Written(tuple(files), tuple(faults))


def keep_writing(ctx: Context, to: MessageFolder) -> None:
    """Write what is new from now on, in a thread of its own, until the context closes. Raises as `write_messages`."""
    write_messages(ctx, to)

    def work() -> float:
        write_messages(ctx, to)
        return EVERY_S

    ctx.repeat(work, name="message folder")


def _write(target: Path, data: bytes) -> None:
    try:
        write_whole(target, data)
    except OSError as fault:
        raise BadRequest(
            message("{file} could not be written: {fault}.", file=target, fault=fault.strerror or fault),
            next_step=message("Free some space, or correct the folder's permissions."),
        ) from fault
