"""What X12 and EDIFACT readers share: character sets, what is counted of a segment, warnings in one line, limits.

X12 and EDIFACT cut into segments: whatever the blocks in which a file comes, its characters, and how it ends.
"""

import io

import pytest

from receiving.errors import ManifestFaults
from receiving.expected import edi, notice, read_manifests
from receiving.expected.edi import BLOCK_BYTES, EdiLog, EdiSource, Segment, cut
from receiving.expected.interchange import edifact_segments, x12_segments
from receiving.messages import message
from tests.expected.approved_notices import CASES, approved
from tests.expected.edi_messages import DESPATCH, STANDARD, edifact, isa, x12
from tests.expected.test_x12_values import notes, read

# --- text in blocks ------------------------------------------------------------------------------------------------


def decoded(data: bytes) -> tuple[str, EdiSource]:
    source = EdiSource(io.BytesIO(data))
    text = ""
    while block := source.read():
        text += block
    return text, source


@pytest.mark.parametrize(
    ("level", "charset", "character"),
    [
        ("UNOC", "iso8859-1", "é"),
        ("UNOD", "iso8859-2", "ł"),
        ("UNOE", "iso8859-5", "ж"),
        ("UNOF", "iso8859-7", "λ"),
        ("UNOG", "iso8859-3", "ħ"),
        ("UNOH", "iso8859-4", "ģ"),
        ("UNOI", "iso8859-6", "ل"),
        ("UNOJ", "iso8859-8", "ש"),
        ("UNOK", "iso8859-9", "ğ"),
        ("UNOA", "cp1252", "é"),
        ("UNOY", "cp1252", "é"),
    ],
)
def test_bytes_that_are_not_utf_8_are_of_the_declared_character_set(level: str, charset: str, character: str) -> None:
    """Syntax identifiers of ISO 9735; Windows-1252 stands for levels that declare none."""
    text, source = decoded(f"UNB+{level}:3+A'NAD+{character}'".encode(charset))
    assert text == f"UNB+{level}:3+A'NAD+{character}'"
    assert source.bytes_not_utf8 == 1
    assert decoded(f"UNB+{level}:3+A'NAD+{character}'".encode())[0].endswith(f"{character}'"), (
        "UTF-8 whatever is declared"
    )


def test_without_a_declaration_bytes_are_windows_1252_and_a_mark_at_the_start_is_none_of_the_text() -> None:
    assert decoded("ISA*é".encode("cp1252"))[0] == "ISA*é"
    text, source = decoded(b"\xef\xbb\xbfISA*x")
    assert (text, source.bytes_not_utf8, source.bytes_read) == ("ISA*x", 0, 5)


def test_a_character_that_two_blocks_share_is_whole_and_every_block_is_told() -> None:
    data = b"x" * (BLOCK_BYTES - 1) + "é".encode() + b"y"
    reported: list[int] = []
    source = EdiSource(io.BytesIO(data), reported.append)
    first, second = source.read(), source.read()
    assert first + second == "x" * (BLOCK_BYTES - 1) + "éy"
    assert source.read() == "" and source.bytes_not_utf8 == 0
    assert reported == [BLOCK_BYTES, BLOCK_BYTES + 2, BLOCK_BYTES + 2]


def test_only_the_first_block_declares_a_character_set_and_may_begin_with_a_mark() -> None:
    later = "\ufeffUNB+UNOG:3+".encode() + b"\xf1"
    text, source = decoded(b"UNB+UNOE:3+".ljust(BLOCK_BYTES, b"x") + later)
    assert source.charset == "iso8859-5"
    assert text[BLOCK_BYTES:] == "\ufeffUNB+UNOG:3+ё"


def test_what_is_given_back_is_read_first() -> None:
    source = EdiSource(io.BytesIO(b"later"))
    source.push_back("sooner")
    source.push_back("")
    assert [source.read(), source.read(), source.read()] == ["sooner", "later", ""]


# --- segments ------------------------------------------------------------------------------------------------------


def test_a_segment_gives_its_components_and_knows_which_were_used() -> None:
    segment = Segment(3, [[" NAD "], ["BY"], ["1", " 2 ", ""], [" "], ["x"]])
    assert (segment.tag, segment.at(1), segment.at(2, 1), segment.at(2, 5), segment.at(9)) == ("NAD", "BY", "2", "", "")
    assert list(segment.values()) == [(1, "BY"), (2, "1"), (2, " 2 "), (4, "x")]
    assert segment.text("+") == " NAD +BY+1: 2 :+ +x"
    assert Segment(1, []).tag == Segment(1, [[]]).tag == ""


@pytest.mark.parametrize(("used", "counted", "left"), [((), 0, 4), ((1,), 1, 3), ((1, 2), 3, 1), ((2,), 2, 2)])
def test_values_are_counted_as_used_or_left_by_their_element(used: tuple[int, ...], counted: int, left: int) -> None:
    log, segment = EdiLog("a.edi"), Segment(3, [["NAD"], ["BY"], ["1", "2", ""], [" "], ["x"]])
    segment.use(*used)
    log.count(segment)
    log.close()
    assert (log.used, sum(unused.values for unused in log.unused)) == (counted, left)


def test_a_segment_that_is_used_or_listed_whole_leaves_nothing() -> None:
    log, used, listed = EdiLog("a.edi"), Segment(1, [["NAD"], ["BY"], ["1", "2"]]), Segment(2, [["NAD"], ["SU"]])
    used.use_all()
    listed.listed = True
    log.count(used)
    log.count(listed)
    log.close()
    assert (log.used, log.listed, log.unused) == (3, 1, [])


def left(*segments: tuple[list[list[str]], tuple[int, ...]]) -> list[tuple[object, ...]]:
    """What is said of segments of which these elements were used."""
    log = EdiLog("a.edi")
    for number, (parts, used) in enumerate(segments, 1):
        segment = Segment(number, parts)
        segment.use(*used)
        log.count(segment)
    log.close()
    return [
        (each.line, each.tag, each.qualifier, each.elements, each.segments, each.values, each.examples)
        for each in log.unused
    ]


def test_what_is_left_is_told_once_however_often_a_log_is_closed() -> None:
    log = EdiLog("a.edi")
    log.count(Segment(1, [["REF"], ["ZZ"], ["v"]]))
    log.warn(1, "REF", "odd")
    log.close()
    log.close()
    assert (len(log.unused), len(log.warnings)) == (1, 1)


def test_what_is_left_is_one_line_for_each_kind_with_some_of_it() -> None:
    refs = [([["REF"], ["ZZ"], [f"v{n}"]], ()) for n in range(5)]
    assert left(*refs) == [(1, "REF", "ZZ", (), 5, 10, ("v0", "v1", "v2"))]


@pytest.mark.parametrize(
    ("parts", "used", "qualifier", "elements"),
    [
        ([["REF"], ["ZZ"], ["v"]], (), "ZZ", ()),
        ([["REF"], ["ZZ"], ["v"]], (1,), "ZZ", (2,)),
        ([["REF"], ["ZZZ"], ["v"]], (), "ZZZ", ()),
        ([["REF"], ["ZZZZ"], ["v"]], (), "", ()),
        ([["REF"], ["Z-"], ["v"]], (), "", ()),
        ([["REF"], ["ZZ"]], (), "", ()),
        *(([[tag], ["AB"], ["v"]], (), "", ()) for tag in ("QVR", "PO4", "LIN", "SN1", "N3", "N4", "SLN", "CLD")),
        ([["REF"], ["ZZ"], ["v"], ["w"]], (2,), "ZZ", (1, 3)),
    ],
)
def test_a_kind_goes_by_its_qualifier_where_the_first_element_is_one(
    parts: list[list[str]], used: tuple[int, ...], qualifier: str, elements: tuple[int, ...]
) -> None:
    ((_, tag, found, among, *_rest),) = left((parts, used))
    assert (tag, found, among) == (parts[0][0], qualifier, elements)


# --- warnings ------------------------------------------------------------------------------------------------------


def warned(log: EdiLog) -> list[str]:
    log.close()
    return [str(fault.message) for fault in log.warnings]


def test_a_warning_that_repeats_is_one_line_with_its_count_or_its_details() -> None:
    log = EdiLog("a.edi")
    log.warn(5, "REF", "odd")
    log.warn(2, "QTY", "once")
    log.warn(6, "REF", "odd")
    log.warn(7, "LIN", "differs", "a")
    log.warn(8, "LIN", "differs", "b")
    log.warn(9, "LIN", "differs")
    assert warned(log) == ["once", "odd (2 times)", "differs: a, b and 1 more"]
    assert [(fault.line, fault.field) for fault in log.warnings] == [(2, "QTY"), (5, "REF"), (7, "LIN")]


def test_twenty_details_of_a_warning_are_named_and_the_rest_is_counted() -> None:
    log = EdiLog("a.edi")
    for n in range(20):
        log.warn(n, "REF", "odd", f"d{n}")
    (whole,) = warned(log)
    assert whole.endswith("d18, d19") and whole.count(",") == 19
    for n in range(1_021):
        log.warn(n, "REF", "odd", f"d{n}")
    assert warned(log)[-1].endswith("d18, d19 and 1,001 more")


def test_a_hundred_kinds_of_warnings_of_a_segment_are_told_and_the_rest_is_one() -> None:
    log = EdiLog("a.edi")
    for n in range(103):
        log.warn(n, "REF", f"kind {n}", "detail")
    log.warn(200, "QTY", "another segment's")
    found = warned(log)
    assert found[99:] == ["kind 99: detail", "more warnings of this kind were counted (3 times)", "another segment's"]


@pytest.mark.parametrize(("length", "shown"), [(200, "x" * 200), (201, "x" * 197 + "...")])
def test_what_is_not_understood_is_quoted_up_to_200_signs(length: int, shown: str) -> None:
    log = EdiLog("a.edi")
    log.list(3, "x" * length, message("why"))
    (found,) = log.not_understood
    assert (found.line, found.text, found.why) == (3, shown, message("why"))


# --- cutting -------------------------------------------------------------------------------------------------------


def pieces(data: bytes, text: str = "", **how: object) -> list[tuple[str, bool]]:
    source = EdiSource(io.BytesIO(data))
    how = {"starts_anew": lambda piece: piece.startswith("ISA"), **how}
    return list(cut(source, text, "~", EdiLog("a.edi"), **how))  # type: ignore[arg-type]


def test_segments_are_cut_at_their_terminator_and_the_last_may_lack_it() -> None:
    assert pieces(b"ST*1~\r\n ~ SE*2 ~REF", "GS*0~") == [("GS*0", True), ("ST*1", True), ("SE*2", True), ("REF", False)]
    assert pieces(b"ST~\r\n") == [("ST", True)]


def test_another_interchange_goes_back_to_the_source() -> None:
    for data, rest in ((b"ST~ISA*2~GS~", "ISA*2~GS~"), (b"ST~\nISA*2", "\nISA*2")):
        source = EdiSource(io.BytesIO(data))
        found = list(cut(source, "", "~", EdiLog("a.edi"), starts_anew=lambda piece: piece.startswith("ISA")))
        assert (found, source.read().strip()) == ([("ST", True)], rest.strip())


def test_a_released_terminator_is_a_part_of_its_segment() -> None:
    assert pieces(b"a?~b~c~", goes_on=lambda piece: piece.endswith("?")) == [("a?~b", True), ("c", True)]


@pytest.mark.parametrize(("length", "refused"), [(1_000, False), (1_001, True)])
def test_a_segment_without_an_end_is_refused_at_a_limit(
    length: int, refused: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert edi.MAX_SEGMENT == 1_000_000
    monkeypatch.setattr(edi, "MAX_SEGMENT", 1_000)
    if refused:
        with pytest.raises(ManifestFaults, match="no segment ends within 1,000 characters; the terminator '~' is miss"):
            pieces(b"x" * length)
    else:
        assert pieces(b"x" * length) == [("x" * length, False)]


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
    "five characters": edifact(DESPATCH, una="UNA:+.?'"),
    "released": edifact((*DESPATCH, "FTX+AAI+++a?'b?+c?:d??'e")),
    "two with characters of their own": edifact(DESPATCH) + edifact(DESPATCH, una="UNA:+,?*'"),
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
    (warning,) = [each for each in warnings if "without a terminator" in each]
    assert warning == (
        f"segment {found[-1][0]} ({last}): the file ends without a terminator; it may be cut off: ask for it again: "
        f"the last segment is {quoted}"
    )


@pytest.mark.parametrize("text", [isa(terminator="\n") + "ST*856*1", x12(STANDARD).decode(), edifact(DESPATCH)])
def test_a_file_that_ends_as_its_kind_does_is_not_called_cut_off(text: str) -> None:
    assert not [each for each in shown(text)[1] if "without a terminator" in each]


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
        f'segment 3 (FTX): a line break is where the terminator "\'" should be: after {"FTX+AAI+++" + "x" * 30!r}'
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
