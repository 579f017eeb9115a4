"""Envelopes of X12 against an independent reader (package ansi-x12 0.2): both find fault with the same files.

ansi-x12 stops at the first fault of ISA/IEA, GS/GE, ST/SE; ours warns and reads on. So its refusal must go with a
warning at an envelope segment, and its acceptance with none.
"""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from receiving.expected import read_manifests
from tests.expected.edi_messages import STANDARD, x12

second = pytest.importorskip("x12", reason="the package ansi-x12 is not installed")

ENVELOPE = ("ISA", "GS", "ST", "SE", "GE", "IEA", "end")
SAMPLES = Path(__file__).parent / "data" / "edi"


def refused_by_second(data: bytes) -> bool:
    try:
        second.parse_x12_interchange(second.tokenize_x12(data))
    except second.X12Error:
        return True
    return False


def warned_by_us(data: bytes) -> bool:
    return any(warning.field in ENVELOPE for warning in read_manifests("n.x12", data).warnings)


GOOD = x12(STANDARD, STANDARD).decode()
TRAILERS = [segment for segment in GOOD.split("~\n") if segment[:2] in ("SE", "GE", "IE")]


def test_a_right_envelope_is_right_to_both() -> None:
    assert not refused_by_second(GOOD.encode())
    assert not warned_by_us(GOOD.encode())


@given(st.sampled_from(TRAILERS), st.integers(1, 2), st.integers(0, 99))
def test_a_changed_trailer_is_judged_alike(trailer: str, element: int, value: int) -> None:
    parts = trailer.split("*")
    parts[element] = f"{value:0{len(parts[element])}d}"
    data = GOOD.replace(trailer, "*".join(parts)).encode()
    assert warned_by_us(data) == refused_by_second(data)


@given(st.sampled_from(TRAILERS))
def test_a_missing_trailer_is_judged_alike(trailer: str) -> None:
    data = GOOD.replace(f"{trailer}~\n", "").encode()
    assert warned_by_us(data)
    assert refused_by_second(data)


def test_published_samples_are_judged_alike() -> None:
    files = sorted(SAMPLES.glob("x12_856_*.edi"))
    assert len(files) == 4
    for file in files:
        whole = file.read_bytes().rstrip() + (b"\n" if b"~" not in file.read_bytes() else b"")
        assert (warned_by_us(file.read_bytes()), file.name) == (refused_by_second(whole), file.name)
