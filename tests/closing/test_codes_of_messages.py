"""Every code that a message may hold, each name and qualifier by itself; codes are those of X12 005010 and D.01B."""

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta, timezone

import pytest
from pydifact.segmentcollection import Interchange

from receiving.closing import Parties, receiving_advice_edifact, receiving_advice_x12, receiving_events
from receiving.closing.advice import is_gln, is_gtin
from receiving.errors import BadRequest
from receiving.model import AdvisedItem, AdvisedOver, AdvisedState, OverReason, ReceivingAdvice
from tests.closing.test_receiving_advice import GTIN, NO_DIRECTORY, NOW, PARTIES, advice_of, sscc, written_x12

GLN = "9521234000006"


def with_item(item: AdvisedItem, state: AdvisedState = AdvisedState.RECEIVED) -> ReceivingAdvice:
    """An advice of one carton that holds this one item."""
    advice = advice_of()
    return replace(advice, cartons=(replace(advice.cartons[1], state=state, items=(item,)),), over=())


def edifact(advice: ReceivingAdvice) -> list[str]:
    text = receiving_advice_edifact(advice, PARTIES, control=7, written_at=NOW)
    return text.removeprefix("UNA:+.? '").split("'\n")[:-1]


# --- X12 861 -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "qualifier"),
    [("order", "PO"), ("bill of lading", "BM"), ("carrier reference", "CN"), ("packing list", "PK")],
)
def test_x12_names_the_references_that_it_knows(name: str, qualifier: str) -> None:
    advice = replace(advice_of(), references=((name, "A-1"), ("letter", "x")))
    references = [line for line in written_x12(advice) if line[0] == "REF"]
    assert references == [["REF", "SI", "S-1"], ["REF", qualifier, "A-1"]]


@pytest.mark.parametrize(
    ("unit", "code"),
    [("", "EA"), ("ea", "EA"), ("Each", "EA"), ("pc", "PC"), ("PCS", "PC"), ("piece", "PC"), ("set", "ST"),
     ("kit", "KT"), ("bundle", "EA")],
)  # fmt: skip
def test_x12_counts_in_the_manifests_unit(unit: str, code: str) -> None:
    item = AdvisedItem("R-1", "Rail", unit, despatched=10, received=12, damaged=1, counted=True)
    (line,) = [line for line in written_x12(with_item(item)) if line[0] == "RCD"]
    assert line == ["RCD", "1", "12", code, "", "", "1", code, "01", "2", code, "03"]


@pytest.mark.parametrize(
    ("item", "qualifier"),
    [
        ("95200002", "EO"),
        ("952123456788", "VN"),
        ("614141000036", "UP"),
        ("9521234543213", "EN"),
        (GTIN, "UK"),
        ("9521234543214", "VN"),
        ("R-1", "VN"),
    ],
)
def test_x12_qualifies_an_item_by_the_length_of_its_gtin(item: str, qualifier: str) -> None:
    lines = written_x12(with_item(AdvisedItem(item, "Rail", "ea", 1, 1, 0, False)))
    assert ["LIN", "", qualifier, item] in lines


def test_x12_says_of_an_item_without_number_nothing_but_its_count() -> None:
    lines = written_x12(with_item(AdvisedItem("", "Rail", "ea", 1, 1, 0, False)))
    assert [line[0] for line in lines if line[0] in ("RCD", "LIN", "MAN")] == ["RCD", "MAN"]


def test_x12_gives_an_extra_carton_by_its_sscc_or_by_what_stands_on_it() -> None:
    over = (AdvisedOver("BOX 7", OverReason.NOT_ON_MANIFEST), AdvisedOver("", OverReason.OTHER_STORE, sscc(900)))
    lines = written_x12(replace(advice_of(), cartons=(), over=over))
    assert [line for line in lines if line[0] in ("RCD", "MAN")] == [
        ["RCD", "1", "1", "CT", "", "", "1", "CT", "03"],
        ["MAN", "CA", "BOX 7"],
        ["RCD", "2", "1", "CT", "", "", "1", "CT", "03"],
        ["MAN", "GM", f"00{sscc(900)}"],
    ]


def test_x12_of_a_damaged_carton_has_all_its_items_damaged() -> None:
    item = AdvisedItem("R-1", "Rail", "ea", 10, 8, 3, True)
    (line,) = [line for line in written_x12(with_item(item, AdvisedState.DAMAGED)) if line[0] == "RCD"]
    assert line == ["RCD", "1", "8", "EA", "", "", "8", "EA", "01", "2", "EA", "02"]


def test_x12_heads_the_interchange_with_who_when_and_which() -> None:
    at = NOW.astimezone(timezone(timedelta(hours=-6)))
    text = receiving_advice_x12(replace(advice_of(), store=GLN), PARTIES, control=42, written_at=at, usage="T")
    lines = [line.split("*") for line in text.split("~\n")]
    assert lines[0] == [
        *("ISA", "00", " " * 10, "00", " " * 10, "ZZ", "0614141000012  ", "ZZ", "SHIPPER        "),
        *("261201", "1530", "^", "00501", "000000042", "0", "T", ">"),
    ]
    assert lines[1] == ["GS", "RC", "0614141000012", "SHIPPER", "20261201", "1530", "42", "X", "005010"]
    assert lines[2:4] == [["ST", "861", "0001"], ["BRA", advice_of().document, "20261201", "00", "1", "1530"]]
    assert ["DTM", "050", "20261201", "1530"] in lines
    assert ["N1", "ST", "", "UL", GLN] in lines
    assert lines[-3:] == [["GE", "1", "42"], ["IEA", "1", "000000042"], [""]]


# --- EDIFACT RECADV ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "qualifier"),
    [("order", "ON"), ("bill of lading", "BM"), ("despatch advice", "AAK"), ("delivery note", "DQ")],
)
def test_edifact_names_the_references_that_it_knows(name: str, qualifier: str) -> None:
    lines = edifact(replace(advice_of(), references=((name, "A-1"), ("letter", "x"))))
    assert [line for line in lines if line.startswith("RFF")] == ["RFF+AAK:S-1", f"RFF+{qualifier}:A-1"]


@NO_DIRECTORY
def test_edifact_heads_the_message_with_who_when_and_which() -> None:
    at = NOW.astimezone(timezone(timedelta(hours=-6)))
    text = receiving_advice_edifact(replace(advice_of(), store=GLN), PARTIES, control=42, written_at=at, test=True)
    assert text.startswith(
        "UNA:+.? 'UNB+UNOC:3+0614141000012:14+SHIPPER+261201:1530+42++++++1'\nUNH+1+RECADV:D:01B:UN:EA"
    )
    assert text.endswith("UNZ+1+42'\n")
    (message,) = Interchange.from_str(text).get_messages()
    segments = [(segment.tag, segment.elements) for segment in message.segments]
    assert ("BGM", ["632", advice_of().document, "9"]) in segments
    assert [elements for tag, elements in segments if tag == "DTM"] == [
        [["137", "202612011530", "203"]],
        [["50", "202612011530", "203"]],
    ]
    assert [elements for tag, elements in segments if tag == "NAD"] == [
        ["BY", ["0614141000012", "", "9"]],
        ["SU", ["SHIPPER", "", "92"]],
        ["DP", [GLN, "", "9"]],
    ]
    plain = receiving_advice_edifact(advice_of(), PARTIES, control=42, written_at=at)
    assert plain.splitlines()[0].endswith("+42'")


def test_edifact_hangs_each_package_in_the_one_that_it_came_in() -> None:
    lines = edifact(advice_of())
    assert [line for line in lines if line.startswith("CPS")] == [
        "CPS+1",
        "CPS+2+1",  # the outer box
        "CPS+3+2",  # in it
        "CPS+4+2",
        "CPS+5+1",
        "CPS+6+1",
        "CPS+7+1",  # the extra one
    ]
    assert lines.count("PAC+1++CT") == 6
    assert "PCI+24+TAGS-4" in lines and f"GIN+BJ+{sscc(900)}" in lines
    assert lines[lines.index("PCI+33E") + 1] == f"GIN+BJ+{sscc(100)}"


def test_edifact_tells_items_by_gtin_or_number_with_damaged_short_and_over() -> None:
    gtin = edifact(with_item(AdvisedItem(GTIN, "Rail", "ea", 10, 12, 3, True)))
    start = gtin.index(f"LIN+1++{GTIN}:SRV")
    assert gtin[start : start + 5] == [f"LIN+1++{GTIN}:SRV", "QTY+12:10", "QTY+194:9", "QVR+-3:124+AF", "QVR+2:12+AC"]
    number = edifact(with_item(AdvisedItem("R-1", "Rail", "ea", 10, 7, 0, True)))
    start = number.index("LIN+1")
    assert number[start : start + 5] == ["LIN+1", "PIA+1+R-1:SA", "QTY+12:10", "QTY+194:7", "QVR+-3:12+CP"]
    nothing = edifact(with_item(AdvisedItem("", "Rail", "ea", 1, 1, 0, False)))
    assert nothing[nothing.index("LIN+1") + 1] == "QTY+12:1"


def test_a_value_that_is_empty_or_cannot_be_written_is_named() -> None:
    for advice, words in (
        (replace(advice_of(), store=" "), "The store number is empty, and an X12 861 message needs it."),
        (replace(advice_of(), store="04\n17"), "holds '\\\\n', which an X12 861 message cannot carry"),
        (replace(advice_of(), store="Łódź"), "holds 'ó', 'Ł', 'ź', which an X12 861 message cannot carry"),
    ):
        with pytest.raises(BadRequest, match=words):
            receiving_advice_x12(advice, PARTIES, control=1, written_at=NOW)
    receiving_advice_x12(replace(advice_of(), store="S" * 80), PARTIES, control=1, written_at=NOW)
    with pytest.raises(BadRequest, match="has 81 characters; an X12 861 message carries 80 at most"):
        receiving_advice_x12(replace(advice_of(), store="S" * 81), PARTIES, control=1, written_at=NOW)


def of_length(part: str, length: int) -> tuple[ReceivingAdvice, Parties]:
    """An advice with one value, or one party, of this many characters."""
    advice, text = replace(advice_of(), references=()), "S" * length
    match part:
        case "receipt":
            return replace(advice, shipment=text.removesuffix("S" * (len(advice.document) - len("S-1")))), PARTIES
        case "reference":
            return replace(advice, references=(("order", text),)), PARTIES
        case "store":
            return replace(advice, store=text), PARTIES
        case "item":
            return with_item(AdvisedItem(text, "Rail", "ea", 1, 1, 0, False)), PARTIES
        case "carton":
            (first, *_) = advice.cartons
            return replace(advice, cartons=(replace(first, carton=text, number=text, sscc=None),), over=()), PARTIES
        case "extra":
            return replace(advice, cartons=(), over=(AdvisedOver(text, OverReason.NOT_ON_MANIFEST),)), PARTIES
    return advice, Parties(text, "SHIPPER") if part == "sender" else Parties("STORE", text)


@pytest.mark.parametrize(
    ("write", "part", "most"),
    [
        # X12 005010, data elements 127 (1/50), 67 (2/80), I06 and I07 (15), 234 and 87 (1/48): from memory.
        *((receiving_advice_x12, part, 50) for part in ("receipt", "reference")),
        (receiving_advice_x12, "store", 80),
        *((receiving_advice_x12, part, 15) for part in ("sender", "receiver")),
        *((receiving_advice_x12, part, 48) for part in ("item", "carton", "extra")),
        # UN/EDIFACT D.01B, data elements 1004, 3039, 7140 and 7102 (an..35), 1154 (an..70); 0004 and 0010 (an..35) of
        # the syntax: from memory.
        (receiving_advice_edifact, "reference", 70),
        *((receiving_advice_edifact, part, 35) for part in ("receipt", "store", "sender", "receiver")),
        *((receiving_advice_edifact, part, 35) for part in ("item", "carton", "extra")),
    ],
)
def test_a_value_is_as_long_as_its_data_element_and_no_longer(write: Callable[..., str], part: str, most: int) -> None:
    advice, parties = of_length(part, most)
    assert "S" * (most - 5) in write(advice, parties, control=1, written_at=NOW)
    advice, parties = of_length(part, most + 1)
    with pytest.raises(BadRequest, match=rf"has {most + 1} characters; .* carries {most} at most"):
        write(advice, parties, control=1, written_at=NOW)


@pytest.mark.parametrize(
    ("number", "gln", "gtin"),
    [
        ("9521234543213", True, True),
        ("9521234543214", False, False),
        (GTIN, False, True),
        ("95200002", False, True),
        ("614141000036", False, True),
        ("0000000000", False, False),
    ],
)
def test_a_gln_has_13_digits_and_a_gtin_8_12_13_or_14(number: str, gln: bool, gtin: bool) -> None:
    assert (is_gln(number), is_gtin(number)) == (gln, gtin)


# --- EPCIS ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("hours", "offset"),
    [(0, "+00:00"), (-6, "-06:00"), (5.75, "+05:45"), (-3.5, "-03:30"), (14, "+14:00"), (15, "+00:00")],
)
def test_the_offset_is_that_of_the_store_where_epcis_can_write_it(hours: float, offset: str) -> None:
    zone = timezone(timedelta(hours=hours))
    (event, *_) = receiving_events(advice_of(), base="https://a.example", zone=zone)["epcisBody"]["eventList"]
    assert event["eventTimeZoneOffset"] == offset


def test_what_has_no_gs1_key_is_named_under_the_services_own_address() -> None:
    over = (AdvisedOver("BOX 7/8", OverReason.NOT_ON_MANIFEST),)
    advice = replace(with_item(AdvisedItem("", "Rail end", "ea", 10, 8, 0, True)), over=over)
    events = receiving_events(advice, base="https://a.example/")["epcisBody"]["eventList"]
    (differing,) = [each for each in events if each["disposition"] == "mismatch_quantity"]
    assert differing["receiving:over"] == ["https://a.example/codes/BOX%207%2F8"]
    assert differing["quantityList"] == [{"epcClass": "https://a.example/items/Rail%20end", "quantity": 8}]
