r"""Raw reads on their way in: of photos, and scans and typed lines, kept exactly as sent but for the keys around them.

A scan list is CSV with a header row, or JSON lines. Columns: ``scan_id`` (UUID), ``scanned_at`` (RFC 3339),
``raw``, ``place``, ``by``, ``photo``; the last three may be left out. In a scan list the four characters ``\x1d``
mean U+001D.
"""

import csv
import io
import json
import re
import uuid
from collections.abc import Callable, Iterator, Mapping
from datetime import UTC, datetime
from uuid import UUID

from receiving.errors import BadRequest, Fault, ScanFaults
from receiving.messages import Text, figure, message, plural
from receiving.model import PhotoReading, Place, RawRead, Source
from receiving.model.hidden_characters import hidden_character_words
from receiving.model.limits import FIRST_YEAR, LAST_YEAR
from receiving.reading.symbology import EOT, GS, LONGEST_TEXT, RS, plain_scan

COLUMNS = ("scan_id", "scanned_at", "raw", "place", "by", "photo")
REQUIRED = COLUMNS[:3]
LONGEST_NAME = 200
MOST_LISTED = 100
"""This many faults of a list are named."""

_TIME = re.compile(r"\d{4}-\d\d-\d\d[Tt ]\d\d:\d\d:\d\d(?:\.\d+)?(?:[Zz]|[+-]\d\d:\d\d)", re.ASCII)
_PHOTO = re.compile(r"[0-9a-f]{64}", re.ASCII)
_PHOTO_READS = uuid.UUID("3b0d7d1e-6d0e-5f57-9a31-0e2a8c1f4b60")
_NOT_UTF8 = "\ufffd"
_NEWLINE = re.compile(rb"\r\n|\r|\n")
_DATA_CONTROLS = frozenset("\t\n\r\x1c" + GS + RS + "\x1f" + EOT)

Row = tuple[int, Mapping[str, object] | None]
"""Its line, and its cells by column; None where its fault is told already."""

_Fault = Callable[[str, Text], None]


def typed_read(text: str, *, read_id: str, read_at: datetime, place: Place, by: str, source: Source) -> RawRead:
    """One line from a scanner or a keyboard as a raw read; its AIM identifier, if sent, becomes ``symbology``.

    BadRequest where the text is empty, longer than any symbol holds, or holds control characters that no label has,
    where ``read_at`` has no time zone, and where the name ``by`` is too long or not printable.
    """
    wrong = text_fault(text)
    if wrong:
        raise BadRequest(
            message("This was not read: {faults}.", faults=wrong), next_step=message("Scan or type the label again.")
        )
    if read_at.tzinfo is None:
        raise BadRequest(
            message("The time {read_at} has no time zone.", read_at=read_at.isoformat()),
            next_step=message("Send it with one, such as 12:00Z."),
        )
    if hidden := hidden_character_words(by, lines=False):
        raise BadRequest(
            message("What was given as {field} cannot be kept: {fault}.", field="by", fault=hidden),
            next_step=message("Delete that character, or type the text again."),
            field="by",
        )
    if len(by) > LONGEST_NAME or _NOT_UTF8 in by:
        raise BadRequest(
            message("The name {person} cannot be used.", person=repr(by[:40])),
            next_step=message("Use at most {longest_name} characters.", longest_name=LONGEST_NAME),
        )
    if not FIRST_YEAR <= read_at.year <= LAST_YEAR:
        raise BadRequest(
            message(
                "The time {read_at} is not from {first_year} to {last_year}.",
                read_at=read_at.isoformat(),
                first_year=FIRST_YEAR,
                last_year=LAST_YEAR,
            ),
            next_step=message("Set the clock."),
        )
    scan = plain_scan(text)
    return RawRead(read_id, read_at.astimezone(UTC), source, scan.data, scan.symbology, place, by)


def text_fault(text: str) -> Text:
    """Why this text can be no label text, in words; empty where it can be one."""
    if len(text) > LONGEST_TEXT:
        return plural(
            len(text),
            "it has {number} character, and no label carries more than {longest}",
            "it has {number} characters, and no label carries more than {longest}",
            longest=LONGEST_TEXT,
        )
    data = plain_scan(text).data
    if not data.strip():
        return message("it is empty")
    for place, char in enumerate(data, 1):
        if (char < " " and char not in _DATA_CONTROLS) or "\x7f" <= char <= "\x9f" or "\ud800" <= char <= "\udfff":
            point = f"U+{ord(char):04X}"
            return message(
                "character {place} is the control character {character}, which no label has",
                place=place,
                character=point,
            )
    return ""


def read_scans(name: str, data: bytes, *, most: int | None = None) -> tuple[RawRead, ...]:
    """The scans of a list in file order, each scan_id once; ScanFaults names the faults, and then none is loaded.

    A list of more than ``most`` rows is refused, and what follows them not looked at.
    """
    text = _text(name, data)
    faults: list[Fault] = []
    reads: dict[str, tuple[int, RawRead]] = {}
    rows = _json_rows(text, faults) if text.lstrip().startswith("{") else _csv_rows(text, faults)
    for number, (line, row) in enumerate(rows):
        if number == most:
            raise _too_long(name, line, most, faults)
        read = _read_of(line, row, faults) if row is not None else None
        if read is None:
            continue
        first = reads.setdefault(read.read_id, (line, read))
        if first[1] != read:
            faults.append(
                Fault(
                    line,
                    0,
                    message("{read_id} is on line {line} with other data", read_id=read.read_id, line=first[0]),
                    field="scan_id",
                )
            )
    if faults:
        raise ScanFaults(name, _listed(faults))
    return tuple(read for _, read in reads.values())


def _too_long(name: str, line: int, most: int, faults: list[Fault]) -> ScanFaults:
    words = message("more than {most_scans} scans are not accepted at once", most_scans=figure(most))
    step = message("Check that it is the list of this shipment, and send it in parts.")
    return ScanFaults(name, (*_listed(faults), Fault(line, 0, words)), next_step=step)


def _listed(faults: list[Fault]) -> tuple[Fault, ...]:
    """The first faults, and how many more there are."""
    more = len(faults) - MOST_LISTED
    if more <= 0:
        return tuple(faults)
    words = message("{number} more faults are not listed; correct these first", number=figure(more))
    return (*faults[:MOST_LISTED], Fault(0, 0, words))


def _text(name: str, data: bytes) -> str:
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise ScanFaults(name, (Fault(0, 0, message("the file is UTF-16: save it as UTF-8")),))
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as wrong:
        line = len(_NEWLINE.findall(data, 0, wrong.start)) + 1
        what = f"byte {wrong.start + 1} of the file is not UTF-8: save it as UTF-8"
        raise ScanFaults(name, (Fault(line, 0, what),)) from None
    if not text.strip():
        raise ScanFaults(
            name,
            (
                Fault(
                    0,
                    0,
                    message("the file is empty: a header row with {columns} is needed", columns=", ".join(REQUIRED)),
                ),
            ),
        )
    return text


def _not_json(wrong: ValueError | RecursionError) -> Text:
    """Why a line is not a JSON object: as the library says it, whose words are English."""
    if isinstance(wrong, json.JSONDecodeError):
        return message("this is not a JSON object ({fault})", fault=wrong.msg)
    return message("this is not a JSON object: it is too deep or too long")


def _json_rows(text: str, faults: list[Fault]) -> Iterator[Row]:
    for line, written in enumerate(io.StringIO(text, newline="\n"), 1):
        if not written.strip():
            continue
        try:
            row = json.loads(written.rstrip("\n"))
        except (ValueError, RecursionError) as wrong:
            faults.append(Fault(line, wrong.colno if isinstance(wrong, json.JSONDecodeError) else 0, _not_json(wrong)))
            yield line, None
            continue
        if not isinstance(row, dict):
            faults.append(
                Fault(line, 1, message("expected a JSON object, got {found}", found=repr(written.strip()[:40])))
            )
            yield line, None
            continue
        unknown = [key for key in row if key not in COLUMNS]
        faults.extend(
            Fault(
                line,
                0,
                message("{key} is not known: use {keys}", key=repr(key), keys=", ".join(COLUMNS)),
                field=key,
            )
            for key in unknown
        )
        yield line, row


def _csv_rows(text: str, faults: list[Fault]) -> Iterator[Row]:
    reader = csv.reader(io.StringIO(text, newline=""), strict=True)
    header: list[str] | None = None
    line = 1
    try:
        for cells in reader:
            if header is None:
                header = [cell.strip() for cell in cells]
                faults.extend(_header_faults(line, header))
                if faults:
                    return
            elif any(cell.strip() for cell in cells):
                if len(cells) != len(header):
                    faults.append(
                        Fault(
                            line,
                            0,
                            message(
                                "the row has {number} cells, the header {header_cells}",
                                number=len(cells),
                                header_cells=len(header),
                            ),
                        )
                    )
                    yield line, None
                else:
                    yield line, dict(zip(header, cells, strict=True))
            line = reader.line_num + 1
    except csv.Error as wrong:
        faults.append(Fault(reader.line_num, 0, message("this is not CSV: {fault}", fault=wrong)))


def _header_faults(line: int, header: list[str]) -> Iterator[Fault]:
    for column, cell in enumerate(header, 1):
        if cell not in COLUMNS:
            yield Fault(
                line,
                column,
                message(
                    "the column {column} is not known: use {columns}", column=repr(cell), columns=", ".join(COLUMNS)
                ),
            )
        elif header.index(cell) != column - 1:
            yield Fault(line, column, message("the column {cell} appears twice", cell=repr(cell)))
    for wanted in REQUIRED:
        if wanted not in header:
            yield Fault(line, 0, message("the column {column} is missing", column=repr(wanted)))


def _read_of(line: int, row: Mapping[str, object], faults: list[Fault]) -> RawRead | None:
    """The read of one row, or None where something is wrong; what is wrong goes to ``faults``."""
    columns = {name: n for n, name in enumerate(row, 1)}
    wrong: list[Fault] = []

    def fault(field: str, what: Text) -> None:
        wrong.append(Fault(line, columns.get(field, 0), what, field=field))

    cells = {field: _cell(row.get(field), field, fault) for field in COLUMNS}
    for field in REQUIRED:
        if not cells[field].strip() and field != "raw":
            fault(field, message("this is empty"))
    raw = cells["raw"].replace("\\x1d", GS).replace("\\x1D", GS)
    read_id, read_at = _uuid(cells["scan_id"], fault), _time(cells["scanned_at"], fault)
    text_wrong = text_fault(raw)
    if text_wrong:
        fault("raw", message("{text_wrong}: scan the label again", text_wrong=text_wrong))
    place = _place(cells["place"], fault)
    if cells["photo"] and not _PHOTO.fullmatch(cells["photo"].casefold()):
        fault(
            "photo",
            message("{cells} is not the SHA-256 of a photo (64 hexadecimal digits)", cells=repr(cells["photo"][:80])),
        )
    if hidden := hidden_character_words(cells["by"], lines=False):
        fault("by", hidden)
    if len(cells["by"]) > LONGEST_NAME or _NOT_UTF8 in cells["by"]:
        fault(
            "by",
            message("a name of at most {longest_name} printable characters is expected", longest_name=LONGEST_NAME),
        )
    faults.extend(wrong)
    if wrong or read_at is None:
        return None
    scan = plain_scan(raw)
    return RawRead(
        read_id,
        read_at,
        Source.SCANNER,
        scan.data,
        scan.symbology,
        place,
        cells["by"].strip(),
        cells["photo"].casefold(),
    )


def _cell(value: object, field: str, fault: _Fault) -> str:
    if value is None:
        return ""
    if not isinstance(value, str):
        fault(field, message("{text} is not a text: write it in quotes", text=repr(str(value)[:40])))
        return ""
    return value if field == "raw" else value.strip()


def _uuid(text: str, fault: _Fault) -> str:
    if not text:
        return ""
    try:
        return str(UUID(text))
    except ValueError:
        fault("scan_id", message("{text} is not a UUID", text=repr(text[:80])))
        return ""


def _time(text: str, fault: _Fault) -> datetime | None:
    if not text:
        return None
    try:
        if not _TIME.fullmatch(text):
            raise ValueError
        moment = datetime.fromisoformat(text.upper()).astimezone(UTC)
        if not FIRST_YEAR <= moment.year <= LAST_YEAR:
            fault(
                "scanned_at",
                message(
                    "{text} is not from {first_year} to {last_year}: check the scanner's clock",
                    text=repr(text[:80]),
                    first_year=FIRST_YEAR,
                    last_year=LAST_YEAR,
                ),
            )
            return None
        return moment
    except (ValueError, OverflowError):
        fault(
            "scanned_at",
            message("{text} is not a time with date and zone, such as 2026-03-02T08:15:00Z", text=repr(text[:80])),
        )
        return None


def _place(text: str, fault: _Fault) -> Place:
    try:
        return Place(text or Place.OTHER)
    except ValueError:
        fault(
            "place",
            message(
                "{text} is not one of {places}", text=repr(text[:80]), places=", ".join(place.value for place in Place)
            ),
        )
        return Place.OTHER


def photo_reads(photo: str, reading: PhotoReading, read_at: datetime, place: Place, by: str) -> tuple[RawRead, ...]:
    """The raw reads of a photo. Their ids follow from the photo, so that reading it twice adds nothing."""
    return tuple(
        RawRead(
            read_id=str(uuid.uuid5(_PHOTO_READS, f"{photo}|{s.symbology}|{s.raw}|{s.label}|{s.quad_px}")),
            read_at=read_at,
            source=Source.PHOTO,
            raw=s.raw,
            symbology=s.symbology,
            place=place,
            by=by,
            photo=photo,
            quad_px=s.quad_px,
            label=s.label,
            reader=s.reader,
            guided=s.guided,
            confidence=s.confidence,
            alternatives=s.alternatives,
        )
        for s in reading.symbols
    )
