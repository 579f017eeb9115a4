"""The papers say what is so: licences, columns, keys and options, held against the code."""

import re
from pathlib import Path

PROJECT = Path(__file__).resolve().parent.parent
DOCS = PROJECT / "docs"


def table_of(paper: str, heading: str = "") -> dict[str, str]:
    """The first table under this heading: its first column, unquoted, with its second."""
    text = (DOCS / paper).read_text()
    if heading:
        assert f"\n{heading}\n" in text, f"{paper} has no heading {heading!r}"
        text = text.split(f"\n{heading}\n", 1)[1]
    rows = re.search(r"^\|---.*\n((?:\|.*\n?)+)", text, re.MULTILINE)
    assert rows, f"{paper} has no table under {heading!r}"
    cells = ([cell.strip() for cell in line.strip("|").split("|")] for line in rows[1].splitlines())
    return {cell[0].replace("`", ""): cell[1] for cell in cells}


def test_every_library_that_is_installed_is_listed_with_its_licence() -> None:
    pinned = set(re.findall(r"^([a-z0-9-]+)==", (PROJECT / "requirements.txt").read_text(), re.MULTILINE))
    listed = table_of("licences.md")
    assert set(listed) == pinned
    assert all(re.search(r"MIT|BSD|Apache|ZPL|public domain", licence) for licence in listed.values())
    assert not [name for name, licence in listed.items() if re.search(r"(?<!L)GPL", licence)]
