"""The texts of the scripts: each is a template that the extraction finds, with the plural forms of its language."""

import re
from functools import cache
from pathlib import Path

import pytest
from babel.messages.catalog import Catalog

from receiving.language.scripts import catalogue_of, plural_forms
from tests.language.catalogues import PROJECT, templates

SCRIPTS = sorted((PROJECT / "web" / "static").glob("*.js"))
SENTENCE = re.compile(r"^[A-Z][a-z]+(:| …|[ ,]+\w)")
"""How a text begins that a person reads: with a capital, and more words."""


def strings(path: Path) -> list[str]:
    code = re.sub(r"(^|\s)//.*$", "", path.read_text(), flags=re.MULTILINE)
    return [double or template for double, template in re.findall(r'"((?:[^"\\\n]|\\.)*)"|`([^`]*)`', code)]


@cache
def extracted() -> set[str]:
    found: set[str] = set()
    for name, _, text in templates():
        if name.endswith(".js"):
            found.update((text,) if isinstance(text, str) else text)
    return found


def test_every_sentence_of_a_script_is_a_template() -> None:
    # The service worker has a page of its own, in English, for the time before it holds one in the reader's language.
    read = [(path.name, text) for path in SCRIPTS if path.name != "offline.js" for text in strings(path)]
    assert [(name, text) for name, text in read if SENTENCE.search(text) and text not in extracted()] == []


def test_the_texts_of_the_words_are_all_templates() -> None:
    words = [text for text in strings(PROJECT / "web" / "static" / "words.js") if re.search(r"[A-Z{]|\s", text)]
    unknown = [
        text
        for text in words
        if text not in extracted() and text not in {" ", ", ", "NotAllowedError", "NotFoundError"}
    ]
    assert unknown == ["${TITLES[kind] ?? kind} · ${about}"]


# Polish: one, few, many (Unicode CLDR, Language Plural Rules; its numbers are whole here, so "other" does not come up).
# Spanish has three since CLDR 38: "many" for whole millions.
@pytest.mark.parametrize(
    ("code", "rule", "forms"),
    [
        ("en", "(n != 1)", {"one": 0, "other": 1}),
        ("es", "(n != 1)", {"one": 0, "many": 1, "other": 1}),
        ("pl", "(n==1 ? 0 : n%10>=2 && n%10<=4 && (n%100<10 || n%100>=20) ? 1 : 2)", {"one": 0, "few": 1, "many": 2}),
        ("ja", "0", {"other": 0}),
    ],
)
def test_each_category_of_a_language_has_its_form(code: str, rule: str, forms: dict[str, int]) -> None:
    assert plural_forms(code, rule) == forms


def test_the_catalogue_of_the_scripts_holds_their_texts_alone_and_whole_ones() -> None:
    catalogue = Catalog(locale="es")
    script, page = [("web/static/words.js", 1)], [("web/templates/plan.html", 1)]
    catalogue.add("Here", "Aquí", locations=script)
    catalogue.add(("{number} scan", "{number} scans"), ("{number} lectura",) * 3, locations=[*page, *script])
    catalogue.add(("{number} note", "{number} notes"), ("{number} nota", "", ""), locations=script)
    catalogue.add("Seen", "Visto", locations=script, flags=["fuzzy"])
    catalogue.add("Plan", "Plano", locations=page)
    found = catalogue_of(catalogue, "es")
    assert found["language"] == "es"
    assert found["messages"] == {"Here": "Aquí", "{number} scan": ["{number} lectura"] * 3}
