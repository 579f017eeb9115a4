"""GS1 data in its three written forms: element strings, text with bracketed AIs, and Digital Link URIs.

The table of application identifiers (AI) comes from biip; how the elements are cut apart does not, because biip
gives up at the first fault, splits an over-long value silently and reads digits that are not ASCII. What biip does
not know stands in `gs1_dictionary` and `gs1_values`.
Sources: GS1 General Specifications, sections 3 and 7.8; GS1 Digital Link Standard: URI Syntax 1.4, section 4.
"""

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING
from urllib.parse import unquote, unquote_plus

from receiving.messages import Text, message
from receiving.model import fault_of_sscc
from receiving.reading.gs1_rules import (
    LINK_KEYS,
    NOT_IN_LINK_QUERY,
    PREDEFINED_LENGTHS,
    excluded_with,
    required_with,
    value_fault,
)
from receiving.reading.symbology import GS

if TYPE_CHECKING:
    from biip.gs1_application_identifiers import GS1ApplicationIdentifier

Elements = tuple[tuple[str, str], ...]

_BRACKETED_AI = re.compile(r"(?<!\\)\((\d{2,4})\)", re.ASCII)
_WEB_ADDRESS = re.compile(r"https?://", re.IGNORECASE)
_NO_URI_CHARACTER = re.compile(r"[^!#$%&'()*+,/:;=?@\[\]0-9A-Za-z._~-]")
_AUTHORITY = re.compile(r"[0-9A-Za-z.:\[\]_-]+")
_GTIN_LENGTHS = (8, 12, 13)
_LONGEST_QUOTE = 80
_OLD_LINK_NAMES = {"gtin": "01", "sscc": "00", "cpv": "22", "lot": "10", "ser": "21", "gln": "414", "glnx": "254"}


@dataclass(frozen=True)
class Gs1Data:
    """The elements (AI, value) in label order, faulty ones too, and what is wrong, in sentences."""

    elements: Elements = ()
    faults: tuple[Text, ...] = ()

    def first(self, *ais: str) -> str:
        """The value of the first element with one of these AIs, or an empty text."""
        return next((value for wanted in ais for ai, value in self.elements if ai == wanted), "")

    @property
    def flat(self) -> str:
        """The elements as one text, without brackets and separators."""
        return "".join(ai + value for ai, value in self.elements)


def read_element_strings(text: str) -> Gs1Data:
    """Element strings as a symbol carries them: U+001D between those that need it, no symbology identifier.

    A fault ends the run up to the next separator; what stands behind it is still read.
    """
    elements: list[tuple[str, str]] = []
    faults: list[Text] = [] if text.strip(GS) else [message("There is no data after the FNC1: scan again.")]
    for run in text.split(GS):
        at = 0
        while at < len(run):
            ai = _ai_at(run[at : at + 4])
            if not ai:
                rest = repr(cut_short(run[at:]))
                faults.append(
                    message(
                        "{text} does not begin with an application identifier (AI); it was not understood.", text=rest
                    )
                )
                break
            length = PREDEFINED_LENGTHS.get(ai[:2], len(run))
            value = run[at + len(ai) : at + length]
            elements.append((ai, value))
            faults.extend(element_faults(ai, value))
            at += length
    return Gs1Data(tuple(elements), tuple(faults))


def read_bracketed(text: str) -> Gs1Data:
    """Text as it is printed under a symbol, ``(00)106141411234567897``; white space does not count."""
    parts = _BRACKETED_AI.split("".join(text.split()))
    faults: list[Text] = []
    if parts[0]:
        faults.append(message("{text} comes before the first (AI).", text=repr(parts[0])))
    elements = tuple((ai, value.replace("\\(", "(")) for ai, value in zip(parts[1::2], parts[2::2], strict=True))
    for ai, value in elements:
        if not _is_ai(ai):
            faults.append(_no_ai(ai))
        else:
            faults.extend(element_faults(ai, value))
    return Gs1Data(elements, tuple(faults) or (() if elements else (message("The text has no (AI)."),)))


def is_bracketed(text: str) -> bool:
    """True where the text begins with an AI in brackets."""
    return _BRACKETED_AI.match(text.lstrip()) is not None


def is_web_address(text: str) -> bool:
    """True where the text is an http or https address, which may be a Digital Link."""
    return _WEB_ADDRESS.match(text) is not None


def read_digital_link(uri: str) -> Gs1Data:
    """The elements of a Digital Link URI; one fault and no element where the address holds no GS1 key.

    GTINs without leading zeros and the short names of URI Syntax 1.1 (``/gtin/``) are read too.
    """
    address, _, _ = uri.partition("#")
    forbidden = _NO_URI_CHARACTER.search(address)
    if forbidden or not is_web_address(address):
        return Gs1Data(faults=(_no_web_address(cut_short(uri), forbidden[0] if forbidden else ""),))
    path, _, query = address.partition("?")
    authority, *segments = path.split("://", 1)[1].split("/")
    if not _AUTHORITY.fullmatch(authority):
        return Gs1Data(faults=(message("{uri} has no usable domain name.", uri=repr(cut_short(uri))),))
    at = _link_key_at(segments)
    if at is None:
        fault = message("{uri} does not hold a GS1 key: it is an ordinary web address.", uri=repr(cut_short(uri)))
        return Gs1Data(faults=(fault,))
    return _link_elements(segments[at:], query)


def pair_faults(elements: Iterable[tuple[str, str]]) -> tuple[Text, ...]:
    """What is wrong with these elements together: AIs that exclude or need one another, and repeats that differ.

    Give the elements of all symbols of one label: a logistic label may split them over several symbols.
    """
    found: dict[str, list[str]] = {}
    for ai, value in elements:
        found.setdefault(ai, []).append(value)
    return (*_repeat_faults(found), *_exclusion_faults(found), *_requirement_faults(found))


def contradictions(elements: Iterable[tuple[str, str]]) -> tuple[Text, ...]:
    """The faults of `pair_faults` that no other symbol of the label can cure."""
    found: dict[str, list[str]] = {}
    for ai, value in elements:
        found.setdefault(ai, []).append(value)
    return (*_repeat_faults(found), *_exclusion_faults(found))


def _repeat_faults(found: dict[str, list[str]]) -> Iterator[Text]:
    for ai, values in found.items():
        if len(set(values)) > 1:
            stated = cut_short(", ".join(dict.fromkeys(values)))
            yield message("AI ({ai}) appears more than once with different values: {values}.", ai=ai, values=stated)


def _exclusion_faults(found: dict[str, list[str]]) -> Iterator[Text]:
    words = set()
    for ai in found:
        for other in sorted(excluded_with(ai, found.keys())):
            if (other, ai) not in words:
                words.add((ai, other))
                yield message("AI ({ai}) and AI ({other}) may not be on the same label.", ai=ai, other=other)


def _requirement_faults(found: dict[str, list[str]]) -> Iterator[Text]:
    for ai in found:
        for wanted in required_with(ai, found.keys()):
            yield message("AI ({ai}) needs {others} on the same label.", ai=ai, others=wanted)


@lru_cache(maxsize=10_000)
def _identifier(head: str) -> "GS1ApplicationIdentifier | None":
    from biip import ParseError
    from biip.gs1_application_identifiers import GS1ApplicationIdentifier

    try:
        return GS1ApplicationIdentifier.extract(head)
    except ParseError:
        return None


def _ai_at(text: str) -> str:
    """The AI that the text begins with, or an empty text; no AI is the beginning of another one."""
    identifier = _identifier(text[:4]) if text[:2].isascii() else None
    return identifier.ai if identifier else ""


def _is_ai(text: str) -> bool:
    return bool(text) and _ai_at(text) == text


@lru_cache(maxsize=4096)
def element_faults(ai: str, value: str) -> tuple[Text, ...]:
    """What is wrong with the value of this AI, in sentences; the AI must be one that exists."""
    if ai == "00" and len(value) == 18:
        return sscc_faults(value)
    identifier = _identifier(ai)
    assert identifier is not None, ai
    named = f"AI ({ai}) {identifier.data_title}".rstrip()
    if not _form(identifier.pattern).fullmatch(ai + value):
        form = repr(cut_short(value)), identifier.format
        return (message("{ai}: {text} is not of the form {form}.", ai=named, text=form[0], form=form[1]),)
    fault = value_fault(ai, value)
    return (message("{ai}: {fault}.", ai=named, fault=fault),) if fault else ()


@lru_cache(maxsize=600)
def _form(pattern: str) -> re.Pattern[str]:
    return re.compile(pattern, re.ASCII)


def cut_short(text: str) -> str:
    """The text, cut where it is too long for a sentence; the raw read keeps all of it."""
    return text if len(text) <= _LONGEST_QUOTE else text[: _LONGEST_QUOTE - 1] + "…"


def sscc_faults(digits: str) -> tuple[Text, ...]:
    """Why these digits are not an SSCC, with the next step; empty where they are one."""
    fault = fault_of_sscc(digits)
    return (message("{fault}: retype or scan again.", fault=fault),) if fault else ()


def _no_ai(digits: str) -> Text:
    return message("({ai}) is not an application identifier (AI).", ai=digits)


def _no_web_address(text: str, forbidden: str) -> Text:
    if not forbidden:
        return message("{text} is not a web address.", text=repr(text))
    return message(
        "{text} is not a web address: {character} is not allowed in it.", text=repr(text), character=repr(forbidden)
    )


def _wrong_order(key: str, qualifiers: list[str]) -> Text:
    """That these do not follow this key, or not in this order."""
    named = f"({'), ('.join(qualifiers)})"
    return message("{ais} may not follow ({key}) in a Digital Link.", ais=named, key=key)


def _link_key_at(segments: list[str]) -> int | None:
    """Where the key stands: the rightmost one that leaves pairs behind it (URI Syntax, section 4.4)."""
    places = range(len(segments) - 2, -1, -2)
    return next((n for n in places if _OLD_LINK_NAMES.get(segments[n], segments[n]) in LINK_KEYS), None)


def _link_elements(segments: list[str], query: str) -> Gs1Data:
    names = [_OLD_LINK_NAMES.get(name, name) for name in segments[0::2]]
    values = [unquote(value) for value in segments[1::2]]
    key, qualifiers = names[0], names[1:]
    orders = [order for order in LINK_KEYS[key] if _stand_in_order(qualifiers, order)]
    faults = [] if orders else [_wrong_order(key, qualifiers)]
    elements = [(ai, value) for ai, value in zip(names, values, strict=True) if _is_ai(ai)]
    taken = NOT_IN_LINK_QUERY.union(names, *orders)
    for ai, value in _query_elements(query, faults):
        if ai in taken:
            faults.append(message("({ai}) may not follow the question mark of this Digital Link.", ai=ai))
        taken |= {ai}
        elements.append((ai, value))
    elements = [(ai, _full_gtin(ai, value)) for ai, value in elements]
    faults.extend(fault for ai, value in elements for fault in element_faults(ai, value))
    return Gs1Data(tuple(elements), tuple(dict.fromkeys(faults)))


def _query_elements(query: str, faults: list[Text]) -> Iterator[tuple[str, str]]:
    for part in re.split("[&;]", query):
        name, _, value = part.partition("=")
        if _is_ai(name):
            yield name, unquote_plus(value)
        elif name.isascii() and name.isdigit():
            faults.append(_no_ai(name))


def _stand_in_order(used: list[str], order: tuple[str, ...]) -> bool:
    places = [order.index(ai) if ai in order else -1 for ai in used]
    return -1 not in places and places == sorted(set(places))


def _full_gtin(ai: str, value: str) -> str:
    short = ai == "01" and len(value) in _GTIN_LENGTHS and value.isascii() and value.isdigit()
    return value.zfill(14) if short else value
