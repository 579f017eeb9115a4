"""Our tokenizers against two kept libraries: pyx12 (X12) and pydifact (EDIFACT) cut the same text into the same parts.

The libraries are asked only what they can answer: pyx12 4.0 takes versions 00401 and 00501 with a padded ISA, and
pydifact 0.2 one segment at a time without line breaks.
"""

import io
from itertools import zip_longest
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from receiving.expected.edi import EdiLog, EdiSource
from receiving.expected.interchange import edifact_segments, x12_segments
from tests.expected.edi_messages import DESPATCH, STANDARD, edifact, x12

pyx12 = pytest.importorskip("pyx12.x12file", reason="the package pyx12 is not installed")
pydifact = pytest.importorskip("pydifact", reason="the package pydifact is not installed")
from pydifact.control.characters import Characters  # noqa: E402
from pydifact.parser import Parser  # noqa: E402
from pydifact.tokenizer import Tokenizer  # noqa: E402

SAMPLES = Path(__file__).parent / "data" / "edi"
TEXT = st.text("AZaz09 -.,/()&", min_size=1, max_size=12).map(str.strip).filter(bool)


def ours(text: str) -> list[list[list[str]]]:
    """Elements of every segment; empty ones at a segment's end are left out."""
    source, log = EdiSource(io.BytesIO(text.encode())), EdiLog("text")
    segments = x12_segments(source, log) if text.startswith("ISA") else edifact_segments(source, log)
    return [trimmed([list(parts) for parts in segment.elements]) for segment in segments]


def trimmed(elements: list[list[str]]) -> list[list[str]]:
    """Without what is empty at the end of an element or of the segment, which stands for nothing."""
    for parts in elements:
        while len(parts) > 1 and not parts[-1]:
            parts.pop()
    while elements and not any(elements[-1]):
        elements.pop()
    return elements


def by_pyx12(text: str) -> list[list[list[str]]]:
    reader = pyx12.X12Reader(io.StringIO(text))
    found = []
    for segment in reader:
        parts = [segment.get_seg_id(), *(":".join(e.value for e in part.elements) for part in segment.elements)]
        found.append(trimmed([[part] for part in parts]))
    return found


def by_pydifact(segment: str) -> list[list[str]]:
    tokens = Tokenizer().get_tokens(segment + "'", Characters(":", "+", ".", "?", " ", "'"))
    (found,) = Parser().convert_tokens_to_raw_segments(tokens)
    return trimmed([part if isinstance(part, list) else [part] for part in found])


@given(st.lists(st.lists(TEXT | st.just(""), min_size=1, max_size=6), max_size=5))
def test_x12_is_cut_as_pyx12_cuts_it(extra: list[list[str]]) -> None:
    more = tuple("*".join(["NTE", *parts]) for parts in extra)
    text = x12((*STANDARD, *more), component=":").decode()
    for here, there in zip_longest(ours(text)[1:], by_pyx12(text)[1:]):
        assert here == there


RELEASED = st.text("AZ09 ?+:'", min_size=1, max_size=10).map(str.strip).filter(bool)


@given(st.lists(st.lists(st.lists(RELEASED | st.just(""), min_size=1, max_size=4), min_size=1, max_size=5), min_size=1))
def test_edifact_is_cut_as_pydifact_cuts_it(segments: list[list[list[str]]]) -> None:
    def released(value: str) -> str:
        return "".join(f"?{sign}" if sign in "?+:'" else sign for sign in value)

    written = ["FTX+" + "+".join(":".join(map(released, parts)) for parts in segment) for segment in segments]
    text = "UNA:+.? '" + "'".join(written) + "'"
    for here, segment in zip_longest(ours(text), written):
        assert here == by_pydifact(segment)


def test_whole_messages_are_cut_alike() -> None:
    text = edifact(DESPATCH, una="", after="")
    for here, segment in zip_longest(ours(text), text.rstrip("'").split("'")):
        assert here == by_pydifact(segment)


@pytest.mark.parametrize("name", ["x12_861_full_x12types.edi", "x12_856_test_856_with_line_items_x12types.edi"])
def test_published_x12_is_cut_alike(name: str) -> None:
    text = (SAMPLES / name).read_text(encoding="utf-8")
    assert ours(text)[1:] == by_pyx12(text)[1:]
