"""Published GS1 vectors: how many agree, and every one that does not by name and with its reason.

Sources: GS1 Barcode Syntax Engine, commit 50657dbd, unit tests of ai.c, dl.c and scandata.c; GS1 Barcode Syntax
Dictionary, commit ff2eb4bf, unit tests of its linters (both Apache-2.0); and the answers of that engine, built
locally, to inputs made for this project.
"""

import json
import re
from collections import Counter
from pathlib import Path

import pytest

from receiving.model import mod10_check_digit
from receiving.reading.claims import claim_of
from receiving.reading.gs1 import (
    GS,
    Gs1Data,
    element_faults,
    pair_faults,
    read_bracketed,
    read_digital_link,
    read_element_strings,
)
from receiving.reading.gs1_rules import (
    CSET_82,
    ENTRIES,
    LINK_KEYS,
    NOT_IN_LINK_QUERY,
    PREDEFINED_LENGTHS,
    RULES,
    excluded_with,
    required_with,
    value_fault,
)
from receiving.reading.symbology import GS1_CARRIERS, plain_scan

CHECKS = Path(__file__).parent / "data"

COUPON = "coupon contents are not checked: no carton is identified by a coupon"
CODE_LIST = "membership in a code list is not checked: no carton is identified by it"
UNKNOWN_AI = "the engine was asked to let unknown AIs pass; here an unknown AI is always named"
SIGNATURE = "the rule that a digital signature needs a serialised key is not checked: no carton is identified by it"
SCHEME = "the scheme of a URI has no case (RFC 3986, section 3.1)"
OLD_NAME = "short names of Digital Link URI Syntax 1.1 are read: old labels carry them"
SHORT_GTIN = "GTINs without leading zeros are read: Digital Link URI Syntax 1.1 allowed them"
SPACES = "white space in bracketed text does not count: people type it as it is printed"
EMPTY_RUN = "a second FNC1 in front is tolerated: some scanners send FNC1 in first position as GS"
NO_FNC1 = "text without FNC1 is not a message of element strings here; a claim is built from it elsewhere"
TOO_LONG = "longer than the value of AI 8013 may be (25 characters), so it cannot stand on a label"

INTENDED = {
    r"\(811[02]\).*": COUPON,
    r"\((426|7030|4307|3910|7041)\).*": CODE_LIST,
    r".*[(?&]89.*": UNKNOWN_AI,
    r"\((253|255|8003)\)[0-9]{13,14}\(8030\)ABC123": SIGNATURE,
    r"HtTp://.*": SCHEME,
    r"https://[a-z0-9.]+/(gtin|sscc)/\d+": OLD_NAME,
    r"https://a/(01|8004/9520614141234567\?01)[/=]\d{8,13}": SHORT_GTIN,
    r"\(400\)PO 123": SPACES,
    r"\^\^00106141411234567897": EMPTY_RUN,
    r"00106141411234567897": NO_FNC1,
}


def vectors(name):
    return json.loads((CHECKS / name).read_text(encoding="utf-8"))["vectors"]


def why_intended(text):
    return next((why for form, why in INTENDED.items() if re.fullmatch(form, text, re.DOTALL)), None)


def read(kind, text):
    if kind == "bracketed":
        return read_bracketed(text)
    if kind in ("digital_link", "dl"):
        return read_digital_link(text)
    return read_element_strings(text[1:].replace("^", GS)) if text.startswith("^") else Gs1Data(faults=(NO_FNC1,))


def flat(unbracketed):
    return unbracketed.replace("^", "")


def disagreements(kind, rows, *, with_pairs):
    """(input, published, ours) of each disagreement: valid or not, and for valid ones the data itself."""
    for row in rows:
        data = read(kind, row["input"])
        faults = data.faults + (pair_faults(data.elements) if with_pairs(row) else ())
        wanted = row.get("expect_unbracketed") or row.get("unbracketed") or ""
        same = (not faults) == row["valid"]
        if row["valid"] and same and wanted.startswith("^"):
            same = data.flat == flat(wanted)
        if not same:
            yield row["input"]


@pytest.mark.parametrize(
    ("kind", "agree", "differ"),
    [
        ("bracketed", 141, {COUPON: 54, CODE_LIST: 4, UNKNOWN_AI: 1, SIGNATURE: 3}),
        ("unbracketed", 79, {}),
        ("digital_link", 110, {SCHEME: 1, OLD_NAME: 1, SHORT_GTIN: 5, UNKNOWN_AI: 1}),
    ],
)
def test_engine_vectors_agree_but_for_the_named_ones(kind, agree, differ):
    rows = [row for row in vectors("gs1_syntax_engine_vectors.json") if row["kind"] == kind]
    found = list(disagreements(kind, rows, with_pairs=lambda row: row["group"].startswith("validate")))
    assert [text for text in found if why_intended(text) is None] == []
    assert Counter(map(why_intended, found)) == differ
    assert len(rows) - len(found) == agree


@pytest.mark.parametrize(
    ("kind", "agree", "differ"),
    [
        ("bracketed", 58, {SPACES: 1, CODE_LIST: 1}),
        ("unbracketed", 10, {NO_FNC1: 1, EMPTY_RUN: 1}),
        ("dl", 6, {OLD_NAME: 1}),
    ],
)
def test_answers_of_the_engine_to_our_own_inputs_agree_but_for_the_named_ones(kind, agree, differ):
    rows = [row for row in vectors("gs1_engine_project_vectors.json") if row["kind"] == kind]
    found = list(disagreements(kind, rows, with_pairs=lambda row: True))
    assert [text for text in found if why_intended(text) is None] == []
    assert Counter(map(why_intended, found)) == differ
    assert len(rows) - len(found) == agree


# --- scan data -----------------------------------------------------------------------------------------------------

PLAIN_TEXT = "any text of a symbol is a claim (its barcode); only the engine calls it invalid"
NOT_GS1 = "the engine reads the symbologies of GS1 alone; here the others are read too"
UPC_A = "twelve digits with a right check digit are a UPC-A, which some scanners send without its leading zero"
SCAN_INTENDED = {
    "": PLAIN_TEXT,
    "ABC": PLAIN_TEXT,
    "]": PLAIN_TEXT,
    "]X": PLAIN_TEXT,
    "]XX": PLAIN_TEXT,
    "]Q1https://a/NOPRIMARYAI": PLAIN_TEXT,
    "]E0123456789012": UPC_A,
    "]C000106141411234567897": NOT_GS1,
    "]I109501101530003": NOT_GS1,
    "]C1\x1d00106141411234567897": EMPTY_RUN,
}


def scan_agrees(row):
    claim = claim_of(row["input"])
    if (not claim.warnings) != row["valid"]:
        return False
    scan = plain_scan(row["input"])
    wanted = row.get("expect_data") or row.get("unbracketed") or ""
    if scan.symbology in GS1_CARRIERS:
        return not row["valid"] or "".join(ai + value for ai, value in claim.elements) == flat(wanted)
    if scan.symbology.startswith("]E"):
        digits, _, composite = wanted.partition("|")
        return not row["valid"] or (claim.barcode, "".join(map("".join, claim.elements))) == (digits, flat(composite))
    return not row["valid"] or bool(claim.elements) or claim.barcode == scan.data


@pytest.mark.parametrize(
    ("name", "kind", "agree", "differ"),
    [
        ("gs1_syntax_engine_vectors.json", "scan_data", 47, {PLAIN_TEXT: 6, UPC_A: 1}),
        ("gs1_engine_project_vectors.json", "scan", 14, {NOT_GS1: 2, EMPTY_RUN: 1}),
    ],
)
def test_scan_data_agree_but_for_the_named_ones(name, kind, agree, differ):
    rows = [row for row in vectors(name) if row["kind"] == kind]
    found = [row["input"] for row in rows if not scan_agrees(row)]
    assert [text for text in found if text not in SCAN_INTENDED] == []
    assert Counter(SCAN_INTENDED[text] for text in found) == differ
    assert len(rows) - len(found) == agree


def test_check_digit_vectors_agree():
    rows = [row for row in vectors("gs1_syntax_engine_vectors.json") if row["kind"] == "check_digit"]
    assert len(rows) == 8
    for row in rows:
        digits = row["input"]
        assert (mod10_check_digit(digits[:-1]) == digits[-1]) == row["valid"], row


# --- linters -------------------------------------------------------------------------------------------------------

CHARACTER_SETS = {
    "cset82": lambda text: all(char in CSET_82 for char in text),
    "cset39": lambda text: not element_faults("8010", "12345" + text[:25]),
    "csetnumeric": lambda text: not text or not element_faults("3920", text),
}


def test_linter_vectors_agree_but_for_the_named_ones():
    rows = vectors("gs1_linter_vectors.json")
    counted, found = Counter(), Counter()
    for row in rows:
        name, text = row["linter"], row["input"]
        holds = CHARACTER_SETS.get(name) or (RULES[name][0] if name in RULES else None)
        if holds is None:
            counted[CODE_LIST] += 1
        elif holds(text) == row["valid"]:
            counted["agree"] += 1
        else:
            counted["differ"] += 1
            found[TOO_LONG if name == "csumalpha" and len(text) > 25 else (name, text)] += 1
    assert found == {TOO_LONG: 2}
    assert counted == {"agree": len(rows) - 442 - 2, "differ": 2, CODE_LIST: 442}


def test_the_dictionary_agrees_with_the_table_of_another_publisher():
    """biip's table comes from the list of AIs on the pages of GS1, not from the dictionary."""
    from biip.gs1_application_identifiers import _GS1_APPLICATION_IDENTIFIERS as PAGES

    pages = dict(PAGES)
    assert set(pages) == set(ENTRIES)
    assert {ai for ai, entry in ENTRIES.items() if entry.length} == {
        ai for ai in pages if not pages[ai].separator_required
    }
    lengths = {ai: entry.components[-1].end for ai, entry in ENTRIES.items()}
    assert {ai for ai in pages if longest(pages[ai].format) != lengths[ai]} == OTHER_NOTATION


OTHER_NOTATION = {"4330", "4331", "4332", "4333", "8043"}
"""The pages write what may follow as ``[-]`` and ``[N1..N2]``, without its length."""


def longest(form):
    """The most characters of a value, of a form as ``N4+N13[+X..17]``, which begins with the AI itself."""
    return sum(map(int, re.findall(r"[NXYZ](?:\.\.)?(\d+)", form.partition("+")[2])))


FIGURE = (
    {"00": 20, "01": 16, "02": 16, "03": 16, "04": 18, "20": 4, "41": 16}
    | {f"1{n}": 8 for n in range(1, 10)}
    | {f"3{n}": 10 for n in range(1, 7)}
)
"""GS1 General Specifications, figure 7.8.5-2: the first two digits and the characters of AI and value together."""


def test_lengths_that_need_no_separator_are_those_of_the_general_specifications():
    no_ai_yet = {"04", "14", "18", "19"}
    assert {head: length for head, length in FIGURE.items() if head not in no_ai_yet} == PREDEFINED_LENGTHS


def test_pairs_are_those_of_the_general_specifications():
    """Examples of section 4.13, and of the keys in Digital Link URI Syntax, section 4.4."""
    assert [*map(str, required_with("02", {"02"}))] == ["(37)"]
    assert [*map(str, required_with("37", {"37", "00"}))] == ["(00) with (02) or (00) with (8026)"]
    assert list(required_with("37", {"37", "00", "02"})) == []
    assert list(required_with("8030", {"8030", "01"}))
    assert excluded_with("01", {"01", "37", "10"}) == {"37"}
    assert excluded_with("3102", {"3102", "3103", "3202"}) == {"3103"}
    assert LINK_KEYS["01"] == (("22", "10", "21"), ("235",))
    assert LINK_KEYS["00"] == ((),)
    assert {"21", "22", "235", "254", "8019"} < NOT_IN_LINK_QUERY
    assert not {"17", "37", "400"} & NOT_IN_LINK_QUERY


def test_every_rule_of_the_dictionary_is_kept_or_named_as_left_out():
    rules = {name for entry in ENTRIES.values() for part in entry.components for name in part.rules}
    left_out = {"couponcode", "couponposoffer", "mediatype", "packagetype"}
    left_out |= {"iso3166", "iso3166999", "iso3166alpha2", "iso4217"}
    assert rules - set(RULES) == left_out
    assert set(RULES) <= rules


def test_a_value_without_a_rule_is_never_at_fault():
    assert value_fault("10", "anything") == ""


# --- what the engine writes, read back ------------------------------------------------------------------------------

SHORT_CPID = "biip's table asks of AI 8010 at least five characters, as its own published pattern does"
LATIN = "a byte beyond ASCII is not UTF-8 and no character of an AI value: it is named as a fault in either reading"


def test_every_digital_link_that_the_engine_writes_reads_back_to_the_same_elements():
    rows = [r for r in vectors("gs1_syntax_engine_vectors.json") if r["kind"] == "generate_digital_link" and r["valid"]]
    assert len(rows) == 16
    differ = Counter()
    for row in rows:
        link, wanted = read_digital_link(row["expect_uri"]), dict(read_bracketed(row["input"]).elements)
        unknown = wanted.pop("89", None)
        assert dict(link.elements) == wanted, row
        if link.faults:
            differ[UNKNOWN_AI if unknown else SHORT_CPID if "8010" in wanted else row["input"]] += 1
    assert differ == {UNKNOWN_AI: 1, SHORT_CPID: 1}


BRACKETED = {
    "011231231231233310ABC123\x1d99TESTING": "(01)12312312312333(10)ABC123(99)TESTING",
    "011231231231233310ABC123\x1d99TESTING\x1d": "(01)12312312312333(10)ABC123(99)TESTING",
    "011231231231233310ABC123\x1d99TESTING\x1d98COMPOSITE\x1d97XYZ": "(01)12312312312333(10)A(99)T(98)C(97)X",
    "011231231231233310ABC123\x1d1199122598COMPOSITE\x1d97XYZ": "(01)12312312312333(10)A(11)991225(98)C(97)X",
    "012401234567890599COMPOSITE\x1d98XYZ": "(01)24012345678905(99)C(98)X",
    "011501234567890799COMPOSITE\x1d98XYZ": "(01)15012345678907(99)C(98)X",
}


def test_every_scan_that_the_engine_writes_reads_back_to_the_same_data():
    rows = [r for r in vectors("gs1_syntax_engine_vectors.json") if r["kind"] == "generate_scan_data" and r["valid"]]
    assert len(rows) == 35
    for row in rows:
        scan = row["expect_scan"]
        claim = claim_of(scan)
        assert claim.warnings == (), row
        if scan[:3] in GS1_CARRIERS:
            assert "".join(ai + value for ai, value in claim.elements) == scan[3:].replace(GS, "")
            assert len(claim.elements) == len(read_bracketed(BRACKETED[scan[3:]]).elements)
        elif scan.startswith("]E"):
            assert claim.gtin.endswith(scan[3:].partition("|")[0])
        else:
            assert claim.barcode == scan[3:]


def test_percent_encoding_agrees_but_for_bytes_beyond_ascii():
    """The values of a Digital Link are taken as the engine takes them, in the path and behind the question mark."""
    rows = [row for row in vectors("gs1_syntax_engine_vectors.json") if row["kind"] == "uri_unescape"]
    assert len(rows) == 21
    differ = Counter()
    for row in rows:
        link = read_digital_link(f"https://a/01/12312312312333/10/{row['input']}?99={row['input']}")
        if (link.first("10"), link.first("99")) != (row["expect_path"], row["expect_query"]):
            assert link.faults
            differ[LATIN if "ÿ" in row["expect_path"] else row["input"]] += 1
    assert differ == {LATIN: 4}
