"""Files that people are given of a receipt, a PDF and a ZIP, sealed as whole files: any changed byte is found.

The problem: a sealed record proves what was confirmed, and people hold the paper instead. The method: the file carries
the sealed record, in a PDF as an embedded file (ISO 32000-2, 7.11.4 and 14.13), in a ZIP as its first member, and a
seal over all its other bytes: a header with their SHA-256 and where each part lies, signed by Ed25519 (RFC 8032). The
seal stands where readers of these formats pass over it: in comments of a PDF before ``startxref`` (ISO 32000-2, 7.2.4),
in the archive comment of a ZIP (PKWARE APPNOTE 6.3.10, 4.4.12). Invariant: every byte of the file is either covered by
the signature, or one of the seal itself, which has only one spelling.
"""

import base64
import hashlib
import io
import zipfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated, Final, Literal

import msgspec

from receiving.closing.record import (
    Finding,
    Flaw,
    canonical_json,
    is_named,
    is_signed,
    key_id,
    public_key_of,
    sign,
)
from receiving.errors import BadRequest
from receiving.messages import message
from receiving.model import Seal

FORMAT: Final = "receiving-file/1"
RECORD = "record.json"
"""The name of the sealed record inside: as an attachment of the PDF, and as a member of the ZIP."""
PDF_MARK, ZIP_MARK = b"%PDF-", b"PK\x03\x04"
_LINE = b"%" + FORMAT.encode() + b" "
_LINE_CHARACTERS = 100
_START = b"startxref"
_END_OF_ZIP, _END_BYTES = b"PK\x05\x06", 22
_PLACES = 256
"""How many blocks a file is divided into, so that a change is placed without a seal as long as the file."""
_Count = Annotated[int, msgspec.Meta(ge=0, le=2**40)]


class Part(msgspec.Struct):
    """One piece of the file that has a name: its first byte (from 0, the seal left out), its length, its digest."""

    name: str
    first: _Count
    size: _Count
    sha256: str


class FileHeader(msgspec.Struct):
    """What the seal of a file covers."""

    format: Literal["receiving-file/1"]
    shipment: str
    number: _Count
    size: _Count
    sha256: str
    block_bytes: Annotated[int, msgspec.Meta(ge=1, le=2**40)]
    blocks: list[str]
    parts: list[Part]
    key: str


class _Seal(msgspec.Struct):
    header: str
    signature: str
    public_key: str


@dataclass(frozen=True)
class IssuedFile:
    """A file as it was read: all its bytes but the seal, the seal, and what its header says."""

    body: bytes
    seal: Seal
    header: FileHeader

    def part(self, name: str) -> bytes | None:
        """A named part, as it is in the file now; None where there is no such part."""
        found = next((each for each in self.header.parts if each.name == name), None)
        return None if found is None else self.body[found.first : found.first + found.size]


def seal_pdf(pdf: bytes, record: str, *, shipment: str, number: int, private_hex: str) -> bytes:
    """The PDF with its seal; ``record`` is the text that `receipt_pdf` put into it."""
    data = record.encode()
    parts = [_part(RECORD, pdf.index(data), data)]
    made = _make_seal(pdf, parts, shipment, number, private_hex)
    place = pdf.rindex(_START)
    return pdf[:place] + _as_comments(made) + pdf[place:]


def seal_zip(members: Mapping[str, bytes], *, shipment: str, number: int, private_hex: str) -> bytes:
    """These members, stored as they are, as a ZIP with its seal; the same members give the same bytes."""
    out = io.BytesIO()
    parts = []
    with zipfile.ZipFile(out, "w", zipfile.ZIP_STORED) as archive:
        for name, data in members.items():
            about = zipfile.ZipInfo(name)  # of 1980, as no clock is asked: when it was confirmed is in the record
            about.external_attr = 0o644 << 16
            archive.writestr(about, data)
            parts.append(_part(name, out.tell() - len(data), data))
    body = out.getvalue()
    comment = _as_comments(_make_seal(body, parts, shipment, number, private_hex))
    return body[:-2] + len(comment).to_bytes(2, "little") + comment


def _part(name: str, first: int, data: bytes) -> Part:
    return Part(name, first, len(data), hashlib.sha256(data).hexdigest())


def _make_seal(body: bytes, parts: Sequence[Part], shipment: str, number: int, private_hex: str) -> Seal:
    public = public_key_of(private_hex)
    block_bytes = max(256, -(-len(body) // _PLACES))
    header = FileHeader(
        FORMAT,
        shipment,
        number,
        len(body),
        hashlib.sha256(body).hexdigest(),
        block_bytes,
        _blocks(body, block_bytes),
        list(parts),
        key_id(public),
    )
    text = canonical_json(msgspec.to_builtins(header))
    return Seal(text, sign(text, private_hex), public)


def _blocks(body: bytes, block_bytes: int) -> list[str]:
    starts = range(0, len(body), block_bytes)
    return [hashlib.sha256(body[start : start + block_bytes]).hexdigest()[:16] for start in starts]


def _as_comments(sealed: Seal) -> bytes:
    """The seal in lines that are comments of a PDF."""
    text = base64.b64encode(msgspec.json.encode(_Seal(sealed.header, sealed.signature, sealed.public_key)))
    lines = (text[start : start + _LINE_CHARACTERS] for start in range(0, len(text), _LINE_CHARACTERS))
    return b"".join(_LINE + line + b"\n" for line in lines)


def is_issued(data: bytes) -> bool:
    """True for a PDF or a ZIP, and for whatever has the mark of a sealed file in it."""
    return data.startswith((PDF_MARK, ZIP_MARK)) or _LINE in data


def read_issued(name: str, data: bytes) -> IssuedFile:
    """A sealed PDF or ZIP from its bytes. Raises BadRequest where it has no seal, or one that cannot be read."""
    body, comments = _apart(data)
    try:
        found = msgspec.json.decode(_joined(comments), type=_Seal)
        header = msgspec.json.decode(found.header, type=FileHeader)
        sealed = Seal(found.header, found.signature, found.public_key)
    except (ValueError, RecursionError) as fault:  # of which msgspec's and base64's own are
        if _LINE in data:
            raise _changed_seal(name) from fault
        raise BadRequest(
            message("{file} has no seal of this service in it.", file=repr(name)),
            next_step=message(
                "Give a PDF, a ZIP or a sealed record as the receipt's page offers it; one that was printed, or saved "
                "anew by another program, proves nothing."
            ),
        ) from fault
    if _as_comments(sealed) != comments:
        raise _changed_seal(name)
    return IssuedFile(body, sealed, header)


def _changed_seal(name: str) -> BadRequest:
    return BadRequest(
        message("The seal of {file} was changed, or the file was cut off or rewritten.", file=repr(name)),
        next_step=message("Ask whoever gave it for the file as it was saved from the receipt's page."),
    )


def _apart(data: bytes) -> tuple[bytes, bytes]:
    """What is sealed, and the comments that hold the seal; these are empty where none are found at their place."""
    if data.startswith(ZIP_MARK) or _END_OF_ZIP in data[-70_000:]:
        end = data.rfind(_END_OF_ZIP) + _END_BYTES
        comments = data[end:]
        if end >= _END_BYTES and len(comments) < 2**16 and data[end - 2 : end] == len(comments).to_bytes(2, "little"):
            return data[: end - 2] + b"\0\0", comments
    place = data.rfind(_START)
    first = place
    while first > 0 and (start := data.rfind(_LINE, 0, first)) >= 0 and data.find(b"\n", start, first) == first - 1:
        first = start
    return data[:first] + data[place:], data[first:place]


def _joined(comments: bytes) -> bytes:
    return base64.b64decode(b"".join(line.removeprefix(_LINE) for line in comments.split(b"\n")), validate=True)


def check_issued(file: IssuedFile) -> list[Finding]:
    """What a sealed file shows of itself: a changed seal, and which part was changed, or where between parts."""
    header = file.header
    if not is_signed(file.seal):
        return [Finding(Flaw.FILE_SEAL_CHANGED)]
    if not is_named(file.seal.public_key, header.key):
        return [Finding(Flaw.UNKNOWN_KEY, what=file.seal.public_key)]
    if hashlib.sha256(file.body).hexdigest() == header.sha256:
        return []
    changed = [Finding(Flaw.PART_CHANGED, what=each.name) for each in header.parts if not _is_there(file.body, each)]
    now = _blocks(file.body, header.block_bytes)
    pairs = range(max(len(now), len(header.blocks)))
    first = next((n for n in pairs if now[n : n + 1] != header.blocks[n : n + 1]), 0) * header.block_bytes
    last = min(first + header.block_bytes, max(len(file.body), first + 1)) - 1
    return [Finding(Flaw.FILE_CHANGED, first, last), *changed]


def _is_there(body: bytes, part: Part) -> bool:
    return hashlib.sha256(body[part.first : part.first + part.size]).hexdigest() == part.sha256
