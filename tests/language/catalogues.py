"""The templates of all messages, found in the code, and the catalogues brought up to date with them.

Run it after changing what a person reads: `python tests/language/catalogues.py`. New templates come without a
translation, changed ones with the nearest old one marked "fuzzy"; both are said in English until someone translates
them, and a test names them.
"""

import sys
from collections.abc import Iterator
from pathlib import Path

from babel.messages.catalog import Catalog
from babel.messages.extract import extract_from_dir
from babel.messages.pofile import read_po, write_po

PROJECT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(PROJECT))
CATALOGUES = PROJECT / "receiving" / "language" / "catalogues"
KEYWORDS = {"message": None, "plural": (2, 3), "_": None, "gettext": None, "ngettext": (1, 2)}
METHODS = [("**.py", "python"), ("**/templates/**.html", "jinja2"), ("static/*.js", "javascript")]
OPTIONS = {"**/templates/**.html": {"trimmed": "true", "newstyle_gettext": "true", "silent": "false"}}
SOURCES = ("receiving", "web")


def templates() -> Iterator[tuple[str, int, str | tuple[str, ...]]]:
    """Every template with the file and line in which it stands; those with a plural as both forms."""
    for folder in SOURCES:
        for name, line, text, _, _ in extract_from_dir(PROJECT / folder, METHODS, OPTIONS, KEYWORDS):
            yield f"{folder}/{name}", line, text


def catalogue_of_code() -> Catalog:
    """A catalogue of all templates, none of them translated."""
    catalogue = Catalog(project="shipment-receiving", charset="utf-8", fuzzy=False)
    for name, line, text in templates():
        catalogue.add(text, locations=[(name, line)])
    return catalogue


def read_catalogue(code: str) -> Catalog:
    """The catalogue of this language; an empty one where there is none yet."""
    path = CATALOGUES / f"{code}.po"
    if not path.exists():
        return Catalog(locale=code, project="shipment-receiving", charset="utf-8", fuzzy=False)
    with path.open("rb") as file:
        return read_po(file, locale=code)


def main() -> None:
    wanted = catalogue_of_code()
    for code in sys.argv[1:] or sorted(path.stem for path in CATALOGUES.glob("*.po")):
        known = read_catalogue(code)
        known.update(wanted, update_creation_date=False)
        with (CATALOGUES / f"{code}.po").open("wb") as file:
            write_po(file, known, width=100, sort_output=True, ignore_obsolete=True, include_lineno=False)
        open_ = [one for one in known if one.id and (one.fuzzy or not all(_forms(one.string)))]
        sys.stdout.write(f"{code}: {len(known)} templates, {len(open_)} to translate\n")


def _forms(string: object) -> tuple[str, ...]:
    return tuple(string) if isinstance(string, (tuple, list)) else (str(string or ""),)


if __name__ == "__main__":
    main()
