"""Every template is found by the extraction, and every catalogue is whole and keeps the names of the values."""

import ast
import re
import string
from collections.abc import Iterator
from pathlib import Path

import pytest

from receiving.language.choosing import LANGUAGES
from tests.language.catalogues import CATALOGUES, PROJECT, SOURCES, catalogue_of_code, read_catalogue, templates

MAKERS = {"message": (0,), "plural": (1, 2)}
WRITTEN = sorted(path.stem for path in CATALOGUES.glob("*.po"))


def calls_of_makers() -> Iterator[tuple[Path, ast.Call, str]]:
    for path in (path for folder in SOURCES for path in (PROJECT / folder).rglob("*.py")):
        written = path.read_text()
        for node in ast.walk(ast.parse(written)) if "from receiving.messages import" in written else ():
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in MAKERS:
                yield path, node, node.func.id


def names_in(template: str) -> set[str]:
    of_pages = set(re.findall(r"%\((\w+)\)s", template))  # Jinja's i18n extension has Python's % format
    return of_pages or {name for _, name, _, _ in string.Formatter().parse(template) if name is not None}


def in_a_table(path: Path) -> set[tuple[int, int]]:
    """Where templates stand in a table of the module, to be filled where they are used."""
    tables = (node for node in ast.parse(path.read_text()).body if isinstance(node, ast.Assign | ast.AnnAssign))
    calls = (call for table in tables for call in ast.walk(table) if isinstance(call, ast.Call))
    return {(call.lineno, call.col_offset) for call in calls}


def test_every_template_is_a_literal_so_that_the_extraction_finds_it() -> None:
    hidden = [
        f"{path.relative_to(PROJECT)}:{call.lineno}"
        for path, call, name in calls_of_makers()
        for place in MAKERS[name]
        if len(call.args) <= place
        or not (isinstance(call.args[place], ast.Constant) and isinstance(call.args[place].value, str))
    ]
    assert not hidden


def test_every_value_of_a_template_is_given_and_every_value_given_is_named() -> None:
    wrong = []
    for path, call, name in calls_of_makers():
        given = {word.arg for word in call.keywords}
        if not given and (call.lineno, call.col_offset) in in_a_table(path):
            continue
        if None in given:  # **values
            continue
        written = [call.args[place] for place in MAKERS[name]]
        named = set().union(*(names_in(str(text.value)) for text in written if isinstance(text, ast.Constant)))
        if named - ({"number"} if name == "plural" else set()) != given:
            wrong.append(f"{path.relative_to(PROJECT)}:{call.lineno}: {sorted(named)} named, {sorted(given)} given")
    assert not wrong, "\n".join(wrong)


def test_the_extraction_finds_every_template_that_the_code_makes() -> None:
    # It reads tokens and not the syntax tree: a template inside of an f-string would stay English unseen.
    found: set[str] = set()
    for _, _, text in templates():
        found.update((text,) if isinstance(text, str) else text)
    made = [(path, call.lineno, call.args[MAKERS[name][0]]) for path, call, name in calls_of_makers()]
    unseen = [
        f"{path.relative_to(PROJECT)}:{line}: {text.value}"
        for path, line, text in made
        if isinstance(text, ast.Constant) and text.value and text.value not in found
    ]
    assert not unseen, "\n".join(unseen)


def test_the_extraction_finds_the_templates_of_matching() -> None:
    texts = [text for _, _, text in templates()]
    assert "Nothing read or noted shows it" in texts
    assert ("carton {cartons}", "cartons {cartons}") in texts


@pytest.mark.parametrize("code", LANGUAGES[1:])
def test_a_language_that_is_offered_is_whole(code: str) -> None:
    known = read_catalogue(code)
    missing = [one.id for one in catalogue_of_code() if one.id and not _translated(known, one.id)]
    assert not missing, f"python tests/language/catalogues.py, then translate {missing[:5]} and {len(missing)} in all"


@pytest.mark.parametrize("code", WRITTEN)
def test_a_translation_names_the_same_values(code: str) -> None:
    wrong = []
    for one in read_catalogue(code):
        if not one.id or not one.string:
            continue
        ids, strings = (one.id, one.string) if isinstance(one.id, (tuple, list)) else ((one.id,), (one.string,))
        wanted = set().union(*map(names_in, ids))
        wrong += [f"{one.id}: {text}" for text in strings if text and not names_in(text) <= wanted]
        last = names_in(ids[-1])  # the singular may name the one thing where the others are counted
        wrong += [f"{one.id}: {strings[-1]}" for _ in (1,) if strings[-1] and not last <= names_in(strings[-1])]
    assert not wrong, "\n".join(wrong)


def _translated(known: object, text: object) -> bool:
    found = known.get(text if isinstance(text, str) else text[0])  # type: ignore[attr-defined, index]
    if found is None or found.fuzzy:
        return False
    return all(found.string) if isinstance(found.string, (tuple, list)) else bool(found.string)


FAMILIAR = {
    "es": re.compile(r"\b(tú|tu|tus|te|ti|contigo|tienes|puedes|quieres|debes)\b", re.IGNORECASE),
    "fr": re.compile(r"\b(tu|te|toi|ton|ta|tes)\b", re.IGNORECASE),
}
"""A store manager whom nobody knows is spoken to as usted and vous, on every page."""


def strings_of(code: str) -> Iterator[tuple[str, str]]:
    for one in read_catalogue(code):
        if one.id:
            template = one.id if isinstance(one.id, str) else one.id[0]
            yield from ((template, text) for text in ((one.string,) if isinstance(one.string, str) else one.string))


@pytest.mark.parametrize("code", ["es", "fr"])
def test_nobody_is_spoken_to_as_a_friend(code: str) -> None:
    assert not [(template, text) for template, text in strings_of(code) if FAMILIAR[code].search(text)]


@pytest.mark.parametrize("code", WRITTEN)
def test_a_translation_ends_in_a_space_where_its_template_does(code: str) -> None:
    assert not [each for each in strings_of(code) if each[0].endswith(" ") != each[1].endswith(" ")]


def test_french_keeps_its_punctuation_with_the_word_before_them() -> None:
    """No line begins with ``:``, ``;``, ``!``, ``?`` or ``»``: the space before them does not break."""
    assert not [text for _, text in strings_of("fr") if re.search(r"\S [:;!?»](?!\w)|« ", text)]
