"""What a raw read claims about its carton. Total: any text gives a claim, and what is wrong stands in its warnings.

A label pattern is tried in the same way on a pasted example, before any shipment depends on it.
"""

import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from enum import IntEnum
from functools import lru_cache
from typing import Any

from receiving.errors import Fault, PatternFaults, words_of_error
from receiving.messages import Text, figure, message
from receiving.model import Address, Claim, LabelRead, RawRead, SizeClass, Source, Sscc, has_valid_check_digit
from receiving.reading import gs1, mh10
from receiving.reading.patterns import LabelPattern, groups_of, read_patterns, regex_fault
from receiving.reading.symbology import GS, GS1_CARRIERS, LONGEST_TEXT, Scan, plain_scan, symbology_words

_KEYBOARD_SPACES = str.maketrans("", "", " -\u00a0\u2009\u202f.")
_SSCC_WORD = re.compile(r"^\s*SSCC[\s:#.-]*(?=[0-9(])", re.IGNORECASE)
"""The word before an SSCC on its label, which people type with it."""
_TORN_PLACE = re.compile(r"[ ,;/-]+(?:COL|COLUMNA?|COLONNE|ROW|FILA|RANG(?:[EÉ]E)?)\b.*$", re.IGNORECASE)
"""What is left of column and row behind a section, where the label is torn."""
_LONGEST_NUMBER = 9
_SIZES = {
    **{size.value: size for size in SizeClass},
    "s": SizeClass.SMALL,
    "m": SizeClass.MEDIUM,
    "l": SizeClass.LARGE,
}
_KINDS = {"part": "parts", "tag": "tags", "instruction": "instructions"}


def interpret(raw: RawRead, patterns: Sequence[LabelPattern] = ()) -> LabelRead:
    """The raw read and what it claims; ``patterns`` are tried in order on plain texts and on the elements they name.

    Raises nothing, whatever the text. Time is linear in the text.
    """
    by_hand = raw.source is not Source.PHOTO
    return LabelRead(raw, claim_of(raw.raw, raw.symbology, by_hand=by_hand, patterns=patterns))


class PatternsTried(IntEnum):
    """What patterns may be tried on, of a label that was read."""

    NOTHING = 0
    ELEMENTS = 1
    TEXT = 2


def patterns_tried(claim: Claim) -> PatternsTried:
    """What other patterns may change of this claim; never less than they would.

    >>> patterns_tried(Claim(barcode="COL 3 ROW 2")).name, patterns_tried(Claim(elements=(("10", "LOT7"),))).name
    ('TEXT', 'ELEMENTS')
    """
    if claim.pattern or not (claim.sscc or claim.gtin or claim.elements or claim.warnings):
        return PatternsTried.TEXT
    return PatternsTried.ELEMENTS if claim.elements else PatternsTried.NOTHING


def claim_of(text: str, symbology: str = "", *, by_hand: bool = True, patterns: Sequence[LabelPattern] = ()) -> Claim:
    """What a text claims; ``by_hand``: it was typed or scanned, so 18 digits are meant as an SSCC."""
    return _claim(text, symbology, by_hand, tuple(patterns))


def label_warnings(claims: Iterable[Claim]) -> tuple[Text, ...]:
    """What is wrong with all symbols of one physical label together: AIs that need or exclude one another."""
    elements = [element for claim in claims for element in claim.elements if _is_gs1_element(element)]
    return gs1.pair_faults(elements)


@lru_cache(maxsize=8192)
def _claim(text: str, symbology: str, by_hand: bool, patterns: tuple[LabelPattern, ...]) -> Claim:
    if len(text) > LONGEST_TEXT:
        return Claim(warnings=(_too_long(len(text)),))
    scan = plain_scan(text, symbology)
    if by_hand and not scan.symbology:
        scan = replace(scan, data=_SSCC_WORD.sub("", scan.data))
    for kind in (_envelope, _web_address, _gs1_symbol, _retail, _bracketed, _unmarked_elements, _typed_sscc, _plate):
        claim = kind(scan, by_hand)
        if claim is not None:
            return _with_element_patterns(claim, scan, patterns)
    return _plain(scan, patterns)


def _too_long(number: int) -> Text:
    return message(
        "The text has {number} characters; no label carries more than {most}.",
        number=figure(number),
        most=figure(LONGEST_TEXT),
    )


def _envelope(scan: Scan, _: bool) -> Claim | None:
    data = scan.with_controls.lstrip(" ")
    if not mh10.is_envelope(data):
        return None
    envelope = mh10.read_envelope(data)
    claim = _from_elements(gs1.Gs1Data(envelope.gs1), barcode="")
    plate = mh10.licence_plate(envelope.fields)
    n, total = mh10.piece_of(envelope.fields) or (None, None)
    sscc = claim.sscc or mh10.plate_sscc(f"J{plate}")
    numbers = mh10.carton_numbers(envelope.fields)
    return replace(
        claim,
        sscc=sscc,
        barcode="" if sscc else claim.faulty_sscc or next(iter(numbers), data),
        numbers=numbers if sscc else numbers[1:],
        carton_n=n,
        carton_total=total,
        elements=envelope.fields,
        warnings=(*envelope.faults, *claim.warnings),
    )


def _web_address(scan: Scan, _: bool) -> Claim | None:
    text = scan.message.strip()
    if not gs1.is_web_address(text):
        return None
    link = gs1.read_digital_link(text)
    return _from_elements(link, barcode=text) if link.elements else Claim(barcode=text)


def _gs1_symbol(scan: Scan, _: bool) -> Claim | None:
    if scan.symbology not in GS1_CARRIERS:
        return None
    data = gs1.read_element_strings(scan.with_controls.strip())
    return _from_elements(data, barcode=scan.with_controls.replace(GS, "").strip())


def _retail(scan: Scan, _: bool) -> Claim | None:
    """EAN, UPC and ITF-14: the digits as they are, and the GTIN with 14 digits; an add-on is not part of it."""
    digits, _bar, composite = scan.message.strip().partition("|]e0")
    if scan.symbology == "]E3":
        digits = digits[:13]
    if scan.symbology in ("]E0", "]E3", "]E4"):
        return _retail_claim(digits, (8,) if scan.symbology == "]E4" else (12, 13), scan, composite)
    if scan.symbology in ("]I0", "]I1") and len(digits) == 14 and has_valid_check_digit(digits):
        return Claim(barcode=digits, gtin=digits)
    return None


def _retail_claim(digits: str, lengths: tuple[int, ...], scan: Scan, composite: str) -> Claim:
    claim = _from_elements(gs1.read_element_strings(composite), barcode=digits) if composite else Claim(barcode=digits)
    if len(digits) in lengths and has_valid_check_digit(digits):
        return replace(claim, barcode=digits, gtin=digits.zfill(14))
    wrong = message(
        "{symbology} {text} does not have {number} digits with a right check digit: scan again.",
        symbology=symbology_words(scan.symbology),
        text=repr(digits),
        number=lengths[-1],
    )
    return replace(claim, warnings=(*claim.warnings, wrong))


def _bracketed(scan: Scan, by_hand: bool) -> Claim | None:
    if not gs1.is_bracketed(scan.message):
        return None
    data = gs1.read_bracketed(scan.message)
    return _from_elements(data, barcode=data.flat) if by_hand or not data.faults else None


def _unmarked_elements(scan: Scan, by_hand: bool) -> Claim | None:
    """Element strings whose FNC1 was lost or never printed: they begin with a key that proves itself."""
    text = scan.with_controls.strip()
    digits = text.translate(_KEYBOARD_SPACES)
    typed = by_hand and not scan.symbology
    if typed and len(digits) == 20 and digits.startswith("00") and digits.isascii() and digits.isdigit():
        return _from_elements(gs1.read_element_strings(digits), barcode=digits)
    length = {"00": 20, "01": 16, "02": 16}.get(text[:2], 0)
    proven = bool(length) and len(text) >= length and has_valid_check_digit(text[2:length])
    if not proven and GS not in text:
        return None
    data = gs1.read_element_strings(text)
    return _from_elements(data, barcode=text.replace(GS, "")) if not data.faults else None


def _typed_sscc(scan: Scan, by_hand: bool) -> Claim | None:
    digits = scan.message.strip().translate(_KEYBOARD_SPACES)
    if len(digits) != 18 or not (digits.isascii() and digits.isdigit()):
        return None
    if by_hand and not scan.symbology:
        faults = gs1.sscc_faults(digits)
        return Claim(warnings=faults) if faults else Claim(sscc=Sscc(digits))
    return Claim(sscc=Sscc(digits), barcode=digits) if has_valid_check_digit(digits) else None


def _plate(scan: Scan, _: bool) -> Claim | None:
    text = scan.message.strip()
    sscc = mh10.plate_sscc(text)
    at = text.find("J") + 1
    return Claim(sscc=sscc, elements=((text[:at], text[at:]),)) if sscc else None


def _plain(scan: Scan, patterns: tuple[LabelPattern, ...]) -> Claim:
    text = scan.message.strip()
    claim = Claim()
    # A column alone says less than any pattern that finds its row as well.
    for pattern in sorted(patterns, key=lambda pattern: "column_alone" in pattern.regex):
        if claim.address is not None and "column_alone" in pattern.regex:
            continue
        if not pattern.element and pattern.symbology in ("", scan.symbology):
            claim = _with_groups(claim, pattern, text)
    return claim if claim.pattern else replace(claim, barcode=text)


def _with_element_patterns(claim: Claim, scan: Scan, patterns: tuple[LabelPattern, ...]) -> Claim:
    for pattern in patterns:
        if pattern.element and pattern.symbology in ("", scan.symbology):
            for identifier, value in claim.elements:
                if identifier == pattern.element:
                    claim = _with_groups(claim, pattern, value)
    return claim


def _from_elements(data: gs1.Gs1Data, *, barcode: str) -> Claim:
    """The claim of GS1 elements; ``barcode`` is what stands for them where they hold no SSCC."""
    digits = data.first("00")
    sscc = Sscc(digits) if digits and not gs1.sscc_faults(digits) else None
    gtin = next((value for value in (data.first("01"), data.first("02")) if _is_gtin(value)), "")
    warnings = (*data.faults, *gs1.contradictions(data.elements))
    return Claim(sscc=sscc, gtin=gtin, barcode="" if digits else barcode, elements=data.elements, warnings=warnings)


def _is_gtin(value: str) -> bool:
    return len(value) == 14 and has_valid_check_digit(value)


def _is_gs1_element(element: tuple[str, str]) -> bool:
    return element[0].isdigit()


def _with_groups(claim: Claim, pattern: LabelPattern, text: str) -> Claim:
    """The claim with what this pattern adds; what is claimed already stays as it is."""
    groups = groups_of(pattern, text)
    if groups is None:
        return claim
    values, warnings = _claimed(groups)
    added = {name: value for name, value in values.items() if not getattr(claim, name)}
    if not added and not warnings:
        return claim
    names = ", ".join(filter(None, (claim.pattern, pattern.name)))
    return _in_its_section(replace(claim, **added, pattern=names, warnings=(*claim.warnings, *warnings)))


def _in_its_section(claim: Claim) -> Claim:
    """The address with the section, where one pattern found the one and another pattern the other."""
    if claim.address is None or claim.address.section or not claim.section:
        return claim
    return replace(claim, address=replace(claim.address, section=claim.section))


def _claimed(groups: dict[str, str]) -> tuple[dict[str, Any], tuple[Text, ...]]:
    values: dict[str, Any] = {name: groups[name] for name in _TEXTS if name in groups}
    if "section" in values:
        values["section"] = _TORN_PLACE.sub("", values["section"]) or values["section"]
    values |= {name: True for name in ("open_first", "outer") if name in groups}
    warnings: list[Text] = []
    for makes, names in _MADE:
        if names[0] in groups:
            try:
                values |= makes(groups)
            except ValueError as wrong:
                warnings.append(message("{fault}.", fault=words_of_error(wrong)))
    return values, tuple(warnings)


_TEXTS = ("section", "carton", "shipment", "store", "barcode", "item")


def _address(groups: dict[str, str]) -> dict[str, Any]:
    column, row = _number("column", groups), _number("row", groups)
    return {"address": Address(groups.get("section", ""), column, row)}


def _carton_number(groups: dict[str, str]) -> dict[str, Any]:
    n = _number("carton_n", groups)
    total = _number("carton_total", groups) if "carton_total" in groups else None
    if n < 1 or (total is not None and n > total):
        raise ValueError(_impossible_number(n, total))
    return {"carton_n": n, "carton_total": total}


def _impossible_number(n: int, total: int | None) -> Text:
    if total is None:
        return message("there is no carton {number}: cartons count from 1", number=n)
    return message("there can be no carton {number} of {total}", number=n, total=total)


def _pattern_sscc(groups: dict[str, str]) -> dict[str, Any]:
    return {"sscc": Sscc(groups["sscc"].translate(_KEYBOARD_SPACES))}


def _kind(groups: dict[str, str]) -> dict[str, Any]:
    kind = "_".join(groups["kind"].casefold().split())
    return {"kind": _KINDS.get(kind, kind)}


def _size(groups: dict[str, str]) -> dict[str, Any]:
    stated = groups["size"].casefold()
    if stated not in _SIZES:
        raise ValueError(message("size {size} is not one of {sizes}", size=repr(stated), sizes=", ".join(_SIZES)))
    return {"size": _SIZES[stated]}


def _column_alone(groups: dict[str, str]) -> dict[str, Any]:
    column = _number("column_alone", groups)
    if column < 1:
        raise ValueError(message("column {column}: columns count from 1", column=column))
    return {"column": column}


_MADE: tuple[tuple[Callable[[dict[str, str]], dict[str, Any]], tuple[str, ...]], ...] = (
    (_address, ("column", "row")),
    (_column_alone, ("column_alone",)),
    (_carton_number, ("carton_n",)),
    (_pattern_sscc, ("sscc",)),
    (_kind, ("kind",)),
    (_size, ("size",)),
)


_NOT_NUMBERS = {
    "column": message("column {text} is not a number of at most {most} digits"),
    "column_alone": message("column {text} is not a number of at most {most} digits"),
    "row": message("row {text} is not a number of at most {most} digits"),
    "carton_n": message("carton number {text} is not a number of at most {most} digits"),
    "carton_total": message("the number of cartons {text} is not a number of at most {most} digits"),
}


def _number(name: str, groups: dict[str, str]) -> int:
    text = groups.get(name, "")
    if not re.fullmatch(r"[0-9]{1,9}", text):
        raise ValueError(_NOT_NUMBERS[name].filled(text=repr(text), most=_LONGEST_NUMBER))
    return int(text)


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
