"""Tables that leave the house, as CSV or XLSX: all are written here, so that no cell runs as a formula."""

import csv
import io
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date
from itertools import islice
from typing import Any

ROWS_A_PART = 200
_FORMULA = re.compile("'*[=+\\-@\t\r\n\uff1d\uff0b\uff0d\uff20]")
"""How a cell starts that a spreadsheet may run (OWASP, "CSV Injection"): =, +, -, @, tab, CR, LF, and the full-width
forms of the characters. A text of ours that starts with apostrophes before one of these is marked as well, so that
`cell_text` gives back exactly what was written."""

_NOT_XML = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ufffe\uffff\ud800-\udfff]")


def csv_text(header: Sequence[str], rows: Iterable[Iterable[object]]) -> str:
    """The table as CSV: RFC 4180, CRLF, every cell safe. None is an empty cell, a date is written as in ISO 8601."""
    return "".join(csv_parts(header, rows))


def csv_parts(header: Sequence[str], rows: Iterable[Iterable[object]]) -> Iterator[str]:
    """The text of `csv_text` bit by bit, some hundred rows each, for tables too long to wait for."""
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow([safe_cell(name) for name in header])
    left = iter(rows)
    while several := list(islice(left, ROWS_A_PART)):
        writer.writerows([safe_cell(value) for value in row] for row in several)
        yield out.getvalue()
        out.seek(0)
        out.truncate()
    yield out.getvalue()


def safe_cell(value: object) -> str:
    """The cell's text; one that a spreadsheet would run gets an apostrophe in front. A number stays a number.

    >>> safe_cell("=1+1"), safe_cell(-3), safe_cell("A-1"), safe_cell(None)
    ("'=1+1", '-3', 'A-1', '')
    """
    if value is None:
        return ""
    text = value.isoformat() if isinstance(value, date) else str(value)
    return f"'{text}" if isinstance(value, str) and _FORMULA.match(text) else text


def cell_text(cell: str) -> str:
    """What `safe_cell` was given: the text without the apostrophe that kept it from running.

    >>> cell_text("'=1+1"), cell_text("'t Hoekje")
    ('=1+1', "'t Hoekje")
    """
    return cell[1:] if cell.startswith("'") and _FORMULA.match(cell) else cell


def workbook(sheets: Mapping[str, tuple[Sequence[str], Iterable[Iterable[object]]]]) -> bytes:
    """The tables as an XLSX workbook, one sheet each by its title; a text stays text, zeros in front too."""
    from openpyxl import Workbook
    from openpyxl.cell import WriteOnlyCell
    from openpyxl.styles import Font

    book = Workbook(write_only=True)
    for title, (header, rows) in sheets.items():
        sheet = book.create_sheet(title)
        sheet.freeze_panes = "A2"

        def cell(value: object, sheet: Any = sheet) -> Any:
            plain = value if value is None or isinstance(value, int | float | date) else _xml_text(str(value))
            made = WriteOnlyCell(sheet, plain)
            if isinstance(plain, str):
                made.data_type, made.number_format = "s", "@"  # a text that starts with = is not a formula
            return made

        names = [cell(name) for name in header]
        for name in names:
            name.font = Font(bold=True)
        sheet.append(names)
        for row in rows:
            sheet.append([cell(value) for value in row])
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def _xml_text(text: str) -> str:
    """A text that a cell can hold: control characters, which XML 1.0 has not, are written out; 32,767 at most."""
    return _NOT_XML.sub(lambda found: f"\\x{ord(found[0]):02x}", text)[:32_767]
