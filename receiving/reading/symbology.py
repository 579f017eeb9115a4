"""AIM symbology identifiers, and what scanners and keyboards do to the text between label and page.

Source of the identifiers: ISO/IEC 15424, and GS1 General Specifications, figure 5.1.3-1. The stand-ins for control
characters are common practice of scanner settings, no source.

What one wedge scanner does is learned from two test symbols, and undone. It types what it reads; depending on its
settings it types other keys for GS, RS and EOT, or nothing, puts a code identifier in front (AIM's, or one letter of
its maker's), and ends in Enter, Tab or nothing (common practice, no source). The test symbols are a GS1-128 (GS1
General Specifications, 5.4) and a Data Matrix with an envelope of ISO/IEC 15434, whose contents are known: what stands
between and around the known parts is what the scanner does.
"""

import re
from dataclasses import dataclass
from enum import StrEnum
from urllib.parse import parse_qsl, urlencode

GS = "\x1d"
RS = "\x1e"
EOT = "\x04"

LONGEST_TEXT = 7_089
"""The most characters that one symbol holds: digits in a QR code, version 40-L (ISO/IEC 18004, table 7)."""

SYMBOLOGY_NAMES = {
    "A": "Code 39",
    "B": "Telepen",
    "C": "Code 128",
    "D": "Code One",
    "E": "EAN/UPC",
    "F": "Codabar",
    "G": "Code 93",
    "H": "Code 11",
    "I": "Interleaved 2 of 5",
    "J": "DotCode",
    "K": "Code 16K",
    "L": "PDF417",
    "M": "MSI",
    "N": "Anker",
    "O": "Codablock",
    "P": "Plessey",
    "Q": "QR code",
    "R": "Straight 2 of 5",
    "S": "Straight 2 of 5",
    "T": "Code 49",
    "U": "MaxiCode",
    "X": "other symbol",
    "Y": "system expansion",
    "Z": "no barcode",
    "c": "Channel Code",
    "d": "Data Matrix",
    "e": "GS1 DataBar or Composite",
    "o": "printed text",
    "p": "PosiCode",
    "s": "SuperCode",
    "z": "Aztec",
}

CODE_39_CHARACTERS = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ-. $/+%"
"""The characters of Code 39 in the order of their values (ISO/IEC 16388, table 1)."""

GS1_CARRIERS = frozenset({"]C1", "]e0", "]e1", "]e2", "]d2", "]d5", "]Q3", "]Q4", "]J1", "]z1", "]K1", "]T1"})
"""Identifiers that say: FNC1 stands first, so the data are GS1 element strings."""

_GS1_NAMES = {"]C1": "GS1-128", "]d2": "GS1 DataMatrix", "]Q3": "GS1 QR code", "]J1": "GS1 DotCode", "]I1": "ITF-14"}

_IDENTIFIER = re.compile(r"\][" + "".join(SYMBOLOGY_NAMES) + r"][0-9A-Za-z]")
_CODE_39_WITH_CHECK = frozenset({"]A1", "]A5"})
_ECI = re.compile(r"\\\d{6}", re.ASCII)
"""An extended channel interpretation as scanners send it, backslash and six digits (AIM ITS/04-001)."""
_FRAME = "\r\n\t\x02\x03\x00"

_STAND_INS = {
    GS: (r"\x1d", r"\u001d", r"\035", "<GS>", "{GS}", "[GS]", "<FNC1>", "{FNC1}", "[FNC1]", "<F8>", "{F8}", "[F8]"),
    RS: (r"\x1e", r"\u001e", r"\036", "<RS>", "{RS}", "[RS]", "^^", "\u241e"),
    EOT: (r"\x04", r"\u0004", r"\004", "<EOT>", "{EOT}", "[EOT]", "^D", "\u2404"),
}
_GS_ALSO = ("^]", "\u241d", "<0x1D>", "&#29;", "&#x1d;")
_MEANT = {form.casefold(): char for char, forms in _STAND_INS.items() for form in forms} | dict.fromkeys(
    (form.casefold() for form in _GS_ALSO), GS
)
_ANY_STAND_IN = re.compile("|".join(re.escape(form) for form in sorted(_MEANT, key=len, reverse=True)), re.IGNORECASE)


@dataclass(frozen=True)
class Scan:
    """What a scanner or a person sent, without its frame: ``symbology`` is the AIM identifier or empty."""

    symbology: str
    data: str

    @property
    def message(self) -> str:
        """The data without what the identifier says was added to them: ECI designators, a Code 39 check character."""
        if _ECI.match(self.data):
            return _ECI.sub("", self.data).replace("\\\\", "\\")
        if self.symbology in _CODE_39_WITH_CHECK and code39_check(self.data[:-1]) == self.data[-1:] != "":
            return self.data[:-1]
        return self.data

    @property
    def with_controls(self) -> str:
        """The message with GS, RS and EOT where a scanner sent letters instead of them."""
        return control_characters(self.message)


def plain_scan(text: str, symbology: str = "") -> Scan:
    r"""The text without prefix and suffix keys (STX, ETX, TAB, CR, LF) and with its AIM identifier split off.

    >>> plain_scan("]C100106141411234567897\r").symbology
    ']C1'
    """
    data = text.strip(_FRAME)
    found = _IDENTIFIER.match(data)
    if found and symbology in ("", found[0]):
        return Scan(found[0], data[3:])
    return Scan(symbology, data)


def control_characters(text: str) -> str:
    r"""The text with every usual stand-in for GS, RS and EOT replaced by the character.

    >>> control_characters("10AB{GS}21C")
    '10AB\x1d21C'
    """
    return _ANY_STAND_IN.sub(lambda found: _MEANT[found[0].casefold()], text)


def code39_check(text: str) -> str:
    """The modulo-43 check character of a Code 39 text (ISO/IEC 16388, annex A), or an empty text where none can be.

    >>> code39_check("159AZ")
    'H'
    """
    values = [CODE_39_CHARACTERS.find(char) for char in text]
    return "" if -1 in values else CODE_39_CHARACTERS[sum(values) % 43]


def symbology_words(symbology: str) -> str:
    """The name of a symbology as a person reads it; empty where there is no identifier.

    >>> symbology_words("]C1"), symbology_words("]A0")
    ('GS1-128', 'Code 39')
    """
    return _GS1_NAMES.get(symbology) or SYMBOLOGY_NAMES.get(symbology[1:2], "")


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
    linear, envelope = _around(gs1, _PARTS_GS1), _around(matrix, _PARTS_ENVELOPE)
    flaws = []
    if (gs1 and linear is None) or (matrix and envelope is None) or not (gs1 or matrix):
        flaws.append(ScannerFlaw.NOT_THE_SYMBOL)
    gs, rs, eot, end = _separators(linear, envelope)
    if envelope and not rs:
        flaws.append(ScannerFlaw.NO_RS)
    if (linear or envelope) and not gs:
        flaws.append(ScannerFlaw.NO_GS)
    typed = [text for text in (gs, rs, eot) if text]
    if len(set(typed)) < len(typed) or any(text.isalnum() for text in typed):
        flaws.append(ScannerFlaw.AMBIGUOUS)
    prefix, ids = _starts(linear, envelope)
    own = [_own(text, meant) for text, meant in ((gs, GS), (rs, RS), (eot, EOT))]
    return Learned(ScannerProfile(prefix, end, *own, *ids), tuple(flaws))


def _separators(linear: list[str] | None, envelope: list[str] | None) -> tuple[str, str, str, str]:
    """What was typed for GS, RS and EOT, and what ended the line; empty where no symbol shows it."""
    gs, end = (linear[1], linear[-1]) if linear else ("", "")
    if not envelope:
        return gs, "", "", end
    rs = envelope[1]
    # An envelope ends in RS, EOT and what ends every line: only the other symbol tells the last two apart.
    eot = envelope[-1].removeprefix(rs).removesuffix(end)
    return gs or envelope[2], rs, eot, end


def _starts(linear: list[str] | None, envelope: list[str] | None) -> tuple[str, list[str]]:
    """What every line begins with, and what the scanner types for the identifiers of the two symbols, unless AIM's."""
    before = [found[0] for found in (linear, envelope) if found]
    prefix = _common(before)
    ids = [found[0].removeprefix(prefix) if found else "" for found in (linear, envelope)]
    ids = ["" if _is_aim(text) else text for text in ids]
    if _is_aim(prefix):
        return "", ids
    # Of one symbol it cannot be told whether all lines begin so, or this symbology's alone.
    return prefix, ids if len(before) > 1 else ["", ""]


def _is_aim(start: str) -> bool:
    """True for an AIM symbology identifier, which every scan is searched for without a profile."""
    return bool(plain_scan(start + "0").symbology)


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
    """What all of these begin with; AIM identifiers differ after their first character, which is not a prefix."""
    if len(starts) < 2:
        return starts[0] if starts else ""
    same = 0
    while same < min(map(len, starts)) and starts[0][same] == starts[1][same]:
        same += 1
    return starts[0][:same].removesuffix("]")
