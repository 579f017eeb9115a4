"""Where keys stand in a TOML text: the standard parser gives values without their lines."""

import re
from collections.abc import Sequence

_TABLE = re.compile(r"\s*\[(\[?)\s*([A-Za-z0-9_-]+)\s*\]\]?")
_KEY = re.compile(r"\s*([A-Za-z0-9_-]+|\"[^\"\n]{0,80}\"|'[^'\n]{0,80}')\s*=")

Path = tuple[str, int, str]
"""Table name, its 0-based number among the tables of that name, key (empty: the table itself)."""


class TomlPlaces:
    """The 1-based line and column of tables and keys, found by their looks; (0, 0) for what is written otherwise."""

    def __init__(self, text: str) -> None:
        self._places: dict[Path, tuple[int, int]] = {}
        self._counts: dict[str, int] = {}
        table = ("", 0)
        for number, line in enumerate(text.splitlines(), start=1):
            if header := _TABLE.match(line):
                table = self._next(header[2])
                self._places[(*table, "")] = (number, header.start(2) + 1)
            elif key := _KEY.match(line):
                name = key[1].strip("\"'")
                self._places.setdefault((*table, name), (number, key.start(1) + 1))

    def _next(self, name: str) -> tuple[str, int]:
        number = self._counts.get(name, -1) + 1
        self._counts[name] = number
        return name, number

    def of(self, *paths: Path) -> tuple[int, int]:
        """The place of the first of these paths that the text shows."""
        return next((self._places[path] for path in paths if path in self._places), (0, 0))


def parser_place(message: str) -> tuple[int, int]:
    """The line and column that the TOML parser's message names, (0, 0) when it names none."""
    named = re.search(r"\(at line ([0-9]+), column ([0-9]+)\)", message)
    return (int(named[1]), int(named[2])) if named else (0, 0)


def without_place(message: str) -> str:
    """The TOML parser's message without the place at its end."""
    return re.sub(r" \(at (line [0-9]+, column [0-9]+|end of document)\)$", "", message)


def quoted_names(names: Sequence[str]) -> str:
    """Names as a message lists them."""
    return ", ".join(repr(name) for name in names)
