"""Rows of cells under a header row, whatever file they came from; every fault keeps its line and column.

A shipper's own table has a mapping: which of its headings is which column, how it writes dates and decimals. It is made
once from a sample of the table, kept by the shipper's name, and found again by the headings.
"""

import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from difflib import get_close_matches
from enum import StrEnum
from itertools import islice
from typing import TypeVar

from receiving.errors import Fault, words_of_error
from receiving.messages import Text, figure, joined, listing, message


class DateForm(StrEnum):
    """The order in which a table writes day, month and year; the character between them does not matter."""

    YMD = "ymd"
    DMY = "dmy"
    MDY = "mdy"


class DecimalSign(StrEnum):
    """The character before the decimals; the other one then stands between thousands."""

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
    """A number without thousands separators and with a decimal point; the text itself where it has no such form.

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


def choose_mapping(mappings: Sequence[ColumnMapping], headings: Sequence[str]) -> ColumnMapping | None:
    """The one mapping that fits these headings, that with the most columns first; None where none or several do."""
    fitting = sorted((m for m in mappings if m.fits(headings)), key=lambda m: -len(m.columns))
    if not fitting or (len(fitting) > 1 and len(fitting[0].columns) == len(fitting[1].columns)):
        return None
    return fitting[0]


def constants_of(mapping: ColumnMapping) -> Mapping[str, str]:
    """What every row has in columns that the table lacks."""
    return dict(mapping.constants)


Value = TypeVar("Value")

AS_TEXT = message("format the column as text and enter the value again from its source")

MOST_GUESSED = 60
"""Unknown columns for which a right name is looked for; looking is slow."""

_MEASURE = re.compile(r"(weight|length|width|height)(?:_?\(?([a-z]{1,6})\)?)?")
_NEARLY_UNITS = frozenset({"kg", "kgs", "kilo", "lb", "lbs", "pound", "pounds", "cm", "cms", "in", "inch", "inches"})

MOST_LISTED = 100
"""Faults and warnings that are listed; a person corrects no more at a time, and a file of garbage has millions."""

HEADER_WITHIN = 30
"""A header row is looked for in this many rows: title rows and notes may stand above it."""


@dataclass(frozen=True)
class Row:
    """One row: its line in the file (1-based), its cells as text, and what is wrong with cells by their index.

    ``ragged``: the format leaves out empty cells at a row's end. ``dates``: cells that the file holds as dates.
    """

    line: int
    cells: tuple[str, ...]
    damaged: Mapping[int, Text] = field(default_factory=dict)
    ragged: bool = False
    dates: frozenset[int] = frozenset()

    @property
    def blank(self) -> bool:
        """True when no cell holds anything."""
        return not self.damaged and not any(self.cells)


@dataclass(frozen=True)
class Columns:
    """The names that a table may have, in the order in which they are written, and those that it must have."""

    known: tuple[str, ...]
    required: tuple[str, ...]


@dataclass(frozen=True)
class Header:
    """Where each column stands: name -> index of its cell."""

    line: int
    width: int
    index: Mapping[str, int]
    mapping: ColumnMapping = AS_WRITTEN
    constants: Mapping[str, str] = field(default_factory=dict)


class Findings:
    """Collects the faults and warnings of one file while it is read to its end."""

    def __init__(self) -> None:
        self.faults: list[Fault] = []
        self.warnings: list[Fault] = []
        self.more_faults = 0
        self.more_warnings = 0
        self.given_up = False

    def give_up(self, line: int, column: int, what: Text, name: str = "") -> None:
        """Add a fault after which there is no use in reading on."""
        self.fault(line, column, what, name)
        self.given_up = True

    def fault(self, line: int, column: int, what: Text, name: str = "") -> None:
        """Add a fault: nothing of this file will be loaded."""
        if len(self.faults) < MOST_LISTED:
            self.faults.append(Fault(line, column, what, name))
        else:
            self.more_faults += 1

    def warn(self, line: int, what: Text, column: int = 0, name: str = "") -> None:
        """Add a warning: the file can be loaded all the same."""
        if len(self.warnings) < MOST_LISTED:
            self.warnings.append(Fault(line, column, what, name))
        else:
            self.more_warnings += 1

    @property
    def hopeless(self) -> bool:
        """So much is wrong that reading on tells nothing new."""
        return self.given_up or self.more_faults >= 10 * MOST_LISTED

    def sorted_faults(self) -> tuple[Fault, ...]:
        """The first faults in file order, and how many more there are."""
        listed = sorted(self.faults, key=lambda fault: (fault.line, fault.column))
        if self.more_faults:
            more = figure(self.more_faults)
            words = message("{number} more faults are not listed; correct these first", number=more)
            if self.hopeless:
                words = message("at least {number} more faults are not listed; correct these first", number=more)
            listed.append(Fault(0, 0, words))
        return tuple(listed)

    def all_warnings(self) -> list[Fault]:
        """The first warnings, and how many more there are."""
        if not self.more_warnings:
            return [*self.warnings]
        more = message("{number} more warnings are not listed", number=figure(self.more_warnings))
        return [*self.warnings, Fault(0, 0, more)]


def split_header(
    rows: Iterable[Row], columns: Columns, found: Findings, mappings: Sequence[ColumnMapping] = ()
) -> tuple[Header | None, Iterator[Row]]:
    """The header and the rows below it; without a header, a fault and no rows.

    ``mappings`` are those of known shippers: the one whose headings are all there is used, and said.
    """
    rest = iter(rows)
    top = list(islice(rest, HEADER_WITHIN))
    for at, row in enumerate(top):
        if mapping := choose_mapping(mappings, row.cells):
            if mapping.shipper:
                found.warn(
                    row.line,
                    message("its columns were read as those of shipper {shipper}", shipper=repr(mapping.shipper)),
                )
            return _header(row, columns, found, mapping), _chain(top[at + 1 :], rest)
    named = [{column_name(cell) for cell in row.cells}.intersection(columns.known) for row in top]
    if not any(named):
        _no_header(top, columns, found)
        return None, iter(())
    whole = next((at for at, names in enumerate(named) if names.issuperset(columns.required)), None)
    at = whole if whole is not None else max(range(len(top)), key=lambda i: len(named[i]))
    header = _header(top[at], columns, found, AS_WRITTEN)
    return header, _chain(top[at + 1 :], rest)


def _chain(first: Sequence[Row], rest: Iterator[Row]) -> Iterator[Row]:
    yield from first
    yield from rest


def _no_header(top: Sequence[Row], columns: Columns, found: Findings) -> None:
    filled = next((row for row in top if not row.blank), None)
    words: list[Text] = [
        message("no header row was found: expected the columns {columns}", columns=", ".join(columns.required))
    ]
    if filled:
        first = ", ".join(cell[:30] for cell in filled.cells[:6])
        words.append(message("the first row is {row}", row=repr(first)))
    if "shipment" in columns.required:
        words.append(message("a shipper's own headings are mapped on the import page"))
    found.fault(filled.line if filled else 0, 0, joined(*words, separator="; "))


def _header(row: Row, columns: Columns, found: Findings, mapping: ColumnMapping) -> Header:
    renamed = mapping.by_heading
    names = [renamed.get(name, "" if renamed else name) for name in map(column_name, row.cells)]
    constants = dict(mapping.constants)
    index: dict[str, int] = {}
    for at, name in enumerate(names):
        if name and name in index:
            found.fault(
                row.line,
                at + 1,
                message(
                    "column {name} is here and at column {number}; keep one",
                    name=repr(name),
                    number=index[name] + 1,
                ),
                name,
            )
        elif name in columns.known:
            index[name] = at
    missing = [name for name in columns.known if name not in index]
    suggested = _unknown(row, names, columns, missing, found)
    for name in columns.required:
        if name in missing and name not in suggested and not constants.get(name):
            found.fault(row.line, 0, message("column {name} is missing; it is required", name=repr(name)), name)
    return Header(row.line, len(names), index, mapping, constants)


def _measure_without_unit(name: str) -> tuple[str, ...]:
    """The headings that a measure may have, where this one names another unit or none: grams are not kilograms."""
    found = _MEASURE.fullmatch(name)
    if not found or found[2] in _NEARLY_UNITS:
        return ()
    units = ("kg", "lb") if found[1] == "weight" else ("cm", "in")
    return tuple(f"{found[1]}_{unit}" for unit in units)


def _unknown(row: Row, names: Sequence[str], columns: Columns, missing: Sequence[str], found: Findings) -> set[str]:
    suggested = set()
    unknown = [at for at, name in enumerate(names) if name and name not in columns.known]
    for at in unknown:
        name = names[at][:60]
        written = _measure_without_unit(name)
        if written and set(written).issubset(missing):
            stated = message(
                "column {heading} is not known: its unit is not given or not accepted; write {columns}",
                heading=repr(row.cells[at]),
                columns=listing(written, choice=True),
            )
            found.fault(row.line, at + 1, stated, name)
            continue
        guess = len(unknown) <= MOST_GUESSED and not written
        near = get_close_matches(name, missing, n=1, cutoff=0.7) if guess else []
        if near:
            suggested.add(near[0])
            found.fault(
                row.line,
                at + 1,
                message(
                    "column {heading} is not known; did you mean {column}?",
                    heading=repr(row.cells[at]),
                    column=repr(near[0]),
                ),
                name,
            )
        else:
            found.warn(
                row.line,
                message("column {heading} is not known and was not used", heading=repr(row.cells[at])),
                at + 1,
                name,
            )
    return suggested


_NUMBERS = frozenset(
    (
        *("qty", "column", "row", "weight_kg", "weight_lb", "length_cm", "length_in", "width_cm", "width_in"),
        *("height_cm", "height_in"),
    )
)


@dataclass(frozen=True)
class RowReader:
    """Reads the cells of one row by column name; a bad cell becomes a fault and reads as None."""

    header: Header
    row: Row
    found: Findings

    @property
    def line(self) -> int:
        """The row's line in the file."""
        return self.row.line

    def column(self, name: str) -> int:
        """The 1-based number of the column, 0 when the file does not have it."""
        return self.header.index.get(name, -1) + 1

    def text(self, name: str) -> str:
        """The cell's text without spaces around it; empty when the file has no such column."""
        at = self.header.index.get(name, -1)
        if at < 0:
            return self.header.constants.get(name, "")
        return self.row.cells[at] if at < len(self.row.cells) else ""

    def fault(self, name: str, what: Text) -> None:
        """Add a fault at this row's cell."""
        self.found.fault(self.line, self.column(name), what, name)

    def faulty(self, name: str) -> bool:
        """True when this row's cell has been found faulty."""
        place = (self.line, self.column(name))
        return any((fault.line, fault.column) == place for fault in self.found.faults[-2 * self.header.width :])

    def read(self, name: str, parse: Callable[[str], Value]) -> Value | None:
        """The cell's value by ``parse``; None when the cell is empty or, with a fault, when it is not such a value."""
        at = self.header.index.get(name, -1)
        damage = self.row.damaged.get(at)
        if at in self.row.dates and not name.endswith("_date"):
            turned = message("the spreadsheet turned this into the date {day}", day=self.text(name))
            damage = joined(turned, AS_TEXT, separator="; ")
        text = self._plain(name, self.text(name))
        if not damage and not text:
            return None
        try:
            if damage:
                raise ValueError(damage)
            return parse(text)
        except ValueError as error:
            self.fault(name, words_of_error(error))
            return None

    def _plain(self, name: str, text: str) -> str:
        """The cell as our own tables write it, where the shipper's writes dates and decimals otherwise."""
        mapping = self.header.mapping
        if mapping is AS_WRITTEN or not text:
            return text
        if name.endswith("_date"):
            return iso_date(text, mapping.date_form)
        return plain_number(text, mapping.decimal) if name in _NUMBERS else text

    def required(self, name: str, parse: Callable[[str], Value]) -> Value | None:
        """As `read`, and an empty cell is a fault."""
        at = self.header.index.get(name, -1)
        written = at < len(self.row.cells) or self.row.ragged
        if at >= 0 and written and not self.text(name) and at not in self.row.damaged:
            self.fault(name, message("{name} is empty; every row needs it", name=name))
        return self.read(name, parse)

    def check_width(self) -> None:
        """A fault when the row has filled cells beyond the header, or fewer cells than the header."""
        have, want = len(self.row.cells), self.header.width
        extra = [c for c in self.row.cells[self.header.width :] if c]
        if extra and self.row.ragged:
            self.found.warn(
                self.line,
                message("{extra} is beyond the last column and was not used", extra=repr(extra[0][:40])),
                want + 1,
            )
        elif extra:
            self.found.fault(
                self.line,
                want + 1,
                message(
                    "the row has {cells} cells, the header has {number}: {extra} is too many; "
                    "put text that holds a comma in double quotes",
                    cells=have,
                    number=want,
                    extra=repr(extra[0][:40]),
                ),
            )
        elif have < want and not self.row.ragged:
            self.found.fault(
                self.line,
                have,
                message(
                    "the row has only {cells} of {number} cells: it is cut off or a comma is missing",
                    cells=have,
                    number=want,
                ),
            )
