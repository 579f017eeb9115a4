"""Label patterns: files, faults, limits, and trying one on an example."""

import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from receiving.errors import PatternFaults
from receiving.model import Address
from receiving.model.hidden_characters import find_hidden_character
from receiving.reading.claims import try_pattern
from receiving.reading.patterns import (
    GROUPS,
    LONGEST_REGEX,
    LabelPattern,
    default_patterns,
    groups_of,
    read_patterns,
    regex_fault,
    write_patterns,
)

PLACE = LabelPattern("place", r"BAY (?P<section>\w+)-(?P<column>\d+)-(?P<row>\d+)", example="BAY A-3-2")


def faults_of(text):
    with pytest.raises(PatternFaults) as caught:
        read_patterns("patterns.toml", text if isinstance(text, bytes) else text.encode())
    return [str(fault) for fault in caught.value.faults]


def test_what_is_written_reads_back_equal():
    patterns = (
        PLACE,
        LabelPattern('it\'s "odd"', "'(?P<carton>.+)'", anywhere=True, element="91", symbology="]C1"),
        *default_patterns(),
    )
    assert read_patterns("p", write_patterns(patterns).encode()) == patterns


@given(st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=30))
def test_any_name_survives_writing_unless_it_reads_other_than_it_is(name):
    pattern = LabelPattern(name, "(?P<carton>.)", element=name)
    written = write_patterns([pattern]).encode()
    if find_hidden_character(name, lines=False) is None:
        assert read_patterns("p", written) == (pattern,)
    else:
        assert any("(name): character" in fault for fault in faults_of(written))


def test_the_patterns_of_the_package_each_match_their_example():
    for pattern in default_patterns():
        assert pattern.example
        assert groups_of(pattern, pattern.example), pattern.name


def test_all_faults_of_a_file_are_named_at_once_with_the_line_of_their_table():
    text = """
[[pattern]]
name = "a"
regex = '(?P<colum>\\d+)'

[[pattern]]
name = "b"
regex = '(?P<carton>X'
colour = "red"

[[pattern]]
regex = 7

[[pattern]]
name = "c"
regex = '(?P<carton>X)'
example = "Y"
"""
    assert faults_of(text) == [
        f"line 2 (regex): the group 'colum' is not known: use {', '.join(GROUPS)}",
        "line 6 (colour): 'colour' is not known: use name, regex, anywhere, element, symbology, example",
        "line 6 (regex): the regex is not understood (missing ): (?P<carton>X); there is no look-around and no "
        "back-reference",
        "line 11 (regex): 7 is not a text",
        "line 11 (name): 'name' is missing",
        "line 14 (example): the regex does not match the example 'Y'",
    ]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (b"\xff", "byte 1 is not UTF-8: save the file as UTF-8"),
        ("[[pattern]", "this is not TOML: "),
        ("a = " + "[" * 5000, "this is not TOML: "),
        ("layout = 1", "'layout' is not known: the file holds [[pattern]] tables only"),
        ("pattern = 1", "'pattern' must be written as [[pattern]] tables"),
        (b" " * 300_000, "the file has 300,000 bytes: at most 262,144"),
        ("[[pattern]]\n" * 201, "the file has 201 patterns: at most 200"),
        (
            "[[pattern]]\nname='a'\nregex='(?P<carton>.)'\n[[pattern]]\nname='a'\nregex='(?P<carton>.)'",
            "line 4 (name): the name 'a' is on two patterns",
        ),
    ],
)
def test_a_file_that_is_no_pattern_file_says_what_it_is(text, words):
    (fault,) = faults_of(text)
    assert fault.startswith(words)


@pytest.mark.parametrize(
    ("regex", "words"),
    [
        ("", "the regex is empty"),
        ("COL", "the regex has no named group"),
        (r"(?P<column>\d+)", "the regex has the group 'column' and lacks 'row'"),
        (r"(?P<carton_total>\d+)", "the regex has the group 'carton_total' and lacks 'carton_n'"),
        (r"(?P<carton>a)|(?P<carton>b)", "the group 'carton' appears twice"),
        (r"(?P<carton>a)\1", "the regex is not understood"),
        (r"(?=a)(?P<carton>a)", "the regex is not understood"),
        (r"(?P<carton>a{5000})", "the regex is not understood"),
        ("(?P<carton>\ud800)", "the regex holds half a character"),
        ("a" * (LONGEST_REGEX + 1), "the regex has 1,001 characters"),
    ],
)
def test_an_expression_that_cannot_be_used_says_why(regex, words):
    assert str(regex_fault(regex)).startswith(words)
    with pytest.raises(ValueError, match="pattern 'x': "):
        LabelPattern("x", regex)


@pytest.mark.parametrize(
    "regex", [r"(?P<carton>(a+)+)$", r"(?P<carton>(a|a)*)b", r"(?P<carton>(.*)*x)", r"(?P<carton>(a?){50}a{50})"]
)
def test_expressions_that_hang_a_backtracking_engine_are_answered(regex):
    """Each takes more than 2 to the power of 50 steps by backtracking, so that an answer at all is the proof."""
    assert groups_of(LabelPattern("x", regex), "a" * 7000 + "!") is None


def test_trying_a_bare_expression_shows_what_it_takes():
    trial = try_pattern(PLACE.regex, "BAY A-3-2")
    assert trial.groups == (("pattern", "section", "A"), ("pattern", "column", "3"), ("pattern", "row", "2"))
    assert trial.claim.address == Address("A", 3, 2)
    assert trial.matched


def test_trying_a_file_shows_what_each_pattern_takes_and_which_are_silent():
    other = LabelPattern("lot", "(?P<carton>.+)", element="10")
    trial = try_pattern(write_patterns([PLACE, other]), "]C1010952012345678810L7")
    assert trial.groups == (("lot", "carton", "L7"),)
    assert trial.silent == ("place",)
    assert trial.claim.carton == "L7"


def test_trying_a_wrong_expression_gives_its_fault():
    assert [str(fault) for fault in try_pattern("(?P<carton>X", "X").faults] == [
        "line 1 (regex): the regex is not understood (missing ): (?P<carton>X); there is no look-around and no "
        "back-reference"
    ]


@given(st.text(max_size=30), st.text(max_size=30))
def test_trying_raises_nothing(pattern, example):
    trial = try_pattern(pattern, example)
    assert trial.faults or trial.groups or trial.silent


@given(
    st.one_of(
        st.binary(max_size=60),
        st.lists(st.sampled_from(["[[pattern]]\n", "name=", "regex=", "'(?P<row>.)'", '"', "\n", "[", "=", "1"])).map(
            lambda p: "".join(p).encode()
        ),
    )
)
def test_any_file_is_read_or_refused_with_faults(data):
    try:
        patterns = read_patterns("any", data)
    except PatternFaults as caught:
        assert caught.faults
    else:
        assert len(patterns) == len(tomllib.loads(data.decode("utf-8-sig")).get("pattern", []))
