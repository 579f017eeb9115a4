"""A shipper's own table: which of its headings is which column, how it writes dates and decimals.

A mapping is made once from a sample of the table, kept by the shipper's name, and found again by the headings.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum



class DateForm(StrEnum):
    """The order in which a table writes day, month and year; the sign between them does not matter."""

    YMD = "ymd"
    DMY = "dmy"
    MDY = "mdy"


class DecimalSign(StrEnum):
    """The sign before the decimals; the other one then stands between thousands."""

    POINT = "point"
    COMMA = "comma"


@dataclass(frozen=True)
class ColumnMapping:
    """How a shipper's table is read.

    ``columns``: pairs of its heading and our column; ``constants``: of our column and what every row has in it where
    the table does not say.
    """

    shipper: str
    columns: tuple[tuple[str, str], ...] = ()
    date_form: DateForm = DateForm.YMD
    decimal: DecimalSign = DecimalSign.POINT
    constants: tuple[tuple[str, str], ...] = ()

    @property
    def by_heading(self) -> dict[str, str]:
        """Our column by its heading, as `column_name` folds it."""
        return {column_name(heading): column for heading, column in self.columns}

    def fits(self, headings: Sequence[str]) -> bool:
        """True when a header row has every heading of this mapping."""
        return bool(self.columns) and {column_name(cell) for cell in headings}.issuperset(self.by_heading)


AS_WRITTEN = ColumnMapping("")
"""Our own headings, ISO dates and decimal points."""


@dataclass(frozen=True)
class TableSample:
    """The header row of a table and the first rows below it, as text."""

    line: int
    headings: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...] = field(default=())


SAMPLE_ROWS = 10
_DATE = re.compile(r"\s*([0-9]{1,4})[-./ ]([0-9]{1,2})[-./ ]([0-9]{1,4})\.?(?:[ T]00:00(?::00)?)?\s*")
_ORDER = {DateForm.YMD: (0, 1, 2), DateForm.DMY: (2, 1, 0), DateForm.MDY: (2, 0, 1)}


def column_name(cell: str) -> str:
    """A header cell as a column name: ``Open First`` and ``open-first`` are ``open_first``."""
    return "_".join(cell.casefold().replace("-", " ").replace("_", " ").split())


def sample_of(rows: Sequence["Row"]) -> TableSample:
    """The row that looks like a header (the first of those with the most texts), and the first rows below it."""
    filled = [sum(1 for cell in row.cells if cell and not _is_number(cell)) for row in rows[:30]]
    if not filled:
        return TableSample(0, ())
    at = filled.index(max(filled))
    below = tuple(row.cells for row in rows[at + 1 : at + 1 + SAMPLE_ROWS])
    return TableSample(rows[at].line, rows[at].cells, below)


def _is_number(cell: str) -> bool:
    return bool(re.fullmatch(r"[0-9.,+\- ]+", cell))


def iso_date(text: str, form: DateForm) -> str:
    """A date in this order as ISO 8601 writes it; the text itself where it is none. Years of two digits are 20xx.

    >>> iso_date("9.3.2026", DateForm.DMY), iso_date("3/9/26", DateForm.MDY), iso_date("soon", DateForm.DMY)
    ('2026-03-09', '2026-03-09', 'soon')
    """
    found = _DATE.fullmatch(text)
    if not found:
        return text
    first = DateForm.YMD if len(found[1]) == 4 else form
    year, month, day = (found[place + 1] for place in _ORDER[first])
    year = f"20{year}" if len(year) == 2 else year
    return f"{year}-{month.zfill(2)}-{day.zfill(2)}"


def plain_number(text: str, decimal: DecimalSign) -> str:
    """A number without signs between thousands and with a decimal point; the text itself where it has no such form.

    >>> plain_number("1.234,5", DecimalSign.COMMA), plain_number("1,234.5", DecimalSign.POINT)
    ('1234.5', '1234.5')
    """
    mark, between = (",", ".") if decimal is DecimalSign.COMMA else (".", ",")
    shape = rf"[0-9]{{1,3}}(?:{re.escape(between)}[0-9]{{3}})+(?:{re.escape(mark)}[0-9]+)?"
    if decimal is DecimalSign.POINT and mark not in text and text.count(between) == 1:
        return text  # 1,000 may be one or a thousand: only a table that says so is believed
    if re.fullmatch(shape, text):
        return text.replace(between, "").replace(mark, ".")
    return text.replace(mark, ".") if re.fullmatch(rf"[0-9]*{re.escape(mark)}[0-9]+", text) else text


def mapped(mappings: Sequence[ColumnMapping], headings: Sequence[str]) -> ColumnMapping | None:
    """The one mapping that fits these headings, that with the most columns first; None where none or several do."""
    fitting = sorted((m for m in mappings if m.fits(headings)), key=lambda m: -len(m.columns))
    if not fitting or (len(fitting) > 1 and len(fitting[0].columns) == len(fitting[1].columns)):
        return None
    return fitting[0]


def constants_of(mapping: ColumnMapping) -> Mapping[str, str]:
    """What every row has in columns that the table lacks."""
    return dict(mapping.constants)
