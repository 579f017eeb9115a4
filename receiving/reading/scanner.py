"""What one wedge scanner does to a label's text, learned from two test symbols, and how to undo it.

A wedge scanner types what it reads. Depending on its settings it types other keys for GS, RS and EOT, or nothing, puts
a code identifier in front (AIM's, or one letter of its maker's), and ends in Enter, Tab or nothing (common practice, no
source). The test symbols are a GS1-128 (GS1 General Specifications, 5.4) and a Data Matrix with an envelope of
ISO/IEC 15434, whose contents are known: what stands between and around the known parts is what the scanner does.
"""

from dataclasses import dataclass
from enum import StrEnum
from urllib.parse import parse_qsl, urlencode

from receiving.reading.symbology import EOT, GS, RS, plain_scan

TEST_GS1 = (("10", "TEST7"), ("21", "A5"))
"""AIs and values of the GS1-128 on the test page: batch and serial number, with GS between them."""
TEST_ENVELOPE = f"[)>{RS}06{GS}1JUN999999999TEST7{GS}Q5{RS}{EOT}"
"""The content of the Data Matrix on the test page."""

_PARTS_GS1 = ("10TEST7", "21A5")
_PARTS_ENVELOPE = ("[)>", "06", "1JUN999999999TEST7", "Q5")
_LONGEST = 12


class ScannerFlaw(StrEnum):
    """What a scanner does that loses data or cannot be undone."""

    NOT_THE_SYMBOL = "not_the_symbol"
    NO_GS = "no_gs"
    NO_RS = "no_rs"
    AMBIGUOUS = "ambiguous"


@dataclass(frozen=True)
class ScannerProfile:
    """What a scanner puts before and behind the data, and what it types for the control characters.

    ``prefix`` is in front of every code; ``gs1_id`` and ``matrix_id`` are its own identifiers of the two symbologies,
    empty where it sends none or AIM's, which is understood as it is. Empty stand-ins: the characters come as they are.
    """

    prefix: str = ""
    suffix: str = ""
    gs: str = ""
    rs: str = ""
    eot: str = ""
    gs1_id: str = ""
    matrix_id: str = ""

    def text_of(self, typed: str) -> str:
        """What the label holds, with AIM's identifier where the scanner's own told the symbology."""
        text = typed.removeprefix(self.prefix).removesuffix(self.suffix)
        for own, aim in ((self.gs1_id, "]C1"), (self.matrix_id, "]d1")):
            if own and text.startswith(own):
                text = aim + text.removeprefix(own)
                break
        for stands, meant in sorted(((self.gs, GS), (self.rs, RS), (self.eot, EOT)), key=lambda p: -len(p[0])):
            if stands and stands != meant:
                text = text.replace(stands, meant)
        return text

    def as_text(self) -> str:
        """The profile as one line, for a cookie."""
        return urlencode({name: value for name, value in vars(self).items() if value})

    @classmethod
    def of_text(cls, line: str) -> "ScannerProfile":
        """The profile that `as_text` wrote; the plain one where it is none."""
        known = {name: value[:_LONGEST] for name, value in parse_qsl(line) if name in cls.__dataclass_fields__}
        return cls(**known)


@dataclass(frozen=True)
class Learned:
    """What was learned of a scanner, and what is wrong with it."""

    profile: ScannerProfile
    flaws: tuple[ScannerFlaw, ...] = ()


def learn_scanner(gs1: str, matrix: str = "") -> Learned:
    """The profile of a scanner that typed these two lines for the test symbols; either may be empty."""
    flaws: list[ScannerFlaw] = []
    linear, envelope = _around(gs1, _PARTS_GS1), _around(matrix, _PARTS_ENVELOPE)
    if (gs1 and linear is None) or (matrix and envelope is None) or not (gs1 or matrix):
        flaws.append(ScannerFlaw.NOT_THE_SYMBOL)
    before = [found[0] for found in (linear, envelope) if found]
    prefix = _common(before)
    gs, rs, eot, end = "", "", "", ""
    if linear:
        gs, end = linear[1], linear[-1]
    if envelope:
        rs, eot = envelope[1], envelope[-1].removeprefix(envelope[1])
        gs = gs or envelope[2]
        end = end if linear else ""
        eot = eot.removesuffix(end)
        flaws += [ScannerFlaw.NO_RS] if not rs else []
    flaws += [ScannerFlaw.NO_GS] if (linear or envelope) and not gs else []
    stands = [sign for sign in (gs, rs, eot) if sign]
    flaws += [ScannerFlaw.AMBIGUOUS] if len(set(stands)) < len(stands) or any(sign.isalnum() for sign in stands) else []
    ids = [found[0].removeprefix(prefix) if found else "" for found in (linear, envelope)]
    ids = ["" if plain_scan(own + "0").symbology else own for own in ids]
    if len(before) == 1 and not plain_scan(prefix + "0").symbology:
        ids = ["", ""]  # of one symbol it cannot be told whether all codes begin so
    elif plain_scan(prefix + "0").symbology:
        prefix = ""
    keep = [_own(sign, char) for sign, char in ((gs, GS), (rs, RS), (eot, EOT))]
    return Learned(ScannerProfile(prefix, end, *keep, *ids), tuple(dict.fromkeys(flaws)))


def _own(stands: str, meant: str) -> str:
    return "" if stands == meant else stands[:_LONGEST]


def _around(typed: str, parts: tuple[str, ...]) -> list[str] | None:
    """What stands before, between and behind the known parts of a line; None where they are not all there in order."""
    found, rest = [], typed
    for part in parts:
        between, known, rest = rest.partition(part)
        if not known or len(between) > _LONGEST:
            return None
        found.append(between)
    return [*found, rest] if len(rest) <= 2 * _LONGEST else None


def _common(starts: list[str]) -> str:
    """What all of these begin with; AIM identifiers differ after their first sign, which is not a prefix."""
    if len(starts) < 2:
        return starts[0] if starts else ""
    same = 0
    while same < min(map(len, starts)) and starts[0][same] == starts[1][same]:
        same += 1
    return starts[0][:same].removesuffix("]")
