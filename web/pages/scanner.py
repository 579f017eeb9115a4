"""What a wedge scanner sends for two test symbols, character by character, and what is made of it."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import ClassVar

from markupsafe import Markup

from receiving.messages import Message, Text, joined, message
from receiving.service import Learned, ScannerFlaw

SIGNS: dict[str, Text] = {
    "\x1d": "GS",
    "\x1e": "RS",
    "\x04": "EOT",
    "\t": message("Tab"),
    "\r": "CR",
    "\n": "LF",
    "\x02": "STX",
    "\x03": "ETX",
    " ": message("space"),
}
FLAWS = {
    ScannerFlaw.NOT_THE_SYMBOL: message(
        "That is not what the test symbols hold. Scan the first into the first field, the second into the second."
    ),
    ScannerFlaw.NO_GS: message(
        "It sends nothing for GS, so that nobody can tell where a batch number ends. Set the scanner to "
        "send the group separator, or a character that stands for it (its manual: function code, FNC1, GS)."
    ),
    ScannerFlaw.NO_RS: message(
        "It sends nothing for RS. License plates are read all the same; to be sure, set it to send control characters."
    ),
    ScannerFlaw.AMBIGUOUS: message(
        "A character that stands for a control character may be part of a code, or stands for two of them. "
        "Choose characters that no label has, such as ~ and ^."
    ),
}


@dataclass(frozen=True)
class SentSign:
    """One character that came: a letter, or the name of what cannot be seen."""

    text: Text
    named: bool


@dataclass(frozen=True)
class ScannerPage:
    """The test page; ``found`` says in sentences what was learned."""

    template: ClassVar[str] = "scanner.html"
    title: ClassVar[Text] = message("Scanner")

    bars: Markup
    matrix: Markup
    gs1: tuple[SentSign, ...]
    envelope: tuple[SentSign, ...]
    found: tuple[Text, ...]
    flaws: tuple[Text, ...]
    is_set: bool


def scanner_page(
    symbols: tuple[str, str], *, sent: tuple[str, str] = ("", ""), learned: Learned | None = None, is_set: bool = False
) -> ScannerPage:
    """The page with the test symbols, and what a scanner sent for them."""
    return ScannerPage(
        Markup(symbols[0]),  # nosec B704: drawn by us from fixed contents
        Markup(symbols[1]),  # nosec B704
        _signs(sent[0]),
        _signs(sent[1]),
        _found(learned) if learned and ScannerFlaw.NOT_THE_SYMBOL not in learned.flaws else (),
        tuple(FLAWS[flaw] for flaw in learned.flaws) if learned else (),
        is_set,
    )


def _signs(text: str) -> tuple[SentSign, ...]:
    return tuple(SentSign(_sign(char), char in SIGNS or not char.isprintable()) for char in text[:200])


def _sign(char: str) -> Text:
    return SIGNS.get(char) or (char if char.isprintable() else f"U+{ord(char):04X}")


def _found(learned: Learned) -> tuple[Message, ...]:
    sent = [(words, getattr(learned.profile, name)) for name, words in SENT_WORDS.items()]
    found = tuple(words(_named(text)) for words, text in sent if text)
    return found or (message("It sends the data as they are; nothing needs to be undone."),)


def _named(text: str) -> Text:
    return joined(*(sign.text for sign in _signs(text)))


SENT_WORDS: dict[str, Callable[[Text], Message]] = {
    "prefix": lambda characters: message("It sends {characters} before every code.", characters=characters),
    "suffix": lambda characters: message("It sends {characters} after every code.", characters=characters),
    "gs": lambda characters: message("It sends {characters} for GS.", characters=characters),
    "rs": lambda characters: message("It sends {characters} for RS.", characters=characters),
    "eot": lambda characters: message("It sends {characters} for EOT.", characters=characters),
    "gs1_id": lambda characters: message("It sends {characters} before GS1-128.", characters=characters),
    "matrix_id": lambda characters: message("It sends {characters} before Data Matrix.", characters=characters),
}
"""What a scanner was found to send, by the fields of its profile."""
