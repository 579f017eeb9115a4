"""EDIFACT DESADV: packing levels, service characters, character sets, wrong counts; no carton is lost.

The messages are written from UN/EDIFACT DESADV D.01B and ISO 9735; what is expected is written from them.
"""

import pytest

from receiving.errors import ManifestFaults
from receiving.expected import ManifestFile, SourceFormat, read_manifests
from receiving.model import CartonKind, ContentLine, Sscc
from tests.expected.edi_messages import DESPATCH, edifact, sscc


def read(text: str | bytes) -> ManifestFile:
    return read_manifests("n.edi", text.encode() if isinstance(text, str) else text)


def remarks_of(found: ManifestFile) -> str:
    return "\n".join([*map(str, found.warnings), *map(str, found.not_understood)])


def message(*levels: str) -> str:
    return edifact(("BGM+351+W+9", "NAD+DP+1::92", *levels))


def test_a_despatch_advice_becomes_a_manifest() -> None:
    found = read(edifact(DESPATCH))
    assert (found.source_format, found.warnings, found.not_understood) == (SourceFormat.EDIFACT, (), ())
    (manifest,) = found.manifests
    assert (manifest.shipment, manifest.store) == ("WAVE8", "0417")
    assert manifest.references == (("shipped", "2026-03-01"), ("order", "PO-9"))
    outer, tray, tags = manifest.cartons
    assert (outer.carton, outer.kind) == (sscc(901), CartonKind.OUTER)
    assert (tray.sscc, tray.outer, tray.weight_kg, tray.length_cm) == (Sscc(sscc(11)), sscc(901), 4.5, 60.0)
    assert tray.contents == (
        ContentLine(item="TRAY-A", description="Sample tray A", qty=2, unit="PCE", item_numbers=("4006381333931",)),
    )
    assert (tags.outer, tags.contents[0].item, tags.contents[0].qty) == (sscc(901), "TAGS", 40)


@pytest.mark.parametrize(
    "data",
    [
        edifact(DESPATCH, after=""),
        edifact(DESPATCH, after="\r\n"),
        edifact(DESPATCH, una=""),
        "\ufeff" + edifact(DESPATCH),
        edifact(DESPATCH, una="UNA:+,? '").replace("4.5", "4,5"),
        edifact(DESPATCH, una="").replace("+", "\x1d").replace(":", "\x1f").replace("'", "\x1c").replace("\n", ""),
    ],
    ids=["one line", "CRLF", "no UNA", "BOM", "decimal comma", "level B separators"],
)
def test_separators_and_edges_change_nothing(data: str) -> None:
    if "\x1d" in data:  # ISO 9735 level B gives these characters without UNA; here they are named by one
        data = "UNA\x1f\x1d.? \x1c" + data
    assert read(data).manifests == read(edifact(DESPATCH)).manifests
    assert read(data).warnings == ()


def test_newline_may_be_the_terminator() -> None:
    text = edifact(DESPATCH, una="", after="").replace("'", "\n")
    assert read("UNA:+.? \n" + text).manifests == read(edifact(DESPATCH)).manifests


def test_released_signs_are_text() -> None:
    changed = tuple(s.replace("Sample tray A", "3?'+2??:?:?+") if s.startswith("IMD") else s for s in DESPATCH)
    changed = tuple(s.replace("3?'+2??:?:?+", "3?' ??x?:y?+z") for s in changed)
    (manifest,) = read(edifact(changed)).manifests
    assert manifest.cartons[1].contents[0].description == "3' ?x:y+z"


def test_the_declared_character_set_is_used_where_the_text_is_not_utf8() -> None:
    text = edifact(DESPATCH, charset="UNOD").replace("Sample tray A", "Łódź")
    assert read(text.encode("iso8859-2")).manifests[0].cartons[1].contents[0].description == "Łódź"
    assert read(text.encode("utf-8")).manifests[0].cartons[1].contents[0].description == "Łódź"


def test_service_advice_with_five_characters_is_understood_and_said() -> None:
    found = read(edifact(DESPATCH, una="UNA:+.?'"))
    assert found.manifests == read(edifact(DESPATCH)).manifests
    assert "UNA has five service characters instead of six" in remarks_of(found)


def test_a_lost_terminator_before_a_line_break_is_mended_and_said() -> None:
    found = read(edifact(DESPATCH).replace("KGM:4.5'", "KGM:4.5’").replace("PAC+1++CT'", "PAC+1++CT", 1))
    assert found.manifests == read(edifact(DESPATCH)).manifests
    lost = 'a line break is where the terminator "\'" should be: after '
    assert f"segment 12 (PAC): {lost}'PAC+1++CT'" in remarks_of(found)
    assert f"segment 13 (MEA): {lost}'MEA+PD+AAB+KGM:4.5'" in remarks_of(found)


def test_wrong_counts_and_references_warn_and_lose_nothing() -> None:
    wrong = (
        edifact(DESPATCH).replace("UNT+28+M1", "UNT+9+M2").replace("UNZ+1+77", "UNZ+3+78").replace("CNT+2:2", "CNT+2:5")
    )
    found = read(wrong)
    assert found.manifests == read(edifact(DESPATCH)).manifests
    assert [str(warning) for warning in found.warnings] == [
        "segment 28 (CNT): CNT+2 counts 5 lines; the message has 2",
        "segment 29 (UNT): UNT counts the segments of its message wrongly: it says 9, there are 28",
        "segment 29 (UNT): UNT and UNH should have the same reference: 'M2' and 'M1'",
        "segment 30 (UNZ): UNZ and UNB should have the same reference: '78' and '77'",
        "segment 30 (UNZ): UNZ counts the messages of its interchange wrongly: it says 3, there are 1",
    ]


def test_a_file_that_is_cut_off_keeps_what_came_and_says_so() -> None:
    whole = edifact(DESPATCH)
    found = read(whole[: whole.index("CPS+3+1")])
    assert [c.carton for c in found.manifests[0]] == [sscc(901), sscc(11)]
    assert "a message is not closed by UNT; it may be cut off: reference 'M1'" in remarks_of(found)
    assert "the interchange is not closed by UNZ" in remarks_of(found)


def test_several_messages_and_interchanges_follow_each_other() -> None:
    second = tuple(segment.replace("WAVE8", "WAVE9") for segment in DESPATCH)
    found = read(edifact(DESPATCH, second) + edifact(tuple(s.replace("WAVE8", "W10") for s in DESPATCH)))
    assert [m.shipment for m in found] == ["WAVE8", "WAVE9", "W10"]
    assert "SSCCs are in another shipment of this file too" in remarks_of(found)


def test_places_of_delivery_split_one_message_among_stores() -> None:
    one = ("CPS+2+1", "LOC+7+0417::92", "PAC+1++CT", f"GIN+BJ+{sscc(1)}")
    two = ("CPS+3+1", "LOC+7+0418::92", "PAC+1++CT", f"GIN+BJ+{sscc(2)}")
    found = read(message("CPS+1", *one, *two))
    assert [(m.shipment, m.store, [c.carton for c in m]) for m in found] == [
        ("W-0417", "0417", [sscc(1)]),
        ("W-0418", "0418", [sscc(2)]),
    ]


def test_several_numbers_of_one_level_are_several_cartons() -> None:
    found = read(message("CPS+1", "PAC+2++CT", f"GIN+BJ+{sscc(1)}+{sscc(2)}", "LIN+1++A:SA", "QTY+12:8"))
    assert [(c.carton, c.contents[0].qty) for c in found.manifests[0]] == [(sscc(1), 4), (sscc(2), 4)]
    assert "cartons share one list of goods; what each holds is not told apart: 2 at CPS 1" in remarks_of(found)


def test_a_range_of_numbers_is_counted_out() -> None:
    found = read(message("CPS+1", "PAC+3++CT", f"GIN+BJ+{sscc(1)}:{sscc(3)}"))
    assert [c.carton for c in found.manifests[0]] == [sscc(1), sscc(2), sscc(3)]


def test_packages_without_numbers_are_cartons_all_the_same() -> None:
    found = read(message("CPS+1", "CPS+2+1", "PAC+2++CT", "LIN+1++A:SA", "QTY+12:8"))
    assert [c.carton for c in found.manifests[0]] == ["CPS 2-1", "CPS 2-2"]
    assert "cartons have no number that a label could show: CPS 2-1, CPS 2-2" in remarks_of(found)


def test_more_packages_than_numbers_are_listed() -> None:
    found = read(message("CPS+1", "PAC+3++CT", f"GIN+BJ+{sscc(1)}"))
    assert len(found.manifests[0].cartons) == 1
    assert [str(entry) for entry in found.not_understood] == [
        "6: '2 packages of CPS 1': these packages are declared and no number is given for them; count them by hand"
    ]


def test_goods_without_a_package_are_listed() -> None:
    found = read(message("CPS+1", "LIN+1++A:SA", "QTY+12:8"))
    assert [str(entry) for entry in found.not_understood] == [
        "6: '8 SA A': the message does not say in which carton these goods are"
    ]


def test_a_difference_to_the_order_is_a_warning() -> None:
    found = read(message("CPS+1", "PAC+1++CT", f"GIN+BJ+{sscc(1)}", "LIN+1++A:SA", "QTY+12:8", "QVR+-2:21+CP"))
    assert "segment 10 (QVR): the shipper reports a difference to the order: -2 for item 'A'" in remarks_of(found)


def test_a_cancellation_loads_nothing_and_is_listed() -> None:
    found = read(edifact(tuple(segment.replace("WAVE8+9", "WAVE8+1") for segment in DESPATCH)))
    assert found.manifests == ()
    assert "this notice cancels the shipment" in remarks_of(found)


def test_a_file_of_other_messages_is_refused() -> None:
    with pytest.raises(ManifestFaults, match="message 'RECADV' is not a despatch advice"):
        read(edifact(DESPATCH).replace("DESADV", "RECADV"))


@pytest.mark.parametrize(
    "text", ["UNA::::::", "UNAabcdef", "UNA+++++'UNB+UNOA:1'", "UNB", "UNB+", "UNH+1+DESADV", "UNA:+.? '"]
)
def test_what_is_hardly_a_message_is_answered_in_our_own_errors(text: str) -> None:
    try:
        assert all(not manifest.cartons for manifest in read(text))
    except ManifestFaults as refused:
        assert refused.faults


def test_goods_that_name_packages_of_the_level_around_them_are_in_those_once() -> None:
    found = read(
        message(
            "CPS+1",
            "PAC+3++CT",
            "PCI+33E",
            *(f"GIN+BJ+{sscc(serial)}" for serial in (1, 2, 3)),
            "CPS+2+1",
            "LIN+1++4006381333931:SRV",
            "QTY+12:6:PCE",
            "PCI+33E",
            f"GIN+BJ+{sscc(1)}",
            f"GIN+BJ+{sscc(2)}",
            f"GIN+BJ+{sscc(3)}",
        )
    )
    assert [[(line.item, line.qty) for line in carton.contents] for carton in found.manifests[0].cartons] == [
        [("4006381333931", 2)]
    ] * 3
    assert remarks_of(found) == ""
