"""AIM symbology identifiers, and what scanners and keyboards do to the text between label and page.

Source of the identifiers: ISO/IEC 15424, and GS1 General Specifications, figure 5.1.3-1. The stand-ins for control
characters are common practice of scanner settings, no source.
"""

import re
from dataclasses import dataclass

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
