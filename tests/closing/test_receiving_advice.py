"""The receiving advice and the three standard messages that carry it, each read back by a reader not ours."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
import x12
from pydifact.segmentcollection import Interchange

from receiving.closing import (
    Parties,
    receiving_advice,
    receiving_advice_edifact,
    receiving_advice_x12,
    receiving_events,
)
from receiving.closing.epcis import event_id
from receiving.errors import BadRequest
from receiving.matching import counted_lines
from receiving.model import (
    Address,
    AdvisedState,
    Carton,
    CartonFinding,
    CartonState,
    ContentCounted,
    ContentLine,
    Damage,
    DamageNoted,
    How,
    Manifest,
    Over,
    OverReason,
    Place,
    RawRead,
    ReceivingAdvice,
    Reconciliation,
    Source,
    Sscc,
)
from receiving.model import CartonKind as Kind
from tests.spoken import verbatim

NOW = datetime(2026, 12, 1, 15, 30, tzinfo=UTC)
PARTIES = Parties("0614141000012", "SHIPPER")
GTIN = "09521234543213"
"""GTIN-14 of the prefix that GS1 keeps for examples."""


def sscc(serial: int) -> Sscc:
    from receiving.model import mod10_check_digit

    digits = f"0952{serial:013d}"
    return Sscc(digits + mod10_check_digit(digits))


BOX = Carton("00", Kind.OUTER, sscc(100))
RAIL = Carton("01", Kind.PARTS, sscc(101), outer="00", contents=(ContentLine("", None, GTIN, "Rail", 10, "ea"),))
TRAY = Carton("02", Kind.OTHER, sscc(102), outer="00", contents=(ContentLine("North", Address("North", 3, 2), "T-4"),))
HEADER = Carton("03", Kind.HEADER, sscc(103))
TAGS = Carton("04", Kind.TAGS, barcode="TAGS-4", contents=(ContentLine("North", None, "TG", "Tags", 40),))
MANIFEST = Manifest("S-1", "0417", (BOX, RAIL, TRAY, HEADER, TAGS), references=(("order", "PO-77"), ("letter", "x")))
COUNTED = ContentCounted("n1", NOW, "Ada", "01", item=GTIN, qty=8)
BENT = DamageNoted("n2", NOW, "Ada", "01", Damage.ARRIVED, False, item=GTIN, qty=3)
CRUSHED = DamageNoted("n3", NOW, "Ada", "03", Damage.ARRIVED, False)
READS = tuple(
    RawRead(f"r{number}", NOW - timedelta(hours=5, minutes=-number), Source.SCANNER, str(number)) for number in range(4)
)


def found(carton: Carton, state: CartonState, *evidence: str, damage: tuple[DamageNoted, ...] = ()) -> CartonFinding:
    return CartonFinding(
        carton, state, verbatim(""), How.SSCC, evidence, Place.DOCK if evidence else None, damage=damage
    )


STATE = Reconciliation(
    "S-1",
    "0417",
    (
        found(BOX, CartonState.RECEIVED, "r0"),
        found(RAIL, CartonState.RECEIVED, "r1", damage=(BENT,)),
        found(TRAY, CartonState.INSIDE),
        found(HEADER, CartonState.RECEIVED, "r3", damage=(CRUSHED,)),
        found(TAGS, CartonState.SHORT),
    ),
    over=(
        Over("(00)…", OverReason.OTHER_STORE, ("r9",), sscc=sscc(900)),
        Over("4006381333931", OverReason.NOT_A_CARTON_LABEL, ("r8",)),
    ),
)


def advice_of(state: Reconciliation = STATE, manifest: Manifest = MANIFEST) -> ReceivingAdvice:
    counted = counted_lines(manifest, state, (COUNTED, BENT, CRUSHED))
    return receiving_advice(manifest, state, counted, READS, number=1, confirmed_at=NOW)


def test_every_carton_of_the_manifest_is_advised_once_in_its_state() -> None:
    advice = advice_of()
    assert [(each.carton, each.state) for each in advice.cartons] == [
        ("00", AdvisedState.RECEIVED),
        ("01", AdvisedState.RECEIVED),
        ("02", AdvisedState.UNSEEN),
        ("03", AdvisedState.DAMAGED),
        ("04", AdvisedState.MISSING),
    ]
    assert [over.sscc for over in advice.over] == [sscc(900)]


def test_counts_and_damage_of_contents_are_told_in_whole_items() -> None:
    rails, tags = advice_of().cartons[1].items[0], advice_of().cartons[4].items[0]
    assert (rails.despatched, rails.received, rails.damaged, rails.short, rails.counted) == (10, 8, 3, 2, True)
    assert (tags.despatched, tags.received, tags.short, tags.counted) == (40, 0, 40, False)


def test_a_carton_is_seen_when_its_first_read_was_made() -> None:
    assert advice_of().cartons[3].seen_at == READS[3].read_at


# pydifact looks for a directory of segments that it does not ship, and says so for every segment.
NO_DIRECTORY = pytest.mark.filterwarnings("ignore::pydifact.exceptions.MissingImplementationWarning")


def written_x12(advice: ReceivingAdvice) -> list[list[str]]:
    """The segments as the package ansi-x12 reads them, which refuses wrong counts and control numbers."""
    document = x12.tokenize_x12(receiving_advice_x12(advice, PARTIES, control=7, written_at=NOW).encode())
    assert len(x12.parse_x12_interchange(document).groups) == 1
    return [[segment.tag, *(element.decode() for element in segment.elements)] for segment in document.segments]


def test_x12_states_received_short_damaged_and_over() -> None:
    lines = written_x12(advice_of())
    assert [line for line in lines if line[0] == "RCD"] == [
        ["RCD", "1", "1", "CT"],
        ["RCD", "2", "8", "EA", "", "", "3", "EA", "01", "2", "EA", "02"],
        ["RCD", "3", "0", "EA", "", "", "1", "EA", "02"],
        ["RCD", "4", "1", "CT", "", "", "1", "CT", "01"],
        ["RCD", "5", "0", "EA", "", "", "40", "EA", "02"],
        ["RCD", "6", "1", "CT", "", "", "1", "CT", "03"],
    ]
    assert [line for line in lines if line[0] == "LIN"] == [
        ["LIN", "", "UK", GTIN],
        ["LIN", "", "VN", "T-4"],
        ["LIN", "", "VN", "TG"],
    ]
    assert ["MAN", "GM", f"00{sscc(101)}", "", "CA", "01"] in lines
    assert ["MAN", "CA", "TAGS-4"] in lines
    assert ["N1", "ST", "", "92", "0417"] in lines


@NO_DIRECTORY
def test_the_advice_of_a_later_receipt_says_that_it_takes_the_place_of_the_one_before() -> None:
    """Elements 353 (X12) and 1225 (EDIFACT): original, replace; 1153 ACW: the number of the message before."""
    first, later = advice_of(), replace(advice_of(), number=2)
    begins = [next(line for line in written_x12(each) if line[0] == "BRA") for each in (first, later)]
    assert [(line[1], line[3]) for line in begins] == [("S-1-R1", "00"), ("S-1-R2", "05")]
    for advice, function, before in ((first, "9", []), (later, "5", [["ACW", "S-1-R1"]])):
        text = receiving_advice_edifact(advice, PARTIES, control=7, written_at=NOW)
        (message,) = Interchange.from_str(text).get_messages()
        segments = [(each.tag, each.elements) for each in message.segments]
        assert [elements[2] for tag, elements in segments if tag == "BGM"] == [function]
        assert [e[0] for tag, e in segments if tag == "RFF" and e[0][0] == "ACW"] == before


def test_x12_counts_its_segments_and_lines() -> None:
    lines = receiving_advice_x12(advice_of(), PARTIES, control=7, written_at=NOW).split("~\n")[:-1]
    start, end = (next(i for i, line in enumerate(lines) if line.startswith(tag)) for tag in ("ST*", "SE*"))
    assert lines[end] == f"SE*{end - start + 1}*0001"
    assert f"CTT*{sum(line.startswith('RCD') for line in lines)}" in lines
    assert len(lines[0]) == 105, "ISA is 106 characters with its terminator (X12.5)"


@NO_DIRECTORY
def test_edifact_reads_back_with_an_independent_reader() -> None:
    text = receiving_advice_edifact(advice_of(), PARTIES, control=7, written_at=NOW)
    interchange = Interchange.from_str(text)
    (message,) = interchange.get_messages()
    assert message.type == "RECADV" and message.version == "D.01B"
    tags = [(segment.tag, segment.elements) for segment in message.segments]
    assert ("GIN", ["BJ", str(sscc(101))]) in tags
    assert [elements for tag, elements in tags if tag == "QTY"] == [
        [["12", "10"]],
        [["194", "5"]],
        [["12", "1"]],
        [["194", "0"]],
        [["12", "40"]],
        [["194", "0"]],
    ]
    assert [elements for tag, elements in tags if tag == "QVR"] == [
        [["-3", "124"], "AF"],
        [["-2", "12"], "CP"],
        [["-1", "12"], "CP"],
        [["-1", "12"], "CP"],
        [["-1", "124"], "AF"],
        [["-1", "12"], "CP"],
        [["-40", "12"], "CP"],
        [["1", "194"], "AE"],
    ]
    assert ("CNT", [["2", "3"]]) in tags


def test_edifact_counts_its_segments() -> None:
    text = receiving_advice_edifact(advice_of(), PARTIES, control=7, written_at=NOW)
    segments = text.removeprefix("UNA:+.? '").split("'\n")[:-1]
    inside = segments[1:-1]
    assert inside[-1] == f"UNT+{len(inside)}+1"


@NO_DIRECTORY
def test_edifact_releases_its_own_signs_and_x12_refuses_them() -> None:
    odd = replace(MANIFEST, shipment="S'1+a:b?*")
    advice = advice_of(manifest=odd)
    text = receiving_advice_edifact(advice, PARTIES, control=1, written_at=NOW)
    (message,) = Interchange.from_str(text).get_messages()
    assert ["AAK", "S'1+a:b?*"] in [s.elements[0] for s in message.segments if s.tag == "RFF"]
    with pytest.raises(BadRequest, match="which an X12 861 message cannot carry"):
        receiving_advice_x12(advice, PARTIES, control=1, written_at=NOW)


@pytest.mark.parametrize("write", [receiving_advice_x12, receiving_advice_edifact])
def test_a_number_that_a_message_cannot_hold_is_never_shortened(write: object) -> None:
    advice = advice_of(manifest=replace(MANIFEST, shipment="S" * 90))
    with pytest.raises(BadRequest, match="characters; an"):
        write(advice, PARTIES, control=1, written_at=NOW)  # type: ignore[operator]


def events(**options: object) -> list[dict[str, object]]:
    document = receiving_events(advice_of(), base="https://receiving.example.com", **options)  # type: ignore[arg-type]
    return document["epcisBody"]["eventList"]  # type: ignore[no-any-return]


def test_events_tell_arrival_unpacking_receipt_and_what_was_wrong() -> None:
    facts = [(e["type"], e["action"], e["bizStep"], e["disposition"]) for e in events()]
    assert facts == [
        ("ObjectEvent", "OBSERVE", "arriving", "in_progress"),
        ("AggregationEvent", "DELETE", "unpacking", "in_progress"),
        ("ObjectEvent", "OBSERVE", "receiving", "in_progress"),
        ("ObjectEvent", "OBSERVE", "inspecting", "damaged"),
        ("ObjectEvent", "OBSERVE", "inspecting", "mismatch_quantity"),
    ]
    arrived, unpacked, received, damaged, differing = events()
    assert unpacked["parentID"] == f"https://id.gs1.org/00/{BOX.sscc}"
    assert unpacked["childEPCs"] == [f"https://id.gs1.org/00/{RAIL.sscc}"]
    assert arrived["epcList"] == [f"https://id.gs1.org/00/{carton.sscc}" for carton in (BOX, RAIL, HEADER)]
    assert received["epcList"] == [*arrived["epcList"], f"https://id.gs1.org/00/{sscc(900)}"]  # type: ignore[misc]
    assert damaged["epcList"] == [f"https://id.gs1.org/00/{HEADER.sscc}"]
    assert damaged["quantityList"] == [{"epcClass": f"https://id.gs1.org/01/{GTIN}", "quantity": 3}]
    assert differing["quantityList"] == [{"epcClass": f"https://id.gs1.org/01/{GTIN}", "quantity": 8}]
    assert differing["receiving:missing"] == [
        f"https://id.gs1.org/00/{TRAY.sscc}",
        "https://receiving.example.com/shipments/S-1/cartons/04",
    ]
    assert differing["receiving:over"] == [f"https://id.gs1.org/00/{sscc(900)}"]


def test_the_same_short_item_in_two_cartons_is_counted_twice() -> None:
    second = replace(RAIL, carton="05", sscc=sscc(105))
    manifest = replace(MANIFEST, cartons=(RAIL, second))
    state = Reconciliation("S-1", "0417", tuple(found(each, CartonState.RECEIVED, "r1") for each in manifest.cartons))
    notes = [replace(COUNTED, note_id=f"n{carton.carton}", carton=carton.carton) for carton in manifest.cartons]
    advice = receiving_advice(manifest, state, counted_lines(manifest, state, notes), READS, number=1, confirmed_at=NOW)
    (event,) = [
        e
        for e in receiving_events(advice, base="https://a.example")["epcisBody"]["eventList"]
        if e["disposition"] == "mismatch_quantity"
    ]
    assert event["quantityList"] == [{"epcClass": f"https://id.gs1.org/01/{GTIN}", "quantity": 16}]


def test_times_carry_the_stores_offset_beside_them() -> None:
    (arrived, *_rest) = events(zone=ZoneInfo("America/Chicago"))
    assert (arrived["eventTime"], arrived["eventTimeZoneOffset"]) == ("2026-12-01T10:30:00.000Z", "-06:00")


def test_the_event_id_is_the_published_hash() -> None:
    # CBV 2.0, section 8.9.2; example and hash of the algorithm's reference implementation, release 1.9.3 (MIT).
    event = {
        "type": "ObjectEvent",
        "action": "OBSERVE",
        "bizStep": "shipping",
        "disposition": "in_transit",
        "epcList": ["https://id.gs1.org/01/10614141073464/21/2018", "https://id.gs1.org/01/10614141073464/21/2017"],
        "eventTime": "2022-02-17T02:33:31.116Z",
        "eventTimeZoneOffset": "-06:00",
        "readPoint": {"id": "https://id.gs1.org/414/0614141073467/254/1234"},
        "bizTransactionList": [{"type": "po", "bizTransaction": "http://transaction.acme.com/po/12345678"}],
    }
    wanted = "ni:///sha-256;ffa491b16867e34a7791a8d5389d826afc24e63a121026b6a4004ace38631b4b?ver=CBV2.0"
    assert event_id(event, "https://receiving.example.com/terms#") == wanted


def test_the_event_id_changes_with_every_value_and_not_with_the_order_of_lists() -> None:
    vocabulary = "https://receiving.example.com/terms#"
    for event in events():
        own = event_id(event, vocabulary)
        assert own == event["eventID"]
        for name, value in event.items():
            if isinstance(value, list):
                assert event_id({**event, name: value[::-1]}, vocabulary) == own
            if name != "eventID" and value != []:
                assert event_id({**event, name: _other(value)}, vocabulary) != own, name


def _other(value: object) -> object:
    if isinstance(value, str):
        return f"{value}x"
    if isinstance(value, dict):
        return {name: _other(inner) for name, inner in value.items()}
    if isinstance(value, list):
        return [_other(value[0]), *value[1:]]
    return int(str(value)) + 1


@pytest.mark.parametrize(
    "base",
    [
        *("receiving", "ftp://a.example", "https://", "https:///x", "https://exa mple.com", "https://a.example/x y"),
        *("https://a.example\n", "https://bücher.example", "https://a.example/a|b", "https://a.example/%zz"),
        *("https://a.example?q=1", "https://a.example#terms", "https://:443", "https://ada:pw@a.example"),
    ],
)
def test_names_stand_only_under_an_address(base: str) -> None:
    with pytest.raises(BadRequest, match="is not an address"):
        receiving_events(advice_of(), base=base)
