"""The catalogue of the scripts of a page: the templates that stand in them, as JSON can hold them.

A browser chooses the plural by Unicode's categories (CLDR; ECMA-402, `Intl.PluralRules`), a catalogue numbers its forms
by gettext's own rule: which category has which form is worked out here, by the numbers that tell them apart.
"""

from functools import cache
from gettext import c2py
from importlib.resources import files
from pathlib import Path
from typing import Any

from babel import Locale
from babel.messages.catalog import Catalog
from babel.messages.pofile import read_po

CATALOGUES = Path(str(files(__package__))) / "catalogues"
TELLING = (*range(201), 1_000, 1_000_000)
"""Numbers among which every language has each of its categories."""


@cache
def script_catalogue(code: str) -> dict[str, Any]:
    """The texts of the scripts in this language: ``language``, ``plurals`` (category to form) and ``messages``.

    A template is the key of its translation, or of its forms where it has a plural. Those that are unsure ("fuzzy") or
    missing are left out, and are said in English.
    """
    with (CATALOGUES / f"{code}.po").open("rb") as written:
        return catalogue_of(read_po(written, locale=code), code)


def catalogue_of(catalogue: Catalog, code: str) -> dict[str, Any]:
    """The same of an open catalogue."""
    messages: dict[str, str | list[str]] = {}
    for each in catalogue:
        forms = [each.string] if isinstance(each.string, str) else list(each.string or ())
        if (
            each.id
            and not each.fuzzy
            and forms
            and all(forms)
            and any(name.endswith(".js") for name, _ in each.locations)
        ):
            messages[each.id if isinstance(each.id, str) else each.id[0]] = forms if len(forms) > 1 else forms[0]
    plurals = plural_forms(code, catalogue.plural_expr)
    return {"language": code, "plurals": plurals, "messages": messages}


def plural_forms(code: str, rule: str) -> dict[str, int]:
    """Which form of a catalogue each plural category of a language has; ``rule`` is the catalogue's, as gettext has it.

    >>> plural_forms("fr", "(n > 1)")["many"], plural_forms("en", "(n != 1)")
    (1, {'other': 1, 'one': 0})
    """
    category, form = Locale.parse(code).plural_form, c2py(rule)
    return {category(number): form(number) for number in reversed(TELLING)}
