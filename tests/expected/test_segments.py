"""X12 and EDIFACT cut into segments: whatever the blocks in which a file comes, its signs, and how it ends."""

import io

import pytest

from receiving.errors import ManifestFaults
from receiving.expected import edi, notice, read_manifests
from receiving.expected.edi import EdiLog, EdiSource, Segment
from receiving.expected.interchange import edifact_segments, x12_segments
from tests.expected.approved_notices import CASES, approved
from tests.expected.edi_messages import DESPATCH, STANDARD, edifact, isa, x12
from tests.expected.test_x12_values import notes, read


def test_the_limits_are_those_that_were_chosen() -> None:
    assert (edi.BLOCK_BYTES, edi.MAX_SEGMENT, edi.DEEPEST) == (65_536, 1_000_000, 40)
    assert (edi.MOST_IN_NOTICE, edi.MOST_OF_PACKAGE) == (100_000, 2_000)
    assert (edi._LONGEST_QUOTE, edi._MOST_KINDS, edi._MOST_DETAILS, edi._MOST_EXAMPLES) == (200, 100, 20, 3)
    assert (notice.MOST, notice.MOST_IN_FILE, notice.MOST_UNNUMBERED) == (10_000, 100_000, 1_000)


def test_a_notice_and_a_package_may_hold_as_much_as_their_limits() -> None:
    log = EdiLog("n")
    edi.check_notice_size(edi.MOST_IN_NOTICE, log, 1, "HL")
    edi.check_package_size(edi.MOST_OF_PACKAGE, log, 1, "REF")
    with pytest.raises(ManifestFaults):
        edi.check_notice_size(edi.MOST_IN_NOTICE + 1, log, 1, "HL")
    with pytest.raises(ManifestFaults):
        edi.check_package_size(edi.MOST_OF_PACKAGE + 1, log, 1, "REF")


def segments(text: str) -> tuple[list[Segment], EdiLog]:
    source, log = EdiSource(io.BytesIO(text.encode())), EdiLog("text")
    found = list(x12_segments(source, log) if "ISA" in text[:300] else edifact_segments(source, log))
    log.close()
    return found, log


def shown(text: str) -> tuple[list[tuple[int, list[list[str]]]], list[str]]:
    found, log = segments(text)
    return [(each.number, [list(parts) for parts in each.elements]) for each in found], list(map(str, log.warnings))


WHOLE = {
    "x12": x12(STANDARD, STANDARD).decode(),
    "x12 with lines": x12(STANDARD, terminator="\n", after="").decode(),
    "two interchanges, something between": x12(STANDARD).decode() + " between * them\n" + x12(STANDARD).decode(),
    "desadv": edifact(DESPATCH, DESPATCH),
    "five signs": edifact(DESPATCH, una="UNA:+.?'"),
    "released": edifact((*DESPATCH, "FTX+AAI+++a?'b?+c?:d??'e")),
    "two with signs of their own": edifact(DESPATCH) + edifact(DESPATCH, una="UNA:+,?*'"),
}


@pytest.mark.parametrize("size", [1, 2, 7, 50, 105, 106, 107, 300])
@pytest.mark.parametrize("name", WHOLE)
def test_the_blocks_in_which_a_file_comes_change_nothing(name: str, size: int, monkeypatch: pytest.MonkeyPatch) -> None:
    whole = shown(WHOLE[name])
    monkeypatch.setattr(edi, "BLOCK_BYTES", size)
    assert shown(WHOLE[name]) == whole


@pytest.mark.parametrize("name", list(CASES)[::6])
def test_a_broken_notice_in_small_blocks_says_the_same(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    whole = approved(name)
    monkeypatch.setattr(edi, "BLOCK_BYTES", 11)
    assert approved(name) == whole


def test_the_header_has_its_sixteen_elements_and_nothing_of_what_follows() -> None:
    (head, second, *_), _ = segments(x12(STANDARD).decode())
    assert [value for (value,) in head.elements] == isa().rstrip("~").split("*")
    assert (len(head.elements), head.at(13), head.at(16)) == (17, "000000001", ">")
    assert (second.number, second.tag, second.at(1)) == (2, "GS", "SH")


# --- how a file ends -----------------------------------------------------------------------------------------------


LONG = "MEA*PD*G*" + "1" * 60


@pytest.mark.parametrize(
    ("text", "last", "quoted"),
    [
        (isa() + "ST*856*1", "end", "'ST*856*1'"),
        (isa() + LONG, "end", repr(LONG[:40])),
        ("UNB+UNOC:3'UNH+1'BGM+351", "BGM", "'BGM+351'"),
        ("UNB+UNOC:3'UNH+1'" + LONG.replace("*", "+"), "MEA", repr(LONG.replace("*", "+")[:40])),
    ],
)
def test_a_last_segment_without_a_terminator_is_kept_and_quoted(text: str, last: str, quoted: str) -> None:
    found, warnings = shown(text)
    assert found[-1][1][0] == [quoted[1:4].rstrip("*+")]
    (said,) = [each for each in warnings if "without a terminator" in each]
    assert said == (
        f"segment {found[-1][0]} ({last}): the file ends without a terminator; it may be cut off: ask for it again: "
        f"the last segment is {quoted}"
    )


@pytest.mark.parametrize("text", [isa(terminator="\n") + "ST*856*1", x12(STANDARD).decode(), edifact(DESPATCH)])
def test_a_file_that_ends_as_its_kind_does_is_not_called_cut_off(text: str) -> None:
    assert not [said for said in shown(text)[1] if "without a terminator" in said]


# --- service characters --------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "una",
    [
        "UNAx+.? '",  # a letter for the components
        "UNA:x.? '",
        "UNA:+.? x",
        "UNA:+.?",  # cut off
        "UNA::.? '",  # one for both
        "UNA:+.: '",
        "UNA:+.+ '",
        "UNA:+.? +",
    ],
)
def test_service_characters_that_cannot_tell_elements_apart_are_refused(una: str) -> None:
    with pytest.raises(ManifestFaults, match="which cannot tell elements apart") as refused:
        segments(una)
    assert refused.value.faults[0].line == 1


@pytest.mark.parametrize(
    ("una", "release"),
    [("UNA:+.? '", "?"), ("UNA:+,? '", "?"), ("UNA:+ ? '", "?"), ("UNA:+.  '", ""), ("UNA*|.# ~", "#")],
)
def test_any_other_service_characters_are_used(una: str, release: str) -> None:
    component, element, end = una[3], una[4], una[8]
    text = f"{una}FTX{element}a{component}b{release}{end}c{end}".replace(f"b{end}c", "bc")
    (found,), warnings = shown(text)
    assert found == (1, [["FTX"], ["a", f"b{end}c" if release else "bc"]])
    assert warnings == []


@pytest.mark.parametrize(("number", "goes_on"), [(0, False), (1, True), (2, False), (3, True), (4, False)])
def test_a_terminator_behind_an_odd_number_of_release_characters_is_text(number: int, goes_on: bool) -> None:
    found, _ = shown(f"FTX+a{'?' * number}'BGM'")
    kept = "a" + "?" * (number // 2)
    assert found == ([(1, [["FTX"], [f"{kept}'BGM"]])] if goes_on else [(1, [["FTX"], [kept]]), (2, [["BGM"]])])


# --- what a level or a reference is worth where it stands ----------------------------------------------------------


def test_a_pack_without_a_parent_is_not_inside_the_pack_before_it() -> None:
    packs = [part for n in (2, 3) for part in (f"HL*{n}**P", f"MAN*CP*BOX-{n}")]
    found = read(*packs)
    assert [(carton.carton, carton.outer) for carton in found.manifests[0]] == [("BOX-2", ""), ("BOX-3", "")]
    assert "HL '2' of kind 'P' names no parent, HL '3' of kind 'P' names no parent" in notes(found)


def test_an_order_number_before_any_level_and_a_reference_without_a_value_are_named_as_left_out() -> None:
    first = read_manifests("n.x12", x12(("BSN*00*W*20260301*0800", "PRF*PO-1", *STANDARD[1:])))
    assert "PRF: 1 not used (PO-1)" in notes(first)
    bare = read("HL*2*1*O", "REF*DP", "HL*3*2*P", "MAN*CP*1")
    assert "REF: 1 not used (DP)" in notes(bare)


def test_a_lost_terminator_is_said_with_forty_characters_of_the_segment_before_it() -> None:
    text = f"UNB+UNOC:3'UNH+1'FTX+AAI+++{'x' * 60}\nBGM+351'"
    _, warnings = shown(text)
    assert warnings[0] == (
        f'segment 3 (FTX): a line break stands where the terminator "\'" should: after {"FTX+AAI+++" + "x" * 30!r}'
    )


def test_a_header_without_a_component_separator_is_said_of_its_sixteenth_element() -> None:
    (warning,) = segments(x12(STANDARD).decode().replace("*P*>~", "*P*~"))[1].warnings
    assert (warning.line, warning.column, warning.field) == (1, 16, "ISA")


@pytest.mark.parametrize(("blanks", "text"), [(392, "\u0426"), (393, "\u00c6")])
def test_the_character_set_is_looked_for_in_the_first_four_hundred_bytes(blanks: int, text: str) -> None:
    """UNOE is ISO 8859-5, where C6 is a Cyrillic letter; where none is declared Windows-1252 is taken."""
    source = EdiSource(io.BytesIO(b" " * blanks + b"UNB+UNOE:1'FTX+\xc6'"))
    assert source.read().endswith(f"FTX+{text}'")


def test_a_line_of_nothing_adds_nothing_to_the_units_that_are_counted() -> None:
    found = read(
        "HL*2*1*P", "MAN*CP*1", "HL*3*2*I", "LIN**VN*A", "SN1**0*EA", "HL*4*2*I", "LIN**VN*B", "SN1**3*EA", "CTT*4*3"
    )
    assert "CTT02" not in notes(found)
    wrong = read("HL*2*1*P", "MAN*CP*1", "HL*3*2*I", "LIN**VN*A", "SN1**0*EA", "CTT*3*1")
    assert "CTT02 says 1 units in all; the SN1 segments add up to 0" in notes(wrong)
