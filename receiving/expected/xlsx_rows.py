"""The first sheet of an XLSX workbook -> rows of text; numbers that a spreadsheet has damaged are marked so.

A spreadsheet keeps 15 significant digits of a number (IEEE 754 binary64, and so documented for the usual programs):
an 18-digit SSCC stored as a number has lost its last digits and cannot be repaired.
"""

import io
import re
import zipfile
from collections.abc import Iterator, Sequence
from datetime import date, datetime, time
from decimal import Decimal
from typing import Any

from receiving.errors import Fault, ManifestFaults
from receiving.expected.csv_rows import SPACES
from receiving.expected.table import AS_TEXT, Row

MAX_UNPACKED_BYTES = 300_000_000
MAX_COLUMNS = 200
_EXACT_DIGITS = 15
_ZEROS = re.compile(r"0{2,20}")


def xlsx_rows(name: str, data: bytes) -> Iterator[Row]:
    """Every filled row of the first sheet, with its number in the sheet; raises `ManifestFaults`."""
    _check_size(name, data)
    try:
        yield from _rows(data)
    except (ManifestFaults, MemoryError):
        raise
    except Exception as error:  # the library lets errors of zip, XML and number parsing through, each of its own kind
        said = f"{type(error).__name__}: {error}"[:120]
        message = f"the workbook is damaged and cannot be opened ({said}); open it in a spreadsheet and save it anew"
        raise ManifestFaults(name, (Fault(0, 0, message),)) from error


def _check_size(name: str, data: bytes) -> None:
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            parts = archive.infolist()
    except (zipfile.BadZipFile, ValueError, OSError, NotImplementedError, RuntimeError) as error:
        message = f"the file starts like an XLSX workbook but is cut off or damaged ({error}); load it again"
        raise ManifestFaults(name, (Fault(0, 0, message),)) from error
    if not any(part.filename == "xl/workbook.xml" for part in parts):
        message = "this is a zip archive but no XLSX workbook; save the table as XLSX or CSV UTF-8"
        raise ManifestFaults(name, (Fault(0, 0, message),))
    unpacked = sum(part.file_size for part in parts)
    if unpacked > MAX_UNPACKED_BYTES:
        message = f"the workbook unpacks to {unpacked:,} bytes; at most {MAX_UNPACKED_BYTES:,} are read"
        raise ManifestFaults(name, (Fault(0, 0, message),))


def _rows(data: bytes) -> Iterator[Row]:
    import warnings

    from openpyxl import load_workbook

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # about styles and extensions that carry no cell
        book = load_workbook(io.BytesIO(data), read_only=True, data_only=True)
        sheets = book.worksheets
        if not sheets:
            raise ValueError("it has no sheet with cells")
        sheets[0].reset_dimensions()  # some writers state a wrong size, and rows beyond it would be lost
        empty = _formulas_without_value(data)
        for number, row in enumerate(sheets[0].iter_rows(max_col=MAX_COLUMNS), start=1):
            made = _row(number, row, empty.get(number, ()))
            if not made.blank:
                yield made
        book.close()


def _formulas_without_value(data: bytes) -> dict[int, list[int]]:
    """Row -> cells that hold a formula and no result, as programs write them that do not calculate."""
    from openpyxl import load_workbook

    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        sheets = [name for name in archive.namelist() if name.startswith("xl/worksheets/") and name.endswith(".xml")]
        if not any(b"<f>" in (text := archive.read(name)) or b"<f " in text or b"<f/" in text for name in sheets):
            return {}
    values, formulas = (load_workbook(io.BytesIO(data), data_only=plain).worksheets[0] for plain in (True, False))
    found: dict[int, list[int]] = {}
    for row in formulas.iter_rows(max_col=MAX_COLUMNS):
        for cell in row:
            if cell.data_type == "f" and values.cell(cell.row, cell.column).value is None:
                found.setdefault(cell.row, []).append(cell.column - 1)
    return found


def _row(number: int, row: Sequence[Any], formulas: Sequence[int]) -> Row:
    texts: list[str] = []
    damaged = dict.fromkeys(formulas, "the cell holds a formula without its result; open and save the workbook once")
    dates = [at for at, cell in enumerate(row) if isinstance(cell.value, date)]
    for at, cell in enumerate(row):
        text, damage = cell_text(
            cell.value, getattr(cell, "number_format", "General") if cell.value is not None else ""
        )
        texts.append(text)
        if damage:
            damaged[at] = damage
    # Cells that were only formatted make a row as wide as the sheet.
    while texts and not texts[-1] and len(texts) - 1 not in damaged:
        texts.pop()
    return Row(number, tuple(texts), damaged, ragged=True, dates=frozenset(dates))


def cell_text(value: Any, number_format: str = "General") -> tuple[str, str]:
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
    return (text, f"the cell shows the spreadsheet error {text}") if text in _ERRORS else (text, "")


_ERRORS = frozenset({"#N/A", "#REF!", "#VALUE!", "#NAME?", "#DIV/0!", "#NULL!", "#NUM!"})


def _number(value: float, number_format: str) -> tuple[str, str]:
    if value != value or value in (float("inf"), float("-inf")):
        return str(value), "the cell holds no number that can be used"
    whole = value == int(value)
    text = str(int(value)) if whole else format(Decimal(repr(value)), "f")
    if whole and len(text.lstrip("-")) > _EXACT_DIGITS:
        lost = f"{text} is stored as a number: a spreadsheet keeps {_EXACT_DIGITS} digits of it and the rest is damaged"
        return text, f"{lost}; {AS_TEXT}"
    if whole and _ZEROS.fullmatch(number_format):
        text = text.zfill(len(number_format))
    return text, ""
