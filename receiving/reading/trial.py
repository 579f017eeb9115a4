"""Trying a label pattern on a pasted example, before any shipment depends on it."""

from dataclasses import dataclass

from receiving.errors import Fault, PatternFaults
from receiving.model import Claim
from receiving.reading.claims import claim_of
from receiving.reading.patterns import LabelPattern, groups_of, read_patterns, regex_fault
from receiving.reading.symbology import plain_scan

_NOTHING = Claim()


@dataclass(frozen=True)
class PatternTrial:
    """What the patterns make of the example: faults, or the groups each took and the claim that follows.

    ``groups`` are (pattern, group, text taken); ``silent`` are the patterns that did not match.
    """

    faults: tuple[Fault, ...] = ()
    groups: tuple[tuple[str, str, str], ...] = ()
    silent: tuple[str, ...] = ()
    claim: Claim = _NOTHING

    @property
    def matched(self) -> bool:
        """True where at least one pattern took something from the example."""
        return bool(self.groups)


def try_pattern(pattern_text: str, example: str) -> PatternTrial:
    """Try a bare expression, or the text of a pattern file, on one label text, typed as a scanner would send it.

    Raises nothing: what is wrong with the pattern stands in ``faults``.
    """
    try:
        patterns = _patterns(pattern_text)
    except PatternFaults as wrong:
        return PatternTrial(faults=wrong.faults)
    claim = claim_of(example, patterns=patterns)
    groups: list[tuple[str, str, str]] = []
    silent: list[str] = []
    for pattern in patterns:
        found = _groups(pattern, example, claim)
        groups.extend((pattern.name, group, text) for group, text in found)
        if not found:
            silent.append(pattern.name)
    return PatternTrial((), tuple(groups), tuple(silent), claim)


def _patterns(text: str) -> tuple[LabelPattern, ...]:
    if "[[" in text and "]]" in text and "=" in text:
        return read_patterns("pattern", text.encode(errors="replace"))
    wrong = regex_fault(text.strip())
    if wrong:
        raise PatternFaults("pattern", (Fault(1, 0, wrong, field="regex"),))
    return (LabelPattern("pattern", text.strip()),)


def _groups(pattern: LabelPattern, example: str, claim: Claim) -> tuple[tuple[str, str], ...]:
    scan = plain_scan(example)
    if pattern.symbology not in ("", scan.symbology):
        return ()
    if not pattern.element:
        return tuple((groups_of(pattern, scan.message) or {}).items())
    values = (value for identifier, value in claim.elements if identifier == pattern.element)
    return tuple(item for value in values for item in (groups_of(pattern, value) or {}).items())
