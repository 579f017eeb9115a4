"""Every code that a notice may hold, each by itself: what it gives the manifest, and which of several is taken.

What a code is called stands in published lists (tests/checks/edi_code_lists.json); here is what follows from it.
"""

import io

import pytest

from receiving.errors import ManifestFaults
from receiving.expected import ManifestFile, read_manifests
from receiving.expected.edi import EdiLog, EdiSource
from receiving.expected.interchange import x12_segments
from receiving.model import Carton
from tests.expected.edi_messages import edifact, isa, sscc, x12


def by_x12(*parts: str) -> ManifestFile:
    return read_manifests("n.x12", x12(("BSN*00*W*20260301*0800", "HL*1**S", "N1*ST**92*1", *parts)))


def by_edifact(*parts: str) -> ManifestFile:
    return read_manifests("n.edi", edifact(("BGM+351+W+9", *parts)).encode())


def x12_carton(*parts: str) -> Carton:
    (carton,) = by_x12("HL*2*1*P", f"MAN*GM*{sscc(1)}", *parts).manifests[0].cartons
    return carton


def edifact_carton(*parts: str) -> Carton:
    found = by_edifact("NAD+DP+1::92", "CPS+1", "PAC+1++CT", "PCI+33E", f"GIN+BJ+{sscc(1)}", *parts)
    (carton,) = found.manifests[0].cartons
    return carton


# --- which number is the item's ------------------------------------------------------------------------------------

X12_ITEMS = ("VN", "VP", "VA", "SK", "IN", "BP", "PN", "MG", "EN", "UK", "UP", "UA", "IB")
X12_NO_ITEMS = (
    "PO", "LT", "SN", "BN", "PL", "PD", "B8", "CH", "EC", "BL", "BO", "CL", "CM", "HD", "IZ", "MF", "RC", "SM", "SZ",
    "UF", "UO", "VE", "ZB",
)  # fmt: skip
EDIFACT_ITEMS = ("SA", "VP", "IN", "BP", "MF", "SRV", "EN", "UP", "IB")
EDIFACT_NO_ITEMS = (
    "NB", "SN", "BB", "PV", "HS", "CC", "GN", "CG", "CL", "CR", "CV", "DR", "EC", "GB", "IZ", "MA", "ON", "PD", "PL",
    "PO", "QS", "RC", "RN", "RU", "RY", "TG",
)  # fmt: skip


@pytest.mark.parametrize("place", range(len(X12_ITEMS)))
def test_of_two_numbers_of_an_item_in_x12_the_one_that_comes_first_in_the_order_is_taken(place: int) -> None:
    better, other = X12_ITEMS[place], (*X12_ITEMS, "ZZ")[place + 1]
    (line,) = x12_carton("HL*3*2*I", f"LIN**{other}*OTHER*{better}*BETTER", "SN1**2*EA").contents
    assert (line.item, "OTHER" in line.item_numbers) == ("BETTER", True)


@pytest.mark.parametrize("place", range(len(EDIFACT_ITEMS)))
def test_of_two_numbers_of_an_item_in_edifact_the_one_that_comes_first_in_the_order_is_taken(place: int) -> None:
    better, other = EDIFACT_ITEMS[place], (*EDIFACT_ITEMS, "ZZ")[place + 1]
    (line,) = edifact_carton("LIN+1", f"PIA+5+OTHER:{other}", f"PIA+5+BETTER:{better}", "QTY+12:2").contents
    assert (line.item, "OTHER" in line.item_numbers) == ("BETTER", True)


@pytest.mark.parametrize("qualifier", X12_NO_ITEMS)
def test_a_number_of_something_else_in_x12_is_no_items(qualifier: str) -> None:
    (line,) = x12_carton("HL*3*2*I", f"LIN**{qualifier}*OTHER*VN*ITEM", "SN1**2*EA").contents
    assert (line.item, line.item_numbers) == ("ITEM", ())


@pytest.mark.parametrize("qualifier", EDIFACT_NO_ITEMS)
def test_a_number_of_something_else_in_edifact_is_no_items(qualifier: str) -> None:
    (line,) = edifact_carton("LIN+1", f"PIA+5+OTHER:{qualifier}", "PIA+5+ITEM:SA", "QTY+12:2").contents
    assert (line.item, line.item_numbers) == ("ITEM", ())


# --- references and days -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("qualifier", "name"),
    [
        ("BM", "bill of lading"), ("CN", "carrier reference"), ("MB", "master bill of lading"), ("PK", "packing list"),
        ("PO", "order"), ("VN", "vendor order"), ("IA", "vendor number"), ("DP", "department"), ("LO", "load"),
        ("SI", "shipper reference"), ("AO", "appointment"), ("2I", "tracking number"), ("ZZ", "reference ZZ"),
    ],
)  # fmt: skip
def test_references_of_an_x12_shipment_have_their_names(qualifier: str, name: str) -> None:
    (manifest,) = by_x12(f"REF*{qualifier}*V-1", "HL*2*1*P", f"MAN*GM*{sscc(1)}").manifests
    assert manifest.references == ((name, "V-1"),)
    (manifest,) = by_x12("HL*2*1*O", f"REF*{qualifier}*V-1", "HL*3*2*P", f"MAN*GM*{sscc(1)}").manifests
    assert manifest.references == (((name, "V-1"),) if qualifier != "ZZ" else ())


@pytest.mark.parametrize(
    ("qualifier", "name"),
    [
        ("ON", "order"), ("VN", "vendor order"), ("BM", "bill of lading"), ("AAS", "transport document"),
        ("CN", "carrier reference"), ("PK", "packing list"), ("DQ", "delivery note"), ("AAK", "despatch advice"),
        ("AAU", "despatch note"), ("SRN", "shipment reference"), ("AAJ", "delivery order"), ("CT", "contract"),
        ("UCN", "consignment"),
    ],
)  # fmt: skip
def test_references_of_an_edifact_message_have_their_names(qualifier: str, name: str) -> None:
    found = by_edifact(f"RFF+{qualifier}:V-1", "NAD+DP+1::92", "CPS+1", "PAC+1++CT", "PCI+33E", f"GIN+BJ+{sscc(1)}")
    assert found.manifests[0].references == ((name, "V-1"),)


@pytest.mark.parametrize(
    ("qualifier", "name"),
    [("011", "shipped"), ("017", "delivery expected"), ("067", "delivery expected"), ("002", "delivery requested")],
)
def test_days_of_an_x12_shipment_have_their_names(qualifier: str, name: str) -> None:
    pack = ("HL*2*1*P", f"MAN*GM*{sscc(1)}")
    assert by_x12(f"DTM*{qualifier}*20260301", *pack).manifests[0].references == ((name, "2026-03-01"),)
    assert by_x12(f"DTM*{qualifier}*260301", *pack).manifests[0].references == ((name, "260301"),)
    assert by_x12("DTM*999*20260301", *pack).manifests[0].references == ()


@pytest.mark.parametrize(
    ("qualifier", "name"),
    [("11", "shipped"), ("17", "delivery expected"), ("358", "delivery expected"), ("2", "delivery requested")],
)
def test_days_of_an_edifact_message_have_their_names(qualifier: str, name: str) -> None:
    rest = ("NAD+DP+1::92", "CPS+1", "PAC+1++CT", "PCI+33E", f"GIN+BJ+{sscc(1)}")
    assert by_edifact(f"DTM+{qualifier}:20260301:102", *rest).manifests[0].references == ((name, "2026-03-01"),)
    assert by_edifact("DTM+999:20260301:102", *rest).manifests[0].references == ()


@pytest.mark.parametrize("qualifier", ["LS", "LA", "2I", "LV", "97"])
def test_a_reference_of_a_package_in_x12_is_a_number_on_its_label(qualifier: str) -> None:
    carton = x12_carton(f"REF*{qualifier}*LABEL-7")
    assert "LABEL-7" in carton.codes
    assert "LABEL-7" not in x12_carton("REF*BM*LABEL-7").codes


@pytest.mark.parametrize("qualifier", ["CA", "SM", "R", "W", "MC"])
def test_what_the_shipper_prints_is_the_cartons_number_in_x12(qualifier: str) -> None:
    (carton,) = by_x12("HL*2*1*P", f"MAN*{qualifier}*BOX-7").manifests[0].cartons
    assert carton.carton == "BOX-7"


@pytest.mark.parametrize("qualifier", ["GM", "AA", "AI"])
def test_an_sscc_is_one_by_each_of_its_marks(qualifier: str) -> None:
    (carton,) = by_x12("HL*2*1*P", f"MAN*{qualifier}*{sscc(1)}").manifests[0].cartons
    assert str(carton.sscc) == sscc(1)


# --- whose store ---------------------------------------------------------------------------------------------------

X12_BELOW, X12_AT_SHIPMENT = ("Z7", "BY", "ST", "MA", "OB"), ("Z7", "ST", "BY", "MA", "OB")
EDIFACT_STORES = ("UC", "DP", "ST", "CN", "BY")


@pytest.mark.parametrize("place", range(5))
def test_the_store_is_the_party_nearest_to_the_shelf_in_x12(place: int) -> None:
    better, *others = X12_BELOW[place:]
    parties = [f"N1*{role}**92*{number}" for number, role in enumerate([*others, better], 2)]
    (manifest,) = by_x12("HL*2*1*O", *parties, "HL*3*2*P", f"MAN*GM*{sscc(1)}").manifests
    assert manifest.store == str(1 + len(parties))


@pytest.mark.parametrize("place", range(5))
def test_at_the_shipment_the_buyer_is_often_the_head_office_in_x12(place: int) -> None:
    better, *others = X12_AT_SHIPMENT[place:]
    parties = [f"N1*{role}**92*{number}" for number, role in enumerate([*others, better], 2)]
    head = ("BSN*00*W*20260301*0800", "HL*1**S", *parties, "HL*2*1*P", f"MAN*GM*{sscc(1)}")
    (manifest,) = read_manifests("n.x12", x12(head)).manifests
    assert manifest.store == str(1 + len(parties))


@pytest.mark.parametrize("place", range(5))
def test_the_store_is_the_party_nearest_to_the_shelf_in_edifact(place: int) -> None:
    better, *others = EDIFACT_STORES[place:]
    parties = [f"NAD+{role}+{number}::92" for number, role in enumerate([*others, better], 2)]
    found = by_edifact(*parties, "CPS+1", "PAC+1++CT", "PCI+33E", f"GIN+BJ+{sscc(1)}")
    assert found.manifests[0].store == str(1 + len(parties))


# --- envelopes -----------------------------------------------------------------------------------------------------


ONE = x12(("BSN*00*W*20260301*0800", "HL*1**S", "N1*ST**92*1", "HL*2*1*P", f"MAN*GM*{sscc(1)}"))
OTHER = ONE.replace(b"*W*", b"*V*").replace(sscc(1).encode(), sscc(2).encode())


@pytest.mark.parametrize(
    ("data", "shipments"),
    [
        (ONE + b"left over~\n" + OTHER, ["W", "V"]),
        (ONE + b"left over", ["W"]),
        (ONE + b"left over\n" + OTHER, ["W", "V"]),
    ],
)
def test_text_between_or_behind_interchanges_is_listed_and_no_shipment_is_lost(
    data: bytes, shipments: list[str]
) -> None:
    found = read_manifests("n.x12", data)
    assert [manifest.shipment for manifest in found.manifests] == shipments
    (listed,) = found.not_understood
    assert listed.text.startswith("left over") and "outside of a transaction set" in str(listed.why)


@pytest.mark.parametrize(
    ("data", "listed"),
    [
        (b"before " + ONE, ["before "]),
        (b"MISA*is none\n" + ONE, ["MISA*is none\n"]),
        (b"no notice", ["no notice"]),
        (ONE, []),
    ],
)
def test_a_reader_of_segments_begins_at_the_first_interchange(data: bytes, listed: list[str]) -> None:
    log = EdiLog("n.x12")
    segments = list(x12_segments(EdiSource(io.BytesIO(data)), log))
    assert [(each.line, each.text) for each in log.not_understood] == [(1, text) for text in listed]
    assert [segment.tag for segment in segments[:3]] == (["ISA", "GS", "ST"] if ONE in data else [])


@pytest.mark.parametrize(("count", "right"), [(1, True), (2, False)])
def test_an_interchange_counts_its_messages(count: int, right: bool) -> None:
    text = edifact(("BGM+351+W+9", "NAD+DP+1::92", "CPS+1", "PAC+1++CT", "PCI+33E", f"GIN+BJ+{sscc(1)}"))
    found = read_manifests("n.edi", text.replace("UNZ+1+", f"UNZ+{count}+").encode())
    warned = [str(warning) for warning in found.warnings if "UNZ counts" in str(warning)]
    assert bool(warned) is not right
    lone = "UNH+M1+DESADV:D:01B:UN:EAN007'BGM+351+W+9'NAD+DP+1::92'CPS+1'PAC+1++CT'PCI+33E'" + f"GIN+BJ+{sscc(1)}'"
    lone += f"UNT+8+M1'UNZ+{count}+77'"
    warned = [str(each) for each in read_manifests("n.edi", b"UNA:+.? '" + lone.encode()).warnings]
    assert any("UNZ counts" in words for words in warned) is not right


UNT = "segment 9 (UNT): UNT counts the segments of its message wrongly"
UNZ = "segment 10 (UNZ): UNZ counts the messages of its interchange wrongly"
PACKED = ("BGM+351+W+9", "NAD+DP+1::92", "CPS+1", "PAC+1++CT", "PCI+33E", f"GIN+BJ+{sscc(1)}")


@pytest.mark.parametrize(
    ("was", "now", "expected"),
    [
        ("UNT+8+M1'\n", "", "segment 9 (UNZ): a message is not closed by UNT; it may be cut off: reference 'M1'"),
        ("UNT+8", "UNT+9", f"{UNT}: it says 9, there are 8"),
        (
            "UNT+8",
            "UNT+",
            f"{UNT}: it says nothing, there are 8",
        ),
        ("8+M1", "8+M2", "segment 9 (UNT): UNT and UNH should have the same reference: 'M2' and 'M1'"),
        ("UNZ+1+77'\n", "", "segment 9 (UNZ): the interchange is not closed by UNZ; it may be cut off"),
        ("UNZ+1+77", "UNZ+1+78", "segment 10 (UNZ): UNZ and UNB should have the same reference: '78' and '77'"),
        (
            "UNZ+1",
            "UNZ+2",
            f"{UNZ}: it says 2, there are 1",
        ),
        ("UNZ+1", "UNT+1+M1'\nUNZ+1", "segment 10 (UNT): UNT closes a message that no UNH opened"),
        ("UNZ+1+77'", "UNZ+1+77'UNZ+1+77'", "segment 11 (UNZ): UNZ closes an interchange that no UNB opened"),
    ],
)
def test_a_wrong_envelope_in_edifact_is_one_warning_and_loses_nothing(was: str, now: str, expected: str) -> None:
    text = edifact(PACKED)
    assert was in text
    found = read_manifests("n.edi", text.replace(was, now, 1).encode())
    assert [str(warning) for warning in found.warnings] == [expected]
    assert len(found.manifests[0].cartons) == 1 and found.not_understood == ()


@pytest.mark.parametrize(
    ("was", "now", "expected"),
    [
        ("SE*7*0001~\n", "", "segment 9 (GE): ST is not closed by SE; the file may be cut off: control number 0001"),
        ("SE*7", "SE*8", "segment 9 (SE): SE01 counts the segments wrongly: it says 8, there are 7"),
        ("SE*7", "SE*", "segment 9 (SE): SE01 counts the segments wrongly: it says nothing, there are 7"),
        ("7*0001", "7*0002", "segment 9 (SE): SE02 and ST02 should be the same control number: '0002' and '0001'"),
        ("GE*1*1~\n", "", "segment 10 (IEA): GS is not closed by GE; the file may be cut off: control number 1"),
        ("GE*1*1", "GE*2*1", "segment 10 (GE): GE01 counts the transaction sets wrongly: it says 2, there are 1"),
        ("GE*1*1", "GE*1*2", "segment 10 (GE): GE02 and GS06 should be the same control number: '2' and '1'"),
        ("IEA*1", "IEA*2", "segment 11 (IEA): IEA01 counts the functional groups wrongly: it says 2, there are 1"),
        ("GE*1*1", "SE*1*1~\nGE*1*1", "segment 10 (SE): SE closes what was never opened"),
    ],
)
def test_a_wrong_envelope_in_x12_is_one_warning_and_loses_nothing(was: str, now: str, expected: str) -> None:
    text = ONE.decode()
    assert was in text
    found = read_manifests("n.x12", text.replace(was, now, 1).encode())
    assert [str(warning) for warning in found.warnings] == [expected]
    assert len(found.manifests[0].cartons) == 1 and found.not_understood == ()


def test_a_transaction_set_outside_of_a_group_is_said_to_be_so() -> None:
    text = ONE.decode().replace("GS*SH*SHIPPER*FIELD*20260301*0800*1*X*004010~\n", "")
    warned = [str(warning) for warning in read_manifests("n.x12", text.encode()).warnings]
    assert warned[0] == "segment 2 (ST): ST is outside of its envelope"


def test_references_of_an_order_without_a_package_are_the_shipments_and_of_one_with_a_package_its_own() -> None:
    found = by_x12(
        *("HL*2*1*O", "PRF*PO-1", "N1*BY**92*7", "HL*3*2*P", f"MAN*GM*{sscc(1)}"),
        *("HL*4*1*O", "PRF*PO-2", "N1*BY**92*8", "HL*5*4*P", f"MAN*GM*{sscc(2)}"),
        *("HL*6*1*O", "PRF*PO-3"),
    )
    assert {manifest.store: manifest.references for manifest in found.manifests} == {
        "7": (("order", "PO-3"), ("order", "PO-1")),
        "8": (("order", "PO-3"), ("order", "PO-2")),
    }


def packed_item(*packs: str) -> ManifestFile:
    """An item of six that holds two packs, each with what is said of it."""
    parts = ["HL*2*1*I", "LIN**VN*ITEM", "SN1**6*EA"]
    for number, count in enumerate(packs, 3):
        parts += [f"HL*{number}*2*P", f"MAN*GM*{sscc(number)}", *filter(None, [count])]
    return by_x12(*parts)


@pytest.mark.parametrize(
    ("packs", "quantities", "warned"),
    [
        (("", ""), [3, 3], False),
        (("SN1**2*EA", "SN1**4*EA"), [2, 4], False),
        (("SN1**2*EA", ""), [2, 4], False),
        (("", "", "", ""), [None, None, None, None], True),
        (("SN1**6*EA", ""), [6, None], True),
    ],
)
def test_an_item_that_holds_packs_is_shared_among_those_that_do_not_say_what_they_hold(
    packs: tuple[str, ...], quantities: list[int | None], warned: bool
) -> None:
    found = packed_item(*packs)
    assert [carton.contents[0].qty for carton in found.manifests[0].cartons] == quantities
    texts = [str(each) for each in found.warnings]
    assert any("how an item is spread over its packages is not said" in words for words in texts) is warned, texts


@pytest.mark.parametrize("width", [20, 35, 80])
@pytest.mark.parametrize("newline", ["\n", "\r\n"])
def test_a_message_that_was_wrapped_at_a_width_reads_the_same(width: int, newline: str) -> None:
    text = edifact((*PACKED, "LIN+1", "PIA+5+ITEM NUMBER 77:SA", "QTY+12:24:PCE"), after="")
    wrapped = newline.join(text[at : at + width] for at in range(0, len(text), width))
    found = read_manifests("n.edi", wrapped.encode())
    assert found.manifests == read_manifests("n.edi", text.encode()).manifests
    assert found.manifests[0].cartons[0].contents[0].item == "ITEM NUMBER 77"


def test_another_transaction_set_is_listed_as_it_stands_and_left_out() -> None:
    data = ONE.replace(b"ST*856", b"ST*810*0009~\nBIG*1~\nSE*3*0009~\nST*856")
    found = read_manifests("n.x12", data)
    (listed,) = found.not_understood
    assert (listed.line, listed.text) == (3, "ST*810*0009")
    assert str(listed.why) == "transaction set '810' is not an advance ship notice (856) and was left out"
    assert [manifest.shipment for manifest in found.manifests] == ["W"]


@pytest.mark.parametrize(
    ("td1", "expected"),
    [
        ("TD1**2", "TD1 counts 2 packages, the notice lists 1"),
        ("TD1*CTN25*2", "TD1 counts 2 packages (CTN25), the notice lists 1"),
        ("TD1*CTN25*1", ""),
        ("TD1*PLT*2", ""),
        ("TD1*CTN25", ""),
    ],
)
def test_packages_that_a_shipment_counts_are_compared_with_those_that_are_listed(td1: str, expected: str) -> None:
    found = by_x12(td1, "HL*2*1*P", f"MAN*GM*{sscc(1)}")
    words = [str(warning) for warning in found.warnings]
    assert [each.partition(": ")[2] for each in words] == ([expected] if expected else [])


@pytest.mark.parametrize("qualifier", ["BJ", "AW"])
def test_an_sscc_in_edifact_is_one_by_each_of_its_codes(qualifier: str) -> None:
    found = by_edifact("NAD+DP+1::92", "CPS+1", "PAC+1++CT", "PCI+33E", f"GIN+{qualifier}+{sscc(1)}")
    assert str(found.manifests[0].cartons[0].sscc) == sscc(1)


@pytest.mark.parametrize("tail", [">A", "**", "*~"])
def test_a_header_whose_signs_cannot_tell_elements_apart_is_refused_by_its_end(tail: str) -> None:
    head = isa().removesuffix(">~")
    with pytest.raises(ManifestFaults) as raised:
        read_manifests("n.x12", f"{head}{tail}GS*SH*SHIPPER*FIELD*20260301*0800*1*X*004010~".encode())
    (fault,) = raised.value.faults
    assert str(str(fault.message)).startswith(f"the ISA ends in '{tail}") and fault.column == 16
