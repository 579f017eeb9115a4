"""Bytes of a table file -> rows of text: CSV (RFC 4180 with comma; semicolons and tabs are named), XLSX's first sheet.

Numbers that a spreadsheet has damaged are marked so: it keeps 15 significant digits of a number (IEEE 754 binary64, and
so documented for the usual programs), so an 18-digit SSCC stored as a number has lost its last digits for good.
"""

import codecs
import csv
import io
import re
import warnings
import zipfile
from collections import Counter
from collections.abc import Iterator, Sequence
from datetime import date, datetime, time
from decimal import Decimal
from typing import Any

from receiving.errors import Fault, ManifestFaults
from receiving.expected.table import AS_TEXT, Columns, Findings, Row, column_name
from receiving.messages import Text, figure, joined, message
from receiving.sheets import cell_text

# Bytes of a table file -> text, or a fault that says how to save the file so that it can be read.


MAX_TABLE_BYTES = 64_000_000
"""A manifest of 100,000 rows is about 10 MB; beyond this it is some other file."""


def decode_table(data: bytes) -> tuple[str, Fault | None, Text]:
    """The text of a table, the fault that keeps it from being read, and what a person should look at.

    UTF-8 is read as it is, without its BOM; UTF-16, and Windows-1252 where bytes are not UTF-8, are read and reported.
    """
    if fault := _unreadable(data):
        return "", fault, ""
    if looks_like_utf16(data):
        return _utf16(data)
    stated: Text = ""
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        try:
            text = data.decode("cp1252")
        except UnicodeDecodeError:
            return "", _not_utf8(data, error.start), ""
        characters = sorted({character for character in text if ord(character) > 127})[:12]
        stated = message(
            "the file is not UTF-8; it was read as Windows-1252: look at {characters} in its names",
            characters=" ".join(characters),
        )
    if "\x00" in text:
        return (
            "",
            _at(data, data.index(b"\x00"), message("a NUL byte; the file is damaged or is not text; export it again")),
            "",
        )
    return text, None, stated


def _utf16(data: bytes) -> tuple[str, Fault | None, Text]:
    """Text in UTF-16, with or without a byte order mark ('Unicode text' of spreadsheets)."""
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        encoding = "utf-16"
    else:
        encoding = "utf-16-le" if data[1::2].count(0) >= data[0::2].count(0) else "utf-16-be"
    try:
        text = data.decode(encoding)
    except UnicodeDecodeError:
        return (
            "",
            Fault(
                0,
                0,
                message("the file is in UTF-16 ('Unicode text') and damaged; save it as 'CSV UTF-8' and load it again"),
            ),
            "",
        )
    if "\x00" in text:
        return (
            "",
            Fault(0, 0, message("the file is in UTF-32 or damaged; save it as 'CSV UTF-8' and load it again")),
            "",
        )
    return text.removeprefix("\ufeff"), None, message("the file is in UTF-16 ('Unicode text'); it was read so")


def looks_like_utf16(data: bytes) -> bool:
    """True for a UTF-16 or UTF-32 byte order mark, or for text of which every other byte is NUL."""
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE, codecs.BOM_UTF32_BE)):
        return True
    head = data[:400]
    even, odd = head[0::2], head[1::2]
    return len(head) >= 4 and (even.count(0) > 0.4 * len(even)) != (odd.count(0) > 0.4 * len(odd))


def _unreadable(data: bytes) -> Fault | None:
    if not data.strip():
        return Fault(0, 0, message("the file is empty; a manifest has a header row and one row for each carton"))
    if len(data) > MAX_TABLE_BYTES:
        return Fault(
            0,
            0,
            message(
                "the file has {number} bytes; at most {most} are read as a table",
                number=figure(len(data)),
                most=figure(MAX_TABLE_BYTES),
            ),
        )
    if data.startswith((codecs.BOM_UTF32_BE, codecs.BOM_UTF32_LE)):
        return Fault(0, 0, message("the file is in UTF-32; save it as 'CSV UTF-8' and load it again"))
    return None


def _not_utf8(data: bytes, start: int) -> Fault:
    byte = data[start]
    guess = bytes([byte]).decode("cp1252", errors="replace")
    return _at(
        data,
        start,
        message(
            "byte 0x{byte} is not UTF-8 (perhaps {guess} of Windows-1252); save it as 'CSV UTF-8' and load it again",
            byte=format(byte, "02X"),
            guess=repr(guess),
        ),
    )


def _at(data: bytes, start: int, what: Text) -> Fault:
    line = data.count(b"\n", 0, start) + 1
    return Fault(line, 0, what)


SPACES = " \t\r\n\u00a0\ufeff"
"""What is stripped from around a cell. U+001D is not among them: a barcode may end in it."""

_SEPARATED = {
    ";": message("the cells are separated by semicolons instead of commas; they were read so"),
    "\t": message("the cells are separated by tabs instead of commas; they were read so"),
    "|": message("the cells are separated by vertical bars instead of commas; they were read so"),
}


def csv_rows(text: str, columns: Columns, found: Findings) -> Iterator[Row]:
    """Every record with the line on which it starts; quoting faults go to ``found``."""
    delimiter = _delimiter(text, columns)
    if delimiter != ",":
        found.warn(1, _SEPARATED[delimiter])
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    line = 1
    while True:
        try:
            cells = next(reader)
        except StopIteration:
            return
        except csv.Error as error:
            found.fault(line, 0, _quoting(str(error), line, reader.line_num))
            if "field larger" in str(error):
                return  # what follows is the rest of that cell, not rows
        else:
            if cells:
                yield Row(line, tuple(cell_text(cell.strip(SPACES)) for cell in cells))
        line = reader.line_num + 1


def _delimiter(text: str, columns: Columns) -> str:
    """Comma, unless the header row shows more column names when it is cut at another character.

    Where none of our names stands there, the character that cuts most lines into equally many cells.
    """
    top = text[:20_000].splitlines()[:30]

    def names(delimiter: str) -> int:
        rows = ({column_name(cell.strip('" ')) for cell in line.split(delimiter)} for line in top)
        return max((len(row.intersection(columns.known)) for row in rows), default=0)

    def cells(delimiter: str) -> int:
        counts = Counter(line.count(delimiter) for line in top if delimiter in line)
        return max((lines * count for count, lines in counts.items()), default=0)

    separators = (",", *_SEPARATED)
    best = max(separators, key=names)
    return best if names(best) > 1 else max(separators, key=cells)


def _quoting(vendor: str, line: int, last: int) -> Text:
    if "field larger" in vendor:
        limit = figure(csv.field_size_limit())
        return message(
            "a cell holds more than {limit} characters; is a closing quote missing? Nothing below was read", limit=limit
        )
    if "unexpected end" in vendor:
        return message(
            'a double quote is opened here and never closed (the file ends at line {last}); add the closing "',
            last=last,
        )
    return message('text follows a closing double quote; write a double quote inside a cell as two: ""')


MAX_UNPACKED_BYTES = 100_000_000
MAX_PART_BYTES = 60_000_000
"""A sheet of 100,000 rows of a manifest unpacks to some 40 MB."""

MAX_PARTS = 5_000
"""Files inside; a workbook of a few sheets has some twenty."""

MAX_ROWS = 200_000
MAX_CELLS = 3_000_000
MAX_STRINGS = 500_000
"""Texts that cells share: the library reads all of them first, 20 microseconds each, however few a cell names."""

_EXACT_DIGITS = 15
_ZEROS = re.compile(r"0{2,20}")


def xlsx_rows(name: str, data: bytes) -> Iterator[Row]:
    """Every filled row of the first sheet, with its number in the sheet; raises `ManifestFaults`."""
    _check_size(name, data)
    try:
        _check_strings(name, data)
        yield from _rows(name, data)
    except (ManifestFaults, MemoryError):
        raise
    except Exception as error:  # the library lets errors of zip, XML and number parsing through, each of its own kind
        stated = f"{type(error).__name__}: {error}"[:120]
        what = message(
            "the workbook is damaged and cannot be opened ({fault}); open it in a spreadsheet and save it anew",
            fault=stated,
        )
        raise ManifestFaults(name, (Fault(0, 0, what),)) from error


def _check_size(name: str, data: bytes) -> None:
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            parts = archive.infolist()
    except (zipfile.BadZipFile, ValueError, OSError, NotImplementedError, RuntimeError) as error:
        what = message(
            "the file starts like an XLSX workbook but is cut off or damaged ({fault}); load it again", fault=str(error)
        )
        raise ManifestFaults(name, (Fault(0, 0, what),)) from error
    if not any(part.filename == "xl/workbook.xml" for part in parts):
        what = message("this is a zip archive but no XLSX workbook; save the table as XLSX or CSV UTF-8")
        raise ManifestFaults(name, (Fault(0, 0, what),))
    if len(parts) > MAX_PARTS:
        what = message(
            "the workbook has {number} files inside; at most {most} are read; save the table alone, or as CSV UTF-8",
            number=figure(len(parts)),
            most=figure(MAX_PARTS),
        )
        raise ManifestFaults(name, (Fault(0, 0, what),))
    largest, unpacked = max(part.file_size for part in parts), sum(part.file_size for part in parts)
    if unpacked > MAX_UNPACKED_BYTES or largest > MAX_PART_BYTES:
        what = message(
            "the workbook unpacks to {number} bytes; at most {most} are read, and "
            "{part} of a part; save the table alone, or as CSV UTF-8",
            number=figure(unpacked),
            most=figure(MAX_UNPACKED_BYTES),
            part=figure(MAX_PART_BYTES),
        )
        raise ManifestFaults(name, (Fault(0, 0, what),))


def _check_strings(name: str, data: bytes) -> None:
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        count = sum(_count_strings(archive, part.filename) for part in archive.infolist() if not part.is_dir())
    if count > MAX_STRINGS:
        what = message(
            "the workbook has {number} different texts; at most {most} are read; save the table alone, or split it",
            number=figure(count),
            most=figure(MAX_STRINGS),
        )
        raise ManifestFaults(name, (Fault(0, 0, what),))


def _count_strings(archive: zipfile.ZipFile, part: str) -> int:
    count, before = 0, b""
    with archive.open(part) as file:
        while block := file.read(1_000_000):
            text = before + block
            start = max(text.rfind(b"<"), len(text) - _LONGEST_MARK)  # the last mark may be cut in two
            count += len(_STRING.findall(text, 0, start))
            before = text[start:]
    return count + len(_STRING.findall(before))


_STRING = re.compile(rb"<(?:[a-z]{1,20}:)?si[ />]")
_LONGEST_MARK = 25


def _rows(name: str, data: bytes) -> Iterator[Row]:
    from openpyxl import load_workbook

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # about styles and extensions that carry no cell
        book = load_workbook(io.BytesIO(data), read_only=True, data_only=True)
        if not book.worksheets:
            raise ValueError(message("it has no sheet with cells"))
        formulas = load_workbook(io.BytesIO(data), read_only=True) if _has_formulas(data) else None
        cells = 0
        for number, row, written in _with_formulas(book.worksheets[0], formulas):
            cells += len(row)
            if number > MAX_ROWS or cells > MAX_CELLS:
                raise ManifestFaults(name, (Fault(number, 0, _TOO_LONG),))
            made = _row(number, row, written)
            if not made.blank:
                yield made
        book.close()


_TOO_LONG = message(
    "the sheet has more than {rows} rows or {cells} cells; delete the empty rows and "
    "columns below and beside the table, or split it",
    rows=figure(MAX_ROWS),
    cells=figure(MAX_CELLS),
)


def _with_formulas(sheet: Any, formulas: Any) -> Iterator[tuple[int, Sequence[Any], Sequence[int]]]:
    """Each row with its number and the places of cells that hold a formula and no result.

    Programs that do not calculate write such cells. The sheet is read twice side by side, once for results and once
    for formulas, so that no more than a row of it is held.
    """
    sheet.reset_dimensions()  # some writers state a wrong size, and rows beyond it would be lost
    # No last column is asked for: the library would fill every row up to it.
    rows = sheet.iter_rows(max_row=MAX_ROWS + 1)
    if formulas is None:
        yield from ((number, row, ()) for number, row in enumerate(rows, start=1))
        return
    written = formulas.worksheets[0]
    written.reset_dimensions()
    twice = zip(rows, written.iter_rows(max_row=MAX_ROWS + 1), strict=False)
    for number, (row, sources) in enumerate(twice, start=1):
        pairs = enumerate(zip(row, sources, strict=False))
        yield number, row, [at for at, (cell, source) in pairs if cell.value is None and source.data_type == "f"]
    formulas.close()


def _has_formulas(data: bytes) -> bool:
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        sheets = [name for name in archive.namelist() if name.startswith("xl/worksheets/") and name.endswith(".xml")]
        return any(_FORMULA.search(part) for name in sheets for part in _parts_of(archive, name))


def _parts_of(archive: zipfile.ZipFile, name: str) -> Iterator[bytes]:
    """A file in parts that fit the memory; each begins with the end of the one before, so that no tag is cut in two."""
    with archive.open(name) as file:
        end = b""
        while block := file.read(1_000_000):
            yield end + block
            end = block[-4:]


_FORMULA = re.compile(rb"<(?:[a-z]+:)?f[ />]")


def _row(number: int, row: Sequence[Any], formulas: Sequence[int]) -> Row:
    texts: list[str] = []
    damaged: dict[int, Text] = dict.fromkeys(
        formulas, message("the cell holds a formula without its result; open and save the workbook once")
    )
    dates = [at for at, cell in enumerate(row) if isinstance(cell.value, date)]
    for at, cell in enumerate(row):
        text, damage = workbook_text(
            cell.value, getattr(cell, "number_format", "General") if cell.value is not None else ""
        )
        texts.append(text)
        if damage:
            damaged[at] = damage
    # Cells that were only formatted make a row as wide as the sheet.
    while texts and not texts[-1] and len(texts) - 1 not in damaged:
        texts.pop()
    return Row(number, tuple(texts), damaged, ragged=True, dates=frozenset(dates))


def workbook_text(value: Any, number_format: str = "General") -> tuple[str, Text]:
    """A cell's value as the text that a person meant, and what is wrong with it (empty: nothing)."""
    if value is None:
        return "", ""
    if isinstance(value, bool):
        return ("yes" if value else "no"), ""
    if isinstance(value, int | float):
        return _number(value, number_format)
    if isinstance(value, datetime):
        return value.date().isoformat() if value.time() == time() else value.isoformat(" "), ""
    if isinstance(value, date):
        return value.isoformat(), ""
    text = str(value).strip(SPACES)
    return (
        (text, message("the cell shows the spreadsheet error {error}", error=text)) if text in _ERRORS else (text, "")
    )


_ERRORS = frozenset({"#N/A", "#REF!", "#VALUE!", "#NAME?", "#DIV/0!", "#NULL!", "#NUM!"})


def _number(value: float, number_format: str) -> tuple[str, Text]:
    if value != value or value in (float("inf"), float("-inf")):
        return str(value), message("the cell holds no number that can be used")
    whole = value == int(value)
    text = str(int(value)) if whole else format(Decimal(repr(value)), "f")
    if whole and len(text.lstrip("-")) > _EXACT_DIGITS:
        lost = message(
            "{value} is stored as a number: a spreadsheet keeps {number} digits of it and the rest is damaged",
            value=text,
            number=_EXACT_DIGITS,
        )
        return text, joined(lost, AS_TEXT, separator="; ")
    if whole and _ZEROS.fullmatch(number_format):
        text = text.zfill(len(number_format))
    return text, ""
