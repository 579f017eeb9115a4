"""What X12 and EDIFACT readers share: character sets, what is counted of a segment, warnings in one line, limits."""

import io

import pytest

from receiving.errors import ManifestFaults
from receiving.expected import edi
from receiving.expected.edi import BLOCK_BYTES, EdiLog, EdiSource, Segment, cut
from receiving.messages import message

# --- text in blocks ------------------------------------------------------------------------------------------------


def decoded(data: bytes) -> tuple[str, EdiSource]:
    source = EdiSource(io.BytesIO(data))
    text = ""
    while block := source.read():
        text += block
    return text, source


@pytest.mark.parametrize(
    ("level", "charset", "sign"),
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
def test_bytes_that_are_not_utf_8_are_of_the_declared_character_set(level: str, charset: str, sign: str) -> None:
    """Syntax identifiers of ISO 9735; Windows-1252 stands for levels that declare none."""
    text, source = decoded(f"UNB+{level}:3+A'NAD+{sign}'".encode(charset))
    assert text == f"UNB+{level}:3+A'NAD+{sign}'"
    assert source.bytes_not_utf8 == 1
    assert decoded(f"UNB+{level}:3+A'NAD+{sign}'".encode())[0].endswith(f"{sign}'"), "UTF-8 whatever is declared"


def test_without_a_declaration_bytes_are_windows_1252_and_a_mark_at_the_start_is_none_of_the_text() -> None:
    assert decoded("ISA*é".encode("cp1252"))[0] == "ISA*é"
    text, source = decoded(b"\xef\xbb\xbfISA*x")
    assert (text, source.bytes_not_utf8, source.bytes_read) == ("ISA*x", 0, 5)


def test_a_sign_that_two_blocks_share_is_whole_and_every_block_is_told() -> None:
    data = b"x" * (BLOCK_BYTES - 1) + "é".encode() + b"y"
    told: list[int] = []
    source = EdiSource(io.BytesIO(data), told.append)
    first, second = source.read(), source.read()
    assert first + second == "x" * (BLOCK_BYTES - 1) + "éy"
    assert source.read() == "" and source.bytes_not_utf8 == 0
    assert told == [BLOCK_BYTES, BLOCK_BYTES + 2, BLOCK_BYTES + 2]


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
