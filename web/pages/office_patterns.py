"""Label patterns: their text, and what they make of a pasted example."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import ClassVar

from receiving.model import Claim
from receiving.service import PatternTrial
from web.pages.office_texts import Editor, FaultLine, fault_lines
from web.pages.tone import Tone
from web.pages.words import counted, listed, shown_text

NO_CLAIM = "Nothing on this label tells which carton it is."


@dataclass(frozen=True)
class Fact:
    """One thing that the label says, or that a named group of a pattern took."""

    name: str
    value: str


@dataclass(frozen=True)
class Taken:
    """What the named groups of one pattern took."""

    pattern: str
    groups: tuple[Fact, ...]


@dataclass(frozen=True)
class Trial:
    """What the patterns make of the example."""

    tone: Tone
    word: str
    sentence: str
    taken: tuple[Taken, ...]
    facts: tuple[Fact, ...]
    warnings: tuple[str, ...]
    silent: tuple[str, ...]
    faults: tuple[FaultLine, ...]


@dataclass(frozen=True)
class PatternsPage:
    """The label patterns to edit; ``shipped`` while the shipped ones are in use."""

    template: ClassVar[str] = "office_patterns.html"

    editor: Editor
    shipped: bool
    groups: str
    example: str
    trial: Trial | None

    title: ClassVar[str] = "Label patterns"


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


def _verdict(wrong: bool, taken: bool, facts: bool) -> tuple[Tone, str]:
    if wrong:
        return Tone.MISSING, "Cannot be tried"
    if taken:
        return Tone.HERE, "Understood"
    return (Tone.INSIDE, "Understood without patterns") if facts else (Tone.MISSING, "Not understood")


def _sentence(wrong: tuple[FaultLine, ...], taken: tuple[Taken, ...], facts: tuple[Fact, ...]) -> str:
    if wrong:
        return f"The patterns have {counted(len(wrong), 'fault')}; correct them, then try again."
    by = listed(f"“{each.pattern}”" for each in taken)
    if taken:
        return f"Read by {by}." + ("" if facts else f" {NO_CLAIM}")
    return "No pattern matches; the label's own standard says what it is." if facts else NO_CLAIM


def claim_facts(claim: Claim) -> tuple[Fact, ...]:
    """What a label claims, in words; elements of a standard that name nothing of ours come last."""
    pairs = (
        ("Carton", claim.carton),
        ("Place", str(claim.address or "")),
        ("Section", "" if claim.address and claim.address.section else claim.section),
        ("Carton of the shipment", _share(claim)),
        ("Kind", claim.kind),
        ("Item", claim.item),
        ("Open first", "yes" if claim.open_first else ""),
        ("Outer box", "yes" if claim.outer else ""),
        ("SSCC", str(claim.sscc or "")),
        ("GTIN", claim.gtin),
        ("Barcode", claim.barcode),
        ("Shipment", claim.shipment),
        ("Store", claim.store),
        *((f"Element {identifier}", value) for identifier, value in claim.elements),
    )
    return tuple(Fact(name, shown_text(value)) for name, value in pairs if value)


def _share(claim: Claim) -> str:
    if claim.carton_n is None:
        return ""
    return f"{claim.carton_n} of {claim.carton_total}" if claim.carton_total else str(claim.carton_n)
