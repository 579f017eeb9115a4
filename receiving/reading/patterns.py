r"""Label patterns: how a shipper's own label texts say column, row, carton and the rest.

A pattern is a regular expression with named groups, kept in a TOML file::

    [[pattern]]
    name = "column and row"
    regex = '(?i)COL *(?P<column>\d+) ROW *(?P<row>\d+)'
    example = "COL 3 ROW 2"       # optional; must match, so that a slip shows when the file is loaded
    anywhere = true               # optional; else the pattern must match a whole line or the whole text
    element = "91"                # optional; applied to the value of this AI or data identifier, not to plain text
    symbology = "]C0"             # optional; only for symbols with this AIM identifier

The expressions are those of RE2, which runs in time linear to the text whatever the expression; for that it knows
no look-around and no back-references. An expression of a person is therefore safe to run on any label.
"""

import re
import tomllib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, fields
from functools import cache, lru_cache
from importlib import resources
from typing import Any

import re2  # type: ignore[import-untyped, unused-ignore]

from receiving.errors import Fault, PatternFaults, words_of_error
from receiving.messages import Text, figure, message
from receiving.model.hidden_characters import hidden_character_words

GROUPS = (
    "section",
    "column",
    "row",
    "column_alone",
    "carton",
    "carton_n",
    "carton_total",
    "shipment",
    "store",
    "kind",
    "sscc",
    "barcode",
    "open_first",
    "outer",
    "item",
    "size",
)
"""The named groups that a pattern may have; ``open_first`` and ``outer`` are true where they match anything.

``column_alone`` is a column whose row cannot be read; it counts only where no pattern finds both.
"""

LONGEST_FILE = 256 * 1024
LONGEST_REGEX = 1_000
MOST_PATTERNS = 200

_TOGETHER = (("column", "row"), ("row", "column"), ("carton_total", "carton_n"))
_NAMED_GROUP = re.compile(r"\(\?P?<(\w+)>")
_LINE_ENDS = str.maketrans(dict.fromkeys("\r\x0b\x0c\x1c\x1d\x1e\x85\u2028\u2029|", "\n"))


@dataclass(frozen=True)
class LabelPattern:
    """One pattern; the fields are those of the file. It cannot exist with an expression that does not compile."""

    name: str
    regex: str
    anywhere: bool = False
    element: str = ""
    symbology: str = ""
    example: str = ""

    def __post_init__(self) -> None:
        wrong = regex_fault(self.regex)
        if wrong:
            raise ValueError(message("pattern {name}: {fault}", name=repr(self.name), fault=wrong))


def read_patterns(name: str, data: bytes) -> tuple[LabelPattern, ...]:
    """The patterns of a TOML file in file order; PatternFaults names every fault, and then none is loaded."""
    tables = _tables(name, data)
    lines = _table_lines(data, len(tables))
    faults: list[Fault] = []
    patterns: list[LabelPattern] = []
    for line, table in zip(lines, tables, strict=True):
        wrong = tuple(_table_faults(table, {pattern.name for pattern in patterns}))
        if not wrong:
            patterns.append(LabelPattern(**table))
            wrong = _example_fault(patterns[-1])
        faults.extend(Fault(line, 0, what, field=key) for key, what in wrong)
    if faults:
        raise PatternFaults(name, tuple(faults))
    return tuple(patterns)


def write_patterns(patterns: Iterable[LabelPattern]) -> str:
    """The TOML text that `read_patterns` reads back to equal patterns."""
    return "\n".join("".join(_written(pattern)) for pattern in patterns)


@cache
def default_patterns() -> tuple[LabelPattern, ...]:
    """The patterns that come with the package: plain English texts of carton labels (common practice, no source)."""
    file = resources.files("receiving.reading") / "default_patterns.toml"
    return read_patterns(file.name, file.read_bytes())


def groups_of(pattern: LabelPattern, text: str) -> dict[str, str] | None:
    """What the pattern's groups hold in this text, or None where it does not match; time is linear in the text.

    Tried are the whole text and, where it has several lines, each line; ``|`` and control characters end a line.
    """
    compiled = _compiled(pattern.regex)
    match = compiled.search if pattern.anywhere else compiled.fullmatch
    for candidate in _candidates(text):
        found = match(candidate)
        if found:
            taken = found.groupdict()
            return {group: taken[group].strip() for group in GROUPS if (taken.get(group) or "").strip()}
    return None


_EXAMPLE = r"(?P<column>\d+)"


def regex_fault(regex: str) -> Text:
    """Why this expression cannot be used, in a sentence with the next step; empty where it can."""
    if not regex:
        return message("the regex is empty: write an expression with a named group, as {example}", example=_EXAMPLE)
    if len(regex) > LONGEST_REGEX:
        return message(
            "the regex has {number} characters: at most {most}", number=figure(len(regex)), most=figure(LONGEST_REGEX)
        )
    try:
        groups = set(_compiled(regex).groupindex)
    except ValueError as wrong:
        return words_of_error(wrong)
    unknown = sorted(groups - set(GROUPS))
    if unknown:
        return message("the group {group} is not known: use {groups}", group=repr(unknown[0]), groups=", ".join(GROUPS))
    if not groups:
        return message(
            "the regex has no named group: add one of {groups}, as {example}",
            groups=", ".join(GROUPS),
            example=_EXAMPLE,
        )
    names = _NAMED_GROUP.findall(regex)
    twice = sorted({name for name in names if names.count(name) > 1})
    if twice:
        return message("the group {group} appears twice in the regex: make two patterns of it", group=repr(twice[0]))
    for group, other in _TOGETHER:
        if group in groups and other not in groups:
            return message(
                "the regex has the group {group} and lacks {other}: the two go together",
                group=repr(group),
                other=repr(other),
            )
    return ""


@lru_cache(maxsize=1024)
def _compiled(regex: str) -> Any:
    """The expression as RE2 compiles it; ValueError says why it does not."""
    options = re2.Options()
    options.log_errors = False
    try:
        compiled = re2.compile(regex, options)
    except re2.error as wrong:
        stated = wrong.args[0]
        stated = stated.decode(errors="replace") if isinstance(stated, bytes) else stated
        raise ValueError(
            message(
                "the regex is not understood ({fault}); there is no look-around and no back-reference", fault=stated
            )
        ) from None
    except UnicodeEncodeError:
        raise ValueError(message("the regex holds half a character (a lone surrogate): type it again")) from None
    return compiled


def _candidates(text: str) -> Iterator[str]:
    whole = text.encode(errors="replace").decode().strip()
    lines = whole.translate(_LINE_ENDS).split("\n")
    yield whole
    if len(lines) > 1:
        yield " ".join(line.strip() for line in lines if line.strip())
        yield from (line.strip() for line in lines if line.strip())


def _tables(name: str, data: bytes) -> list[Any]:
    if len(data) > LONGEST_FILE:
        raise _whole(
            name,
            message("the file has {number} bytes: at most {most}", number=figure(len(data)), most=figure(LONGEST_FILE)),
        )
    try:
        parsed = tomllib.loads(data.decode("utf-8-sig"))
    except UnicodeDecodeError as wrong:
        raise _whole(
            name, message("byte {place} is not UTF-8: save the file as UTF-8", place=figure(wrong.start + 1))
        ) from None
    except (ValueError, RecursionError) as wrong:
        raise _whole(name, message("this is not TOML: {fault}", fault=str(wrong))) from None
    unknown = sorted(set(parsed) - {"pattern"})
    tables = parsed.get("pattern", [])
    if unknown:
        raise _whole(name, message("{key} is not known: the file holds [[pattern]] tables only", key=repr(unknown[0])))
    if not isinstance(tables, list) or not all(isinstance(table, dict) for table in tables):
        raise _whole(name, message("{key} must be written as [[pattern]] tables", key="'pattern'"))
    if len(tables) > MOST_PATTERNS:
        raise _whole(
            name,
            message("the file has {number} patterns: at most {most}", number=len(tables), most=figure(MOST_PATTERNS)),
        )
    return tables


def _whole(name: str, fault: Text) -> PatternFaults:
    return PatternFaults(name, (Fault(0, 0, fault),))


def _table_lines(data: bytes, count: int) -> list[int]:
    """The line of each table's head, or zeros where heads cannot be told from other text."""
    lines = data.decode("utf-8-sig").split("\n")
    heads = [n for n, line in enumerate(lines, 1) if "".join(line.split()).startswith("[[pattern]]")]
    return heads if len(heads) == count else [0] * count


def _table_faults(table: dict[str, Any], names: set[str]) -> Iterator[tuple[str, Text]]:
    known = {field.name: bool if field.name == "anywhere" else str for field in fields(LabelPattern)}
    for key, value in table.items():
        if key not in known:
            yield key, message("{key} is not known: use {keys}", key=repr(key), keys=", ".join(known))
        elif known[key] is bool and not isinstance(value, bool):
            yield key, message("{value} is not true or false", value=repr(value))
        elif not isinstance(value, known[key]):
            yield key, message("{value} is not a text", value=repr(value))
    for key in ("name", "regex"):
        if key not in table:
            yield key, message("{key} is missing", key=repr(key))
    if isinstance(table.get("name"), str) and (hidden := hidden_character_words(table["name"], lines=False)):
        yield "name", hidden
    if table.get("name") in names:
        yield "name", message("the name {name} is on two patterns", name=repr(table["name"]))
    if isinstance(table.get("regex"), str):
        wrong = regex_fault(table["regex"])
        if wrong:
            yield "regex", wrong


def _example_fault(pattern: LabelPattern) -> tuple[tuple[str, Text], ...]:
    if not pattern.example or groups_of(pattern, pattern.example) is not None:
        return ()
    return (("example", message("the regex does not match the example {example}", example=repr(pattern.example))),)


def _written(pattern: LabelPattern) -> Iterator[str]:
    yield "[[pattern]]\n"
    for field in fields(pattern):
        value = getattr(pattern, field.name)
        if value is True:
            yield f"{field.name} = true\n"
        elif value is not False and (value or field.name in ("name", "regex")):
            yield f"{field.name} = {_quoted(value)}\n"


def _quoted(text: str) -> str:
    """A TOML string: literal where that is possible, so that an expression stays readable."""
    plain = all(char.isprintable() for char in text)
    if plain and "'" not in text:
        return f"'{text}'"
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return '"' + "".join(char if char.isprintable() else f"\\U{ord(char):08x}" for char in escaped) + '"'
