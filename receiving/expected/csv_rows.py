"""CSV text -> rows: RFC 4180 with comma; semicolons and tabs are recognised and said."""

import csv
import io
from collections import Counter
from collections.abc import Iterator

from receiving.expected.mapping import column_name
from receiving.expected.table import Columns, Findings, Row
from receiving.messages import Text, figure, message
from receiving.sheets import cell_text

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
