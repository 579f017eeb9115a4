"""Label patterns: their text, and what they make of a pasted example."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import ClassVar

from receiving.messages import Message, Text, joined, listing, message, plural
from receiving.model import Claim
from receiving.service import PatternTrial
from receiving.wording import address_words
from web.pages.office_texts import Editor, FaultLine, fault_lines
from web.pages.tone import Tone
from web.pages.words import shown_text

NO_CLAIM = message("Nothing on this label tells which carton it is.")


@dataclass(frozen=True)
class Fact:
    """One thing that the label says, or that a named group of a pattern took."""

    name: Text
    value: Text


@dataclass(frozen=True)
class Taken:
    """What the named groups of one pattern took."""

    pattern: str
    groups: tuple[Fact, ...]


@dataclass(frozen=True)
class Trial:
    """What the patterns make of the example."""

    tone: Tone
    word: Text
    sentence: Text
    taken: tuple[Taken, ...]
    facts: tuple[Fact, ...]
    warnings: tuple[Text, ...]
    silent: tuple[str, ...]
    faults: tuple[FaultLine, ...]


@dataclass(frozen=True)
class PatternsPage:
    """The label patterns to edit; ``shipped`` while the built-in ones are in use."""

    template: ClassVar[str] = "office_patterns.html"

    editor: Editor
    shipped: bool
    groups: str
    example: str
    trial: Trial | None

    title: ClassVar[Text] = message("Label patterns")


def patterns_page(
    editor: Editor, *, shipped: bool, groups: Iterable[str], example: str = "", trial: Trial | None = None
) -> PatternsPage:
    """The page of label patterns."""
    return PatternsPage(editor, shipped, ", ".join(groups), example, trial)


def trial_part(trial: PatternTrial, text: str) -> Trial:
    """What a trial of the patterns in ``text`` showed."""
    taken = _taken(trial.groups)
    wrong = fault_lines(trial.faults, text.splitlines())
    facts = claim_facts(trial.claim)
    tone, word = _verdict(bool(wrong), bool(taken), bool(facts))
    sentence = _sentence(wrong, taken, facts)
    return Trial(tone, word, sentence, taken, facts, trial.claim.warnings, trial.silent, wrong)


def _taken(groups: tuple[tuple[str, str, str], ...]) -> tuple[Taken, ...]:
    by_pattern: dict[str, list[Fact]] = {}
    for pattern, group, value in groups:
        by_pattern.setdefault(pattern, []).append(Fact(group, _on_one_line(value)))
    return tuple(Taken(pattern, tuple(facts)) for pattern, facts in by_pattern.items())


def _on_one_line(text: str) -> str:
    return shown_text(text.replace("\n", " ↵ "))


def _verdict(wrong: bool, taken: bool, facts: bool) -> tuple[Tone, Message]:
    if wrong:
        return Tone.MISSING, message("Cannot be tried")
    if taken:
        return Tone.HERE, message("Understood")
    if facts:
        return Tone.INSIDE, message("Understood without patterns")
    return Tone.MISSING, message("Not understood")


def _sentence(wrong: tuple[FaultLine, ...], taken: tuple[Taken, ...], facts: tuple[Fact, ...]) -> Text:
    if wrong:
        return plural(
            len(wrong),
            "The patterns have {number} fault; correct them, then try again.",
            "The patterns have {number} faults; correct them, then try again.",
        )
    if taken:
        by = message("Read by {patterns}.", patterns=listing(f"“{each.pattern}”" for each in taken))
        return by if facts else joined(by, NO_CLAIM)
    return message("No pattern matches; the label's own standard says what it is.") if facts else NO_CLAIM


def claim_facts(claim: Claim) -> tuple[Fact, ...]:
    """What a label claims, in words; elements of a standard that name nothing of ours come last."""
    place: Text = address_words(claim.address) if claim.address else ""
    section = "" if claim.address and claim.address.section else claim.section
    pairs: tuple[tuple[Text, Text], ...] = (
        (message("Carton"), shown_text(claim.carton)),
        (message("Place"), place),
        (message("Section"), shown_text(section)),
        (message("Carton of the shipment"), _share(claim)),
        (message("Kind"), shown_text(claim.kind)),
        (message("Item"), shown_text(claim.item)),
        (message("Open first"), message("yes") if claim.open_first else ""),
        (message("Outer box"), message("yes") if claim.outer else ""),
        ("SSCC", str(claim.sscc or "")),
        ("GTIN", shown_text(claim.gtin)),
        (message("Barcode"), shown_text(claim.barcode)),
        (message("Shipment"), shown_text(claim.shipment)),
        (message("Store"), shown_text(claim.store)),
        *((message("Element {identifier}", identifier=name), shown_text(value)) for name, value in claim.elements),
    )
    return tuple(Fact(name, value) for name, value in pairs if value)


def _share(claim: Claim) -> Text:
    if claim.carton_n is None:
        return ""
    if claim.carton_total:
        return message("{carton} of {total}", carton=claim.carton_n, total=claim.carton_total)
    return str(claim.carton_n)
