"""Tables that leave the house as CSV: every one is written here, so that no cell runs as a formula in a spreadsheet."""

import csv
import io
import re
from collections.abc import Iterable, Sequence
from datetime import date

_FORMULA = re.compile("'*[=+\\-@\t\r\n\uff1d\uff0b\uff0d\uff20]")
"""How a cell starts that a spreadsheet may run (OWASP, "CSV Injection"): =, +, -, @, tab, CR, LF, and the full-width
forms of the signs. A text of ours that starts with apostrophes before one of these is marked as well, so that
`cell_text` gives back exactly what was written."""


def csv_text(header: Sequence[str], rows: Iterable[Iterable[object]]) -> str:
    """The table as CSV: RFC 4180, CRLF, every cell safe. None is an empty cell, a date is written as in ISO 8601."""
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow([safe_cell(name) for name in header])
    writer.writerows([safe_cell(value) for value in row] for row in rows)
    return out.getvalue()


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
