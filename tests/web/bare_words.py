"""Texts of pages that no catalogue knows: every message is said in brackets, and what stands outside is data or bare.

    python -m tests.web.bare_words              # each page with its bare texts
    python -m tests.web.bare_words find plan    # only the pages whose address holds one of these

What is data is known from what the pages were filled with: names, codes, items, places in a section.
"""

import csv
import re
import sys
import tempfile
from collections.abc import Iterator
from datetime import date, datetime
from html.parser import HTMLParser
from pathlib import Path

import web.speech
from receiving import service
from receiving.language import LANGUAGES, language_name
from receiving.messages import Message, Speaker
from tests.planned_reader import PlannedReader
from tests.receipts import confirm_with_shorts
from tests.web.scenario import ADDRESS, LAYOUT, MANIFEST, OTHER_PAGES, REP_PAGES, SHIPMENT, fill, open_context
from web import create_app

OPEN, CLOSE = "⟦", "⟧"
SPOKEN = {"title", "aria-label", "placeholder", "alt", "aria-description", "data-label"}
"""Attributes that a person reads or hears; a narrow page writes `data-label` before its cell."""

SILENT = {"script", "style", "textarea", "code", "pre", "kbd", "ins", "del"}
"""What holds data, also that of two versions of a file."""
WORD = re.compile(r"[^\W\d_]{2,}")
DIGEST = re.compile(r"\b[0-9a-f]{64}\b")
UNITS = {
    "kg",
    "lb",
    "cm",
    "mm",
    "in",
    "ft",
    "UTC",
    "CSV",
    "XLSX",
    "PDF",
    "JSON",
    "EPCIS",
    "EDIFACT",
    "RECADV",
    "GTIN",
    "SSCC",
    "GS",
    "Data",
    "Matrix",
}
"""What is written alike in every language: units, formats and the names of symbologies."""
FILES = "manifest.csv layout.toml"
PEOPLE = "Ada Bo Grace Manager pile jpg"


class Bracketed(Speaker):
    """English with every template in brackets, so that all else stands out, texts as values too."""

    open, close = OPEN, CLOSE

    def say(self, shown: object) -> str:
        if not isinstance(shown, Message):
            return super().say(shown)
        values = {n: f"{self.close}{v}{self.open}" if isinstance(v, str) else self.say(v) for n, v in shown.values}
        return self.template(shown).format(**values)

    def template(self, message: Message) -> str:
        return f"{self.open}{super().template(message)}{self.close}"

    def listing(self, items: list[str], *, choice: bool) -> str:
        return self._bracketed(super().listing([f"{self.close}{item}{self.open}" for item in items], choice=choice))

    def day(self, value: date, *, year: bool = True) -> str:
        return self._bracketed(super().day(value, year=year))

    def time(self, value: datetime) -> str:
        return self._bracketed(super().time(value))

    def _bracketed(self, text: str) -> str:
        return f"{self.open}{text}{self.close}"


class Bare(HTMLParser):
    """Collects what is read outside of brackets; what stands between a message's brackets as a value counts as said."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.texts: list[str] = []
        self._open: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        self._open.append(tag)
        for name in SPOKEN & given.keys():
            self.texts.append(given[name] or "")
        if tag == "input" and given.get("type") in ("submit", "button"):
            self.texts.append(given.get("value") or "")
        if tag in ("input", "meta", "link", "br", "img", "hr"):
            self._open.pop()

    def handle_endtag(self, tag: str) -> None:
        if tag in self._open:
            while self._open.pop() != tag:
                pass

    def handle_data(self, data: str) -> None:
        if not SILENT & set(self._open):
            self.texts.append(data)


def outside(text: str) -> str:
    """What stands outside of all brackets; markup may have torn a message into several texts."""
    depth, kept = 0, []
    for letter in text:
        depth += (letter == OPEN) - (letter == CLOSE)
        kept.append(letter if depth <= 0 and letter != CLOSE else "\0" if letter == OPEN else "")
        depth = max(0, depth)
    return "".join(kept)


def bare(html: str, data: set[str]) -> list[str]:
    """The texts of a page that hold words which are neither said nor data."""
    reader = Bare()
    reader.feed(html)
    # Marks of HTML inside of a message part its text: brackets are counted over the page, attributes one by one.
    found = outside("\1".join(reader.texts)).split("\1")
    parts = (DIGEST.sub("", part) for text in found for part in text.split("\0"))
    return [" ".join(part.split()) for part in parts if set(WORD.findall(part)) - data]


def words_of_data() -> set[str]:
    """Every word of what the pages are filled with; of a manifest not the headings and the kinds, which are said."""
    heading, *rows = list(csv.reader(MANIFEST.splitlines()))
    kind = heading.index("kind")
    cells = (cell for row in rows for n, cell in enumerate(row) if n != kind)
    texts = [*cells, LAYOUT, FILES, PEOPLE, SHIPMENT, *map(language_name, LANGUAGES)]
    return set(WORD.findall(" ".join(texts))) | UNITS


def pages(folder: Path) -> Iterator[tuple[str, str]]:
    """Every page with its text, everything said in brackets."""
    with open_context(folder, PlannedReader()) as ctx:
        photo = fill_and_confirm(ctx)
        speaker = Bracketed()
        web.speech.language_of = lambda _: speaker  # type: ignore[assignment]
        client = create_app(ctx).test_client()
        client.set_cookie("person", "Ada")
        for path in (*REP_PAGES, *OTHER_PAGES, f"{ADDRESS}/photos/{photo}"):
            answer = client.get(path, follow_redirects=True)
            yield path, answer.get_data(as_text=True)


def fill_and_confirm(ctx: service.Context) -> str:
    """Something of everything, confirmed; gives the photo's id."""
    photo = fill(ctx)
    confirm_with_shorts(ctx, SHIPMENT)
    return photo


def main() -> None:
    data, total = words_of_data(), 0
    with tempfile.TemporaryDirectory() as folder:
        for path, html in pages(Path(folder)):
            if sys.argv[1:] and not any(part in path for part in sys.argv[1:]):
                continue
            found = list(dict.fromkeys(bare(html, data)))
            total += len(found)
            sys.stdout.write(f"{path}: {len(found)}\n" + "".join(f"    {text[:110]}\n" for text in found))
    sys.stdout.write(f"{total} in all\n")


if __name__ == "__main__":
    main()
