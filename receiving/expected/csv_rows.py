"""Bytes of a table file -> text -> rows: RFC 4180 with comma; semicolons and tabs are recognised and named."""

import codecs
import csv
import io
from collections import Counter
from collections.abc import Iterator

from receiving.errors import Fault
from receiving.expected.mapping import column_name
from receiving.expected.table import Columns, Findings, Row
from receiving.messages import Text, figure, message
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
        signs = sorted({sign for sign in text if ord(sign) > 127})[:12]
        stated = message(
            "the file is not UTF-8; it was read as Windows-1252: look at {signs} in its names", signs=" ".join(signs)
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
    """Comma, unless the header row shows more column names when it is cut at another sign.

    Where none of our names stands there, the sign that cuts most lines into equally many cells.
    """
    top = text[:20_000].splitlines()[:30]

    def names(delimiter: str) -> int:
        rows = ({column_name(cell.strip('" ')) for cell in line.split(delimiter)} for line in top)
        return max((len(row.intersection(columns.known)) for row in rows), default=0)

    def cells(delimiter: str) -> int:
        counts = Counter(line.count(delimiter) for line in top if delimiter in line)
        return max((lines * count for count, lines in counts.items()), default=0)

    signs = (",", *_SEPARATED)
    best = max(signs, key=names)
    return best if names(best) > 1 else max(signs, key=cells)


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
