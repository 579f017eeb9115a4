"""X12 856: every structure of levels, every separator, wrong envelopes; no carton is lost.

The messages are written from ASC X12 856 (004010); what is expected is written from the standard.

Orders inside a pack that is a mere grouping: its references are the shipment's, not lost with it.
"""

import io

import pytest

from receiving.errors import ManifestFaults
from receiving.expected import ManifestFile, Progress, SegmentFault, SourceFormat, read_manifests, stream_manifests
from receiving.model import Carton, CartonKind, ContentLine, Sscc
from tests.expected.edi_messages import STANDARD, isa, sscc, x12


def read(data: bytes) -> ManifestFile:
    return read_manifests("n.x12", data)


def remarks_of(found: ManifestFile) -> str:
    return "\n".join([*map(str, found.warnings), *map(str, found.not_understood)])


def test_a_standard_notice_becomes_a_manifest() -> None:
    found = read(x12(STANDARD))
    assert (found.source_format, found.warnings, found.not_understood) == (SourceFormat.X12, (), ())
    (manifest,) = found.manifests
    assert (manifest.shipment, manifest.store) == ("WAVE7", "0417")
    assert manifest.references == (
        ("carrier", "ABCD"),
        ("bill of lading", "BOL-1"),
        ("shipped", "2026-03-01"),
        ("order", "PO-9"),
    )
    outer, tray, tags = manifest.cartons
    assert (outer.carton, outer.kind, outer.outer) == (sscc(900), CartonKind.OUTER, "")
    assert tray == Carton(
        carton=sscc(1),
        kind=CartonKind.OTHER,
        sscc=Sscc(sscc(1)),
        outer=sscc(900),
        contents=(
            ContentLine(item="TRAY-A", description="Sample tray A", qty=2, unit="EA", item_numbers=("614141999996",)),
        ),
        weight_kg=4.536,  # 10 lb at 0.45359237 kg (NIST SP 811), to the gram
        length_cm=50.8,  # 20 in at 2.54 cm
        width_cm=25.4,
        height_cm=12.7,
    )
    assert (tags.barcode, tags.contents[0].qty) == ("1Z9999", 40)


@pytest.mark.parametrize(
    "data",
    [
        x12(STANDARD, after=""),
        x12(STANDARD, after="\r\n"),
        x12(STANDARD, terminator="\n", after=""),
        x12(STANDARD, terminator="'", element="|", component="^"),
        x12(STANDARD, element="\x1d", component="\x1f", terminator="\x1c", after=""),
        x12(STANDARD, version="00501"),
        b"\xef\xbb\xbf" + x12(STANDARD),
        b"\r\n\r\n  " + x12(STANDARD) + b"\x1a",
        x12(STANDARD).replace(b"~\n", b"~\n~\n ~"),
    ],
    ids=[
        "one line",
        "CRLF",
        "newline ends",
        "odd characters",
        "control characters",
        "00501",
        "BOM",
        "edges",
        "empty segments",
    ],
)
def test_separators_and_edges_change_nothing(data: bytes) -> None:
    assert read(data).manifests == read(x12(STANDARD)).manifests
    assert read(data).warnings == ()


def test_a_file_wrapped_at_eighty_columns_is_read() -> None:
    line = x12(STANDARD, after="").decode()
    wrapped = line[:106] + "\n" + "\r\n".join(line[at : at + 80] for at in range(106, len(line), 80))
    assert read(wrapped.encode()).manifests == read(x12(STANDARD)).manifests


def levels(*parts: str) -> tuple[str, ...]:
    return ("BSN*00*W*20260301*0800", *parts)


def test_shipment_pack_item_takes_the_store_of_the_shipment() -> None:
    found = read(
        x12(levels("HL*1**S", "N1*ST**92*0417", "HL*2*1*P", f"MAN*GM*{sscc(1)}", "HL*3*2*I", "LIN**VN*A", "SN1**1*EA"))
    )
    (carton,) = found.manifests[0].cartons
    assert (found.manifests[0].store, carton.sscc, carton.contents[0].item) == ("0417", Sscc(sscc(1)), "A")


def test_packs_below_items_take_the_goods_of_the_item() -> None:
    below = ("HL*4*3*P", f"MAN*GM*{sscc(1)}", "SN1**1*EA", "HL*5*3*P", f"MAN*GM*{sscc(2)}")
    found = read(x12(levels("HL*1**S", "N1*ST**92*1", "HL*2*1*O", "HL*3*2*I", "LIN**VN*A", "SN1**2*EA", *below)))
    assert [c.contents for c in found.manifests[0]] == [
        (ContentLine(item="A", qty=1, unit="EA"),),
        (ContentLine(item="A", qty=1, unit="EA"),),  # the item has 2, the first pack says 1
    ]


def test_one_notice_for_many_stores_gives_a_shipment_for_each() -> None:
    def order(number: int, store: str, serial: int) -> tuple[str, ...]:
        return (f"HL*{number}*1*O", f"N1*BY**92*{store}", f"HL*{number + 1}*{number}*P", f"MAN*GM*{sscc(serial)}")

    found = read(
        x12(levels("HL*1**S", "N1*ST**92*DC", *order(2, "0417", 1), *order(4, "0418", 2), *order(6, "0417", 3)))
    )
    assert [(m.shipment, m.store, [c.carton for c in m]) for m in found] == [
        ("W-0417", "0417", [sscc(1), sscc(3)]),
        ("W-0418", "0418", [sscc(2)]),
    ]


def test_a_pallet_for_two_stores_stands_in_both_manifests() -> None:
    text = levels(
        "HL*1**S", "N1*ST**92*DC", "HL*2*1*T", f"MAN*GM*{sscc(900)}",
        "HL*3*2*O", "N1*BY**92*1", "HL*4*3*P", f"MAN*GM*{sscc(1)}",
        "HL*5*2*O", "N1*BY**92*2", "HL*6*5*P", f"MAN*GM*{sscc(2)}",
    )  # fmt: skip
    assert [[(c.carton, c.outer) for c in m] for m in read(x12(text))] == [
        [(sscc(900), ""), (sscc(1), sscc(900))],
        [(sscc(900), ""), (sscc(2), sscc(900))],
    ]


def test_a_tare_without_a_number_is_a_grouping_and_no_carton() -> None:
    tare = ("HL*1**S", "N1*ST**92*1", "HL*2*1*T", "HL*3*2*P", f"MAN*GM*{sscc(1)}")
    assert [(c.carton, c.outer) for c in read(x12(levels(*tare))).manifests[0]] == [(sscc(1), "")]


def test_cartons_that_carry_only_the_code_of_their_kind_are_kept_apart_and_said() -> None:
    packs = ("HL*2*1*P", "MAN*UC*10614141999993", "HL*3*1*P", "MAN*UC*10614141999993")
    found = read(x12(levels("HL*1**S", "N1*ST**92*1", *packs)))
    assert [(c.carton, c.barcode) for c in found.manifests[0]] == [
        ("10614141999993", "10614141999993"),
        ("10614141999993-2", "10614141999993"),
    ]
    assert "cartons carry the same barcode and no SSCC; a label cannot tell them apart" in remarks_of(found)


def test_transactions_and_interchanges_with_other_signs_follow_each_other() -> None:
    second = tuple(segment.replace("WAVE7", "WAVE8") for segment in STANDARD)
    third = tuple(segment.replace("WAVE7", "WAVE9") for segment in STANDARD)
    found = read(x12(STANDARD, second) + x12(third, element="|", terminator="\n", after="", control=2))
    assert [manifest.shipment for manifest in found] == ["WAVE7", "WAVE8", "WAVE9"]
    assert {len(manifest.cartons) for manifest in found} == {3}


def test_wrong_counts_and_control_numbers_warn_and_lose_nothing() -> None:
    wrong = (
        x12(STANDARD)
        .replace(b"SE*26*0001", b"SE*99*0002")
        .replace(b"GE*1*1~", b"GE*2*7~")
        .replace(b"IEA*1*000000001", b"IEA*3*000000009")
        .replace(b"CTT*7*42", b"CTT*8*43")
    )
    found = read(wrong)
    assert found.manifests == read(x12(STANDARD)).manifests
    assert all(isinstance(warning, SegmentFault) for warning in found.warnings)
    assert [str(warning) for warning in found.warnings] == [
        "segment 27 (CTT): CTT01 counts 8 levels; the transaction has 7 HL segments",
        "segment 27 (CTT): CTT02 says 43 units in all; the SN1 segments add up to 42",
        "segment 28 (SE): SE02 and ST02 should be the same control number: '0002' and '0001'",
        "segment 28 (SE): SE01 counts the segments wrongly: it says 99, there are 26",
        "segment 29 (GE): GE02 and GS06 should be the same control number: '7' and '1'",
        "segment 29 (GE): GE01 counts the transaction sets wrongly: it says 2, there are 1",
        "segment 30 (IEA): IEA02 and ISA13 should be the same control number: '000000009' and '000000001'",
        "segment 30 (IEA): IEA01 counts the functional groups wrongly: it says 3, there are 1",
    ]


def test_a_file_that_is_cut_off_keeps_what_came_and_says_so() -> None:
    whole = x12(STANDARD)
    found = read(whole[: whole.index(b"HL*6")])
    assert [c.carton for c in found.manifests[0]] == [sscc(900), sscc(1)]
    assert "ST is not closed by SE; the file may be cut off: control number 0001" in remarks_of(found)
    assert "ISA is not closed by IEA; the file may be cut off: control number 000000001" in remarks_of(found)
    cut = remarks_of(read(whole[: whole.index(b"MAN*CP") + 3]))
    assert "the file ends without a terminator; it may be cut off: ask for it again: the last segment is 'MAN'" in cut


def test_an_sscc_with_a_wrong_check_digit_is_kept_as_a_plain_barcode() -> None:
    bad = sscc(1)[:-1] + str((int(sscc(1)[-1]) + 1) % 10)
    found = read(x12(tuple(segment.replace(sscc(1), bad) for segment in STANDARD)))
    carton = found.manifests[0].cartons[1]
    assert (carton.sscc, carton.barcode, carton.carton) == (None, bad, bad)
    assert (
        "segment 15 (MAN/GIN): SSCCs are wrong; the cartons are kept, "
        "and a label with exactly this number is received: "
        f"SSCC {bad!r} has check digit {bad[-1]}; its first 17 digits give {sscc(1)[-1]}"
    ) in remarks_of(found)


def test_a_pack_without_any_number_is_a_carton_all_the_same() -> None:
    found = read(x12(levels("HL*1**S", "N1*ST**92*1", "HL*2*1*P", "HL*3*2*I", "LIN**VN*A", "SN1**5*EA")))
    assert [(c.carton, c.contents[0].item) for c in found.manifests[0]] == [("HL 2", "A")]
    assert "cartons have no number that a label could show: HL 2" in remarks_of(found)


def test_goods_without_a_pack_are_listed() -> None:
    found = read(x12(levels("HL*1**S", "N1*ST**92*1", "HL*2*1*O", "HL*3*2*I", "LIN**VN*A*UP*123", "SN1**5*EA")))
    assert found.manifests[0].cartons == ()
    assert [str(entry) for entry in found.not_understood] == [
        "9: '5 EA VN A, UP 123': the message does not say in which carton these goods are"
    ]


def test_a_range_of_serial_numbers_is_counted_out() -> None:
    found = read(x12(levels("HL*1**S", "N1*ST**92*1", "HL*2*1*P", f"MAN*GM*{sscc(1)}*{sscc(4)}")))
    assert [c.carton for c in found.manifests[0]] == [sscc(1), sscc(2), sscc(3), sscc(4)]


def test_the_same_sscc_under_two_orders_is_one_carton_with_all_goods() -> None:
    def order(number: int, item: str) -> tuple[str, ...]:
        pack = (
            f"HL*{number + 1}*{number}*P",
            f"MAN*GM*{sscc(1)}",
            f"HL*{number + 2}*{number + 1}*I",
            f"LIN**VN*{item}",
        )
        return (f"HL*{number}*1*O", "N1*BY**92*1", *pack)

    found = read(x12(levels("HL*1**S", *order(2, "A"), *order(5, "B"))))
    (carton,) = found.manifests[0].cartons
    assert [line.item for line in carton.contents] == ["A", "B"]
    assert "SSCCs appear again in this shipment; each is one carton" in remarks_of(found)


def test_a_cancellation_loads_nothing_and_is_listed() -> None:
    found = read(x12(tuple(segment.replace("BSN*00", "BSN*01") for segment in STANDARD)))
    assert found.manifests == ()
    assert "this notice cancels the shipment" in remarks_of(found)


def test_the_same_shipment_twice_loses_neither() -> None:
    found = read(x12(STANDARD, STANDARD))
    assert [(m.shipment, len(m.cartons)) for m in found] == [("WAVE7", 3), ("WAVE7-2", 3)]


def test_a_replacement_stands_for_the_first() -> None:
    later = tuple(segment.replace("BSN*00", "BSN*05").replace("*40*EA", "*41*EA") for segment in STANDARD)
    (manifest,) = read(x12(STANDARD, later)).manifests
    assert manifest.cartons[2].contents[0].qty == 41


def test_other_transaction_sets_are_listed_and_a_file_of_them_is_refused() -> None:
    other = x12(STANDARD, STANDARD).replace(b"ST*856*0002", b"ST*861*0002")
    assert "transaction set '861' is not an advance ship notice (856) and was left out" in remarks_of(read(other))
    with pytest.raises(ManifestFaults, match="the file holds no X12 856"):
        read(x12(STANDARD).replace(b"ST*856", b"ST*861"))


def test_levels_with_wrong_parents_keep_their_cartons() -> None:
    found = read(x12(levels("HL*1**S", "N1*ST**92*1", "HL*2*77*P", f"MAN*GM*{sscc(1)}", "HL*3*88*I", "LIN**VN*A")))
    assert [(c.carton, c.contents[0].item) for c in found.manifests[0]] == [(sscc(1), "A")]
    assert (
        "levels name a parent that is not there; the order of levels is used: HL '2' names parent '77'"
        in remarks_of(found)
    )


def test_bytes_that_are_not_utf8_are_read_and_said() -> None:
    found = read(x12(STANDARD).replace(b"Sample tray A", b"Caf\xe9"))
    assert found.manifests[0].cartons[1].contents[0].description == "Café"
    assert "1 bytes are not UTF-8; they were read as cp1252" in remarks_of(found)


@pytest.mark.parametrize(
    ("was", "now", "warned"),
    [
        (b"~\n", b"\r\n", ""),
        (b"~\n", b"\r", ""),
        (b"~\n", b"\n", ""),
        (b"*P*>~\n", b"*P*~\n", "ISA16 names no component separator; ':' is used"),
        (b"*P*>~\n", b"*P*~\r\n", "ISA16 names no component separator; ':' is used"),
        (b"*P*>~\n", b"*P*~", "ISA16 names no component separator; ':' is used"),
    ],
)
@pytest.mark.parametrize("interchanges", [1, 2])
def test_an_isa_ends_with_lines_or_without_a_component_separator(
    was: bytes, now: bytes, warned: str, interchanges: int
) -> None:
    """Every segment after it is read, none of it and none of the next twice: the counts of all envelopes are right."""
    whole = b"".join(x12(STANDARD, control=n + 1) for n in range(interchanges))
    found = read(whole.replace(was, now))
    assert [m.cartons for m in found] == [m.cartons for m in read(whole)]
    assert len(found.warnings) == (1 if warned else 0) + len(read(whole).warnings)
    assert warned in remarks_of(found)


@pytest.mark.parametrize("data", [b"ISA*00*", isa().encode()[:90], b"ISA*" * 40, b"ISAaaaaa"])
def test_a_header_that_is_cut_off_is_refused(data: bytes) -> None:
    with pytest.raises(ManifestFaults):
        read(data)


def test_progress_is_told_while_a_stream_is_read() -> None:
    reported: list[Progress] = []
    notices = x12(*(tuple(s.replace("WAVE7", f"W{n}") for s in STANDARD) for n in range(400)))
    stream = stream_manifests("n.x12", io.BytesIO(notices), progress=reported.append)
    assert next(stream).shipment == "W0"
    assert reported[-1].bytes_read < len(notices)
    assert len(list(stream)) == 399
    assert reported[-1] == Progress(len(notices), 400, 1200)


@pytest.mark.parametrize("first", [(), ("PRF*QQ0001",)])
def test_the_reference_of_an_order_in_a_pack_without_a_number_is_the_shipments(first: tuple[str, ...]) -> None:
    segments = ["BSN*00*WAVE*20260301*0800*0001", "HL*1**S", "HL*2*1*P", "HL*3*2*O", *first, "HL*4*3*I"]
    segments += ["MAN*GM*195200000000000018", "HL*5*2*O", "PRF*QQ0002", "HL*6*5*I", "CTT*6"]
    (manifest,) = read_manifests("notice", x12(segments)).manifests
    assert ("order", "QQ0002") in manifest.references
