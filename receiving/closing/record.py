"""A sealed record: a receipt that proves by itself what was confirmed, and shows where it was changed.

The problem: a receipt must stand a year later, whoever holds the database. The method: a header names the SHA-256 of
the receipt's text, of the one before it, of all reads and notes of the shipment until then, and of the photos that it
shows; an Ed25519 signature (RFC 8032) by this service's key covers the header. Block digests in the header tell where a
changed text differs. Invariant: the text is kept and signed as bytes and never written anew.
"""

import hashlib
import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Annotated, Any, Literal

import msgspec
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric import ed25519

from receiving.errors import BadRequest
from receiving.messages import message
from receiving.model import Seal, SealedRecord

FORMAT = "receiving-record/1"
BLOCK_BYTES = 256
_BLOCK_DIGITS = 16
_MARK = "\ufeff"
"""What some editors put before a text."""
_HEX = re.compile(r"(?:[0-9a-f]{2})*")
_ERASED = re.compile(r"\[name erased on \d{4}-\d{2}-\d{2}\]")
_Count = Annotated[int, msgspec.Meta(ge=0, le=10**9)]


class _Evidence(msgspec.Struct):
    reads: _Count
    notes: _Count
    sha256: str


class Renewal(msgspec.Struct):
    """Why a receipt was sealed anew, when, and the digest of the seal that was there before."""

    at: str
    why: str
    was: str


class Header(msgspec.Struct):
    """What a seal covers; see `seal`."""

    format: Literal["receiving-record/1"]
    shipment: str
    number: _Count
    sha256: str
    blocks: list[str]
    previous: str
    evidence: _Evidence
    photos: list[str]
    key: str
    renewed: list[Renewal] = []


class _File(msgspec.Struct):
    format: Literal["receiving-record/1"]
    header: str
    signature: str
    public_key: str
    receipt: str


class Flaw(StrEnum):
    """What is wrong with a record."""

    TEXT_CHANGED = "text_changed"
    HEADER_CHANGED = "header_changed"
    UNKNOWN_KEY = "unknown_key"
    CHAIN_BROKEN = "chain_broken"
    EVIDENCE_CHANGED = "evidence_changed"
    PHOTO_CHANGED = "photo_changed"
    NOT_AS_STORED = "not_as_stored"
    SEAL_NOT_AS_STORED = "seal_not_as_stored"
    SEAL_MISSING = "seal_missing"
    FILE_SEAL_CHANGED = "file_seal_changed"
    FILE_CHANGED = "file_changed"
    PART_CHANGED = "part_changed"
    OTHER_KEY = "other_key"


@dataclass(frozen=True)
class Finding:
    """One flaw; ``first`` and ``last`` are the bytes (from 0) between which it lies, of the receipt's text.

    Of `Flaw.SEAL_NOT_AS_STORED` they are those of the part of the file that ``what`` names, of `Flaw.FILE_CHANGED`
    those of the file without its seal.
    """

    flaw: Flaw
    first: int | None = None
    last: int | None = None
    what: str = ""


def make_key() -> tuple[str, str, str]:
    """A new key pair: its id (the start of the public key's SHA-256), private and public key as hexadecimal text."""
    private = ed25519.Ed25519PrivateKey.generate()
    public = private.public_key().public_bytes_raw()
    return key_id(public.hex()), private.private_bytes_raw().hex(), public.hex()


def key_id(public_hex: str) -> str:
    """The id of a public key."""
    return hashlib.sha256(bytes.fromhex(public_hex)).hexdigest()[:16]


def seal(
    text: str,
    *,
    shipment: str,
    number: int,
    sealed_at: datetime,
    previous: str,
    evidence: tuple[int, int, str],
    photos: Sequence[str],
    private_hex: str,
    renewed: Sequence[Mapping[str, str]] = (),
) -> Seal:
    """Seal a receipt's text.

    ``previous`` is the digest of the seal before it (empty for the first), ``evidence`` how many reads and notes there
    were and the SHA-256 over them, ``photos`` the SHA-256 of the photos that the receipt shows,
    ``renewed`` why it was sealed anew, as `Renewal` tells.
    """
    public = public_key_of(private_hex)
    # Signed is the text of the header as it stands, byte for byte: who checks it never has to write it again.
    header = canonical_json(
        {
            "format": FORMAT,
            "shipment": shipment,
            "number": number,
            "sealed_at": sealed_at.isoformat(),
            "sha256": hashlib.sha256(text.encode()).hexdigest(),
            "blocks": _blocks(text.encode()),
            "previous": previous,
            "evidence": {"reads": evidence[0], "notes": evidence[1], "sha256": evidence[2]},
            "photos": sorted(photos),
            "key": key_id(public),
            **({"renewed": list(renewed)} if renewed else {}),
        }
    )
    return Seal(header, sign(header, private_hex), public)


def public_key_of(private_hex: str) -> str:
    """The public key that belongs to a private one, both as hexadecimal text."""
    public: bytes = _private(private_hex).public_key().public_bytes_raw()
    return public.hex()


def are_pair(private_hex: str, public_hex: str) -> bool:
    """True where these are the two halves of one key."""
    try:
        return public_key_of(private_hex) == public_hex
    except ValueError:
        return False


def sign(text: str, private_hex: str) -> str:
    """The Ed25519 signature over a text, as hexadecimal text."""
    signature: bytes = _private(private_hex).sign(text.encode())
    return signature.hex()


def _private(private_hex: str) -> Any:
    return ed25519.Ed25519PrivateKey.from_private_bytes(bytes.fromhex(private_hex))


def seal_digest(seal: Seal) -> str:
    """What the next seal names as the one before it."""
    return hashlib.sha256(f"{seal.header}\n{seal.signature}".encode()).hexdigest()


def canonical_json(value: Any) -> str:
    """The one spelling of a value as JSON that is signed or compared."""
    return json.dumps(value, sort_keys=True, separators=(",", ":"), ensure_ascii=False)


def _blocks(data: bytes) -> list[str]:
    starts = range(0, len(data), BLOCK_BYTES)
    return [hashlib.sha256(data[start : start + BLOCK_BYTES]).hexdigest()[:_BLOCK_DIGITS] for start in starts]


def write_record(record: SealedRecord) -> str:
    """The record as a file of its own: JSON text that `read_record` reads back to the same bytes."""
    sealed = record.seal
    return (
        json.dumps(
            {
                "format": FORMAT,
                "header": sealed.header,
                "signature": sealed.signature,
                "public_key": sealed.public_key,
                "receipt": record.text,
            },
            indent=1,
            ensure_ascii=False,
        )
        + "\n"
    )


def read_record(name: str, data: bytes) -> SealedRecord:
    """A record from its file; raises BadRequest for a file that is not one."""
    try:
        # As text first: the place that is named is then one of the file and not of a string in it.
        found = msgspec.json.decode(data.decode().removeprefix(_MARK), type=_File)
        header = msgspec.json.decode(found.header, type=Header)
    except (ValueError, RecursionError) as fault:  # of which msgspec's own are
        raise BadRequest(
            message("{file} is not a record of a receipt ({fault}).", file=repr(name), fault=str(fault)),
            next_step=message("Give the file that the receipt's page offers as “Sealed record”, or its PDF or ZIP."),
        ) from fault
    sealed = Seal(found.header, found.signature, found.public_key)
    return SealedRecord(header.shipment, header.number, found.receipt, sealed)


def header_of(sealed: Seal) -> Header | None:
    """The header of a seal; None where it was changed so that it cannot be read."""
    try:
        return msgspec.json.decode(sealed.header, type=Header)
    except (ValueError, RecursionError):
        return None


def check_alone(record: SealedRecord) -> list[Finding]:
    """What a record shows of itself: a changed header, and where its text was changed."""
    header = header_of(record.seal)
    if header is None:
        return [Finding(Flaw.HEADER_CHANGED)]
    # The header is checked first, on its own: it names the hash, and a hash that anyone may write proves nothing.
    findings = [] if is_signed(record.seal) else [Finding(Flaw.HEADER_CHANGED)]
    data = record.text.encode()
    if hashlib.sha256(data).hexdigest() != header.sha256:
        findings.append(_where(data, header.blocks))
    if not is_named(record.seal.public_key, header.key):
        findings.append(Finding(Flaw.UNKNOWN_KEY, what=record.seal.public_key))
    return findings


def is_named(public_hex: str, name: str) -> bool:
    """True where this is the key of that id; a text that is not a key has none."""
    return _is_hex(public_hex) and key_id(public_hex) == name


def is_signed(sealed: Seal) -> bool:
    """True where the signature of a seal is one over its header by its key."""
    if not _is_hex(sealed.public_key) or not _is_hex(sealed.signature):
        return False
    try:
        public = ed25519.Ed25519PublicKey.from_public_bytes(bytes.fromhex(sealed.public_key))
        public.verify(bytes.fromhex(sealed.signature), sealed.header.encode())
    except (InvalidSignature, ValueError):
        return False
    return True


def _is_hex(digits: str) -> bool:
    """True for bytes as they are written here: Python reads capitals and spaces too, which nobody sealed."""
    return _HEX.fullmatch(digits) is not None


def first_seal_difference(sealed: Seal, stored: Seal) -> Finding | None:
    """The first byte at which a seal differs from the stored one; None where they are the same."""
    for part in ("header", "signature", "public_key"):
        one, other = getattr(sealed, part), getattr(stored, part)
        if one != other:
            place = first_difference(one, other)
            return Finding(Flaw.SEAL_NOT_AS_STORED, place, place, part)
    return None


def _where(data: bytes, sealed: list[str]) -> Finding:
    """The first block that differs: the change lies in it, or what was added or taken away begins there."""
    now = _blocks(data)
    # Slices, not items: past the end of the shorter one they are empty, so a text cut off differs there as well.
    differing = (n for n in range(max(len(now), len(sealed))) if now[n : n + 1] != sealed[n : n + 1])
    first = next(differing, 0) * BLOCK_BYTES
    return Finding(Flaw.TEXT_CHANGED, first, min(first + BLOCK_BYTES, max(len(data), first + 1)) - 1)


def same_but_for_names(text: str, erased: str) -> bool:
    """True when a receipt's text is one from which names, and what was signed by them, were taken out since.

    >>> same_but_for_names('{"name":"Ida Berg"}', '{"name":"[name erased on 2026-03-02]"}')
    True
    >>> same_but_for_names('{"name":"Ida","role":"King"}', '{"name":"[name erased on 2026-03-02]","role":"Page"}')
    False
    """
    try:
        before, after = (json.loads(each) for each in (text, erased))
    except ValueError:
        return False
    if not isinstance(before, dict) or not isinstance(after, dict):
        return False
    if _ERASED.fullmatch(str(after.get("name", ""))):
        before["signature"] = after["signature"] = None
    parts = _ERASED.split(canonical_json(after))
    return re.fullmatch(".*?".join(map(re.escape, parts)), canonical_json(before), re.DOTALL) is not None


def first_difference(text: str, other: str) -> int:
    """The place (byte, from 0) of the first difference between two texts that are not the same."""
    one, two = text.encode(), other.encode()
    return next((n for n, (a, b) in enumerate(zip(one, two, strict=False)) if a != b), min(len(one), len(two)))
