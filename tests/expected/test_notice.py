"""Notices of every legal build, with a word of its own in every free place: used and listed are all, and none is lost.

The builds are those of ASC X12 856 (004010: BSN05 0001 shipment, order, packaging, item; 0002 shipment, order, item,
packaging; 0003 shipment, packaging, order, item) and of UN/EDIFACT DESADV D.01B (groups 10 to 22), drawn level by
level with the segments that the directories allow in each.

The check that all tests of this room run under, `conftest.everything_is_translatable`, can fail.
"""

import re
from collections.abc import Iterator

import pytest
from hypothesis import given
from hypothesis import strategies as st

from receiving.errors import Fault
from receiving.expected import NotUnderstood, read_manifests
from receiving.messages import Message, joined, message
from tests.expected.conftest import is_translatable
from tests.expected.edi_messages import edifact, sscc, x12
from tests.expected.edi_values import values_in_notices
from tests.expected.test_nothing_is_lost import lost

BUILDS = ("STPOI", "SOTPI", "SOPI", "SOIP", "SPOI", "SOI", "OI")
"""Levels from the top down, by their codes (element 735)."""

ALLOWED = {
    "S": ("TD1*CTN*#****G*9*LB", "TD5*B*2*?*M*?", "REF*BM*?", "REF*?Q*?", "DTM*011*20260301", "DTM*067*20260302",
          "N1*ST*?*92*?", "N1*SF*?*92*?", "N3*?*?", "N4*?*TX*?", "PER*IC*?*TE*?", "TD3*TL**?", "FOB*CC"),
    "O": ("PRF*?", "REF*DP*?", "REF*IA*?", "N1*BY*?*92*?", "N1*Z7**92*?", "PID*S**VI*?", "TD1*CTN*#"),
    "T": ("MAN*GM*@", "PO4*#*#*EA", "REF*LS*?", "PKG*F**?", "N1*Z7**92*?"),
    "P": ("MAN*GM*@", "MAN*CP*?", "MAN*GM*@**CP*?", "MAN*UC*?", "PO4*#*****12.5*LB***20*10*5*IN", "MEA*PD*G*#*KG",
          "REF*2I*?", "REF*97*?", "REF*CT*?", "YNQ**Y", "TD1*CTN25*#"),
    "I": ("LIN**VN*?*UP*?*PO*?", "LIN*#*SK*?*BO*?", "SN1**#*EA", "SN1**#*EA**#*EA", "PID*F****?", "PO4*#", "REF*LT*?",
          "MEA*PD*WT*#*LB", "CLD*#*#*CTN90", "SLN*1**I*#*EA", "DTM*036*20270101", "SDQ*EA*92*?*#", "MAN*GM*@",
          "N1*BY**92*?"),
}  # fmt: skip

GROUPS = {
    "head": ("DTM+11:20260301:102", "DTM+137:20260301:102", "RFF+ON:?", "RFF+?R:?", "NAD+DP+?::92", "NAD+SU+?::9++?",
             "LOC+7+?", "TDT+20++30++?", "CTA+IC+:?", "COM+?:TE", "ALI+DE++?", "TOD+3++?", "MEA+AAE+AAD+KGM:9"),
    "pack": ("PAC+#++CT", "PAC+1+:52+201::9", "MEA+PD+AAB+KGM:#", "MEA+PD+LN+MMT:600", "QTY+52:#", "HAN+?", "PCI+33E",
             "PCI+17+?", "RFF+AAT:?", "RFF+CW:?", "RFF+?P:?", "GIN+BJ+@", "GIN+AW+@+@", "GIN+ML+?", "GIN+VZ+?",
             "GIN+BX+?", "GIR+3+?:ML", "GIR+3+?:BN"),
    "line": ("LIN+#++?:SA", "LIN+#++?:SRV", "PIA+5+?:IN+?:CL", "PIA+1+?:NB", "IMD+F++:::?", "QTY+12:#:PCE", "QTY+21:#",
             "QVR+-1:21", "MEA+PD+AAA+KGM:#", "RFF+ON:?:1", "DTM+361:20270101:102", "FTX+AAI+++?", "LOC+7+?", "PCI+33E",
             "GIN+BJ+@", "GIN+BN+?", "ALI+DE", "MOA+146:#"),
}  # fmt: skip


class Filled:
    """Puts a new word, SSCC or number into each free place of a segment."""

    def __init__(self) -> None:
        self.count = iter(range(1, 10_000))

    def __call__(self, segment: str) -> str:
        def value(place: re.Match[str]) -> str:
            n = next(self.count)
            return {"?": f"QQ{n:04d}", "@": sscc(n), "#": str(n % 9 + 1)}[place[0]]

        return re.sub(r"[?@#]", value, segment)


@st.composite
def ship_notices(draw: st.DrawFn) -> str:
    """An X12 856 with one of the builds, one to three children at each level."""
    fill, segments = Filled(), [f"BSN*{draw(st.sampled_from(['00', '05']))}*WAVE*20260301*0800*0001"]
    build = draw(st.sampled_from(BUILDS))
    number = iter(range(1, 10_000))

    def level(depth: int, above: str) -> Iterator[str]:
        own = str(next(number))
        yield f"HL*{own}*{above}*{build[depth]}"
        for segment in draw(st.lists(st.sampled_from(ALLOWED[build[depth]]), max_size=5)):
            yield fill(segment)
        if depth + 1 < len(build):
            for _ in range(draw(st.integers(1, 2))):
                yield from level(depth + 1, own)

    segments += level(0, "")
    levels = sum(segment.startswith("HL*") for segment in segments)
    return x12((*segments, f"CTT*{levels}")).decode()


@st.composite
def despatch_advices(draw: st.DrawFn) -> str:
    """A DESADV with up to four packing levels, each in one before it, with packages and lines."""
    fill, segments = Filled(), ["BGM+351+WAVE+9"]
    segments += map(fill, draw(st.lists(st.sampled_from(GROUPS["head"]), max_size=6)))
    for number in range(1, draw(st.integers(1, 4)) + 1):
        above = draw(st.integers(0, number - 1))
        segments.append(f"CPS+{number}+{above}" if above else f"CPS+{number}")
        segments += map(fill, draw(st.lists(st.sampled_from(GROUPS["pack"]), max_size=6)))
        segments += map(fill, draw(st.lists(st.sampled_from(GROUPS["line"]), max_size=6)))
    return edifact(segments)


def check(text: str) -> None:
    found = read_manifests("notice", text.encode())
    assert found.used + found.listed + sum(left.values for left in found.unused) == values_in_notices(text)
    assert not lost(found, text)
    ids = [carton.carton for manifest in found for carton in manifest]
    assert len(ids) == len(set(ids)) or len(found.manifests) > 1


@given(ship_notices())
def test_every_value_of_a_ship_notice_is_used_or_listed(text: str) -> None:
    check(text)


def test_the_store_of_the_whole_shipment_is_listed_where_each_order_of_loads_names_its_own() -> None:
    shipment, order = ("HL*1**S", "N1*ST*QQ0001*92*QQ0002"), ("HL*2*1*O", "N1*BY*QQ0003*92*QQ0004")
    loads = ("HL*3*2*I", "LIN**VN*TRAY", "CLD*9*1*CTN90")
    text = x12(("BSN*00*WAVE*20260301*0800*0001", *shipment, *order, *loads, "CTT*3")).decode()
    check(text)
    (found,) = read_manifests("notice", text.encode()).manifests
    assert (found.store, len(found.cartons)) == ("QQ0004", 9)


@given(despatch_advices())
def test_every_value_of_a_despatch_advice_is_used_or_listed(text: str) -> None:
    check(text)


def test_a_bare_sentence_is_found() -> None:
    assert not is_translatable("this is not a message at all")
    assert not is_translatable(Message("{what}", (("what", "this is not a message at all"),)))
    assert not is_translatable(joined(message("said"), "this is not a message at all"))
    assert is_translatable(message("said of {what}", what="Oak 3"))


def test_a_fault_and_a_reason_in_bare_words_are_refused_while_these_tests_run() -> None:
    with pytest.raises(AssertionError, match="bare words"):
        Fault(1, 0, "this is not a message")
    with pytest.raises(AssertionError, match="bare words"):
        NotUnderstood(1, "LIN+1", "this is not a message")
    assert str(Fault(1, 0, message("this is one"))) == "line 1: this is one"
