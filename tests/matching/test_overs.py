"""Whose a label is that is not on the manifest, by codes, store and shipment; and what is not a label of a carton.

A carton that is too much here is missing somewhere: the answer says where.

A printed number is not proof, since every sibling shipment has it; and a pile of another shipment says so.
"""

from dataclasses import replace

import pytest

from receiving.matching import Elsewhere, reconcile, with_owners
from receiving.matching.catalogue import Catalogue
from receiving.matching.observations import Observation
from receiving.matching.overs import (
    _is_carton_code,
    _is_other_store,
    names_this_shipment,
    over_by_name,
    says_it_is_ours,
)
from receiving.model import CartonKind, CartonState, LabelRead, Manifest, OverReason, ReadAssigned, Source
from tests.matching.scenes import NOON, at, carton, manifest, read, sscc
from tests.matching.test_reconcile import explanation_of, names
from tests.spoken import in_words

OURS = manifest(carton("01", (1, 1)), replace(carton("02", code=0), barcode="KX-0147"), store="0417")

THEIRS = manifest(
    carton("01", (1, 1), code=2001), replace(carton("02", code=0), barcode="KX-0999"), shipment="SH-2", store="0422"
)

OURS_TOO = manifest(carton("01", code=3001), shipment="SH-3", store="417")

ELSEWHERE = (THEIRS, OURS_TOO)


def catalogue(*others: Manifest) -> Catalogue:
    return Catalogue(OURS, Elsewhere.of(others or ELSEWHERE))


def label(**claim: object) -> Observation:
    return Observation((read(1, photo="p", **claim),))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("claim", "right", "ours"),
    [
        ({}, True, False),
        ({"store": "0417"}, True, True),
        ({"store": "417"}, True, True),
        ({"store": "0422"}, False, False),
        ({"shipment": "SH-1"}, True, True),
        ({"shipment": "sh-1"}, True, True),
        ({"shipment": "SH-2"}, False, False),
        ({"shipment": "SH-1", "store": "0422"}, False, False),
        ({"shipment": "SH-2", "store": "0417"}, False, False),
        ({"shipment": "SH-1", "store": "0417"}, True, True),
    ],
)
def test_a_label_is_this_shipments_unless_it_names_another(claim: dict[str, object], right: bool, ours: bool) -> None:
    assert names_this_shipment(label(**claim), catalogue()) is right
    assert says_it_is_ours(label(**claim), catalogue()) is ours


@pytest.mark.parametrize(
    ("store", "other"),
    [("0417", False), ("417", False), ("0422", True), ("0999", True), ("9999", True), ("99", False), ("ABC1", False)],
)
def test_another_store_is_one_that_is_known_or_whose_number_is_built_like_ours(store: str, other: bool) -> None:
    assert _is_other_store(store, catalogue()) is other


def test_a_known_store_is_another_one_however_its_number_is_built() -> None:
    assert _is_other_store("HARBOR", catalogue(replace(THEIRS, store="HARBOR")))


@pytest.mark.parametrize(
    ("claim", "reason"),
    [
        ({"sscc": sscc(2001)}, OverReason.OTHER_STORE),
        ({"sscc": sscc(3001)}, OverReason.OTHER_SHIPMENT),
        ({"barcode": "KX-0999"}, OverReason.OTHER_STORE),
        ({"store": "0422"}, OverReason.OTHER_STORE),
        ({"shipment": "SH-2"}, OverReason.OTHER_STORE),
        ({"shipment": "sh-3"}, OverReason.OTHER_SHIPMENT),
        ({"shipment": "SH-1"}, None),
        ({"shipment": "SH-9"}, None),
        ({"sscc": sscc(9)}, None),
        ({}, None),
    ],
)
def test_a_label_is_another_shipments_by_its_code_store_or_name(
    claim: dict[str, object], reason: OverReason | None
) -> None:
    found = over_by_name(label(**claim), catalogue())
    assert (found.reason if found else None) is reason


def test_a_code_on_several_manifests_names_up_to_three_and_is_of_our_store_where_one_is() -> None:
    several = [manifest(carton("01", code=2001), shipment=f"SH-{n}", store=f"050{n}") for n in range(4, 9)]
    found = over_by_name(label(sscc=sscc(2001)), catalogue(*several))
    assert found is not None and found.reason is OverReason.OTHER_STORE and found.listed is None
    assert (found.why["count"], len(found.why["where"])) == (5, 3)
    ours = manifest(carton("01", code=2001), shipment="SH-9", store="0417")
    found = over_by_name(label(sscc=sscc(2001)), catalogue(*several, ours))
    assert found is not None and found.reason is OverReason.OTHER_SHIPMENT


@pytest.mark.parametrize(
    ("code", "symbology", "source", "is_carton"),
    [
        ("KX-7777", "]C0", Source.PHOTO, True),
        ("ANOTHER", "]C0", Source.PHOTO, False),
        ("ANOTHER", "]C0", Source.SCANNER, True),
        ("ANOTHER", "]Q1", Source.SCANNER, False),
        ("KX-7777", "]Q1", Source.SCANNER, True),
        ("ANOTHER", "]d1", Source.SCANNER, False),
        ("ANOTHER", "]L0", Source.SCANNER, False),
        ("ANOTHER", "]z0", Source.SCANNER, False),
        (" ", "]C0", Source.SCANNER, False),
        ("KX-7777", "]E0", Source.SCANNER, False),
        ("KX-7777", "]X0", Source.SCANNER, False),
        ("9521234543213", "]C0", Source.SCANNER, False),
        ("9521234543214", "]C0", Source.SCANNER, True),
    ],
)
def test_an_unknown_code_is_a_cartons_where_it_is_built_like_one_or_was_scanned_on_purpose(
    code: str, symbology: str, source: Source, is_carton: bool
) -> None:
    one = Observation((read(1, raw=code, barcode=code, symbology=symbology, source=source, photo="p"),))
    assert _is_carton_code(one, 0, catalogue()) is is_carton


def test_a_trade_item_number_is_a_products() -> None:
    one = Observation((read(1, raw="x", gtin="09521234543213", symbology="]C1", source=Source.SCANNER),))
    assert not _is_carton_code(one, 0, catalogue())


@pytest.mark.parametrize(
    ("theirs", "ours", "expected"),
    [(2, 0, False), (3, 0, True), (3, 1, False), (4, 1, True), (9, 6, True), (9, 7, False)],
)
def test_a_pile_is_another_shipments_from_three_labels_more_than_ours(theirs: int, ours: int, expected: bool) -> None:
    """The odds of a wrong page (1 in 99) times 19 for each label more: 69 for three, 3.6 for two; 20 are asked for."""
    other = manifest(*(carton(f"{n:02}", code=2000 + n) for n in range(1, 10)), shipment="SH-2", store="0422")
    here = manifest(*(carton(f"{n:02}") for n in range(1, 10)))
    reads: list[LabelRead] = [read(n, sscc=sscc(2000 + n)) for n in range(1, theirs + 1)]
    reads += [read(50 + n, sscc=sscc(1000 + n)) for n in range(1, ours + 1)]
    found = reconcile(here, reads, others=[other]).looks_like
    assert (found is not None) is expected
    if found:
        assert (found.shipment, found.labels, found.own) == ("SH-2", theirs, ours)


def test_the_likeliest_of_two_other_shipments_is_named() -> None:
    second = manifest(*(carton(f"{n:02}", code=4000 + n) for n in range(1, 10)), shipment="SH-4", store="0500")
    first = manifest(*(carton(f"{n:02}", code=2000 + n) for n in range(1, 10)), shipment="SH-2", store="0422")
    reads = [read(n, sscc=sscc(2000 + n)) for n in range(1, 5)] + [
        read(9 + n, sscc=sscc(4000 + n)) for n in range(1, 7)
    ]
    found = reconcile(OURS, reads, others=[first, second]).looks_like
    assert found is not None and (found.shipment, found.labels) == ("SH-4", 6)


@pytest.mark.parametrize(
    ("state", "words"),
    [
        (CartonState.SHORT, ", which is short of it"),
        (CartonState.INSIDE, ", where it is not seen yet"),
        (CartonState.RECEIVED, ", where a carton with this code is here as well"),
    ],
)
def test_an_over_says_how_its_own_shipment_stands_without_it(state: CartonState, words: str) -> None:
    result = reconcile(OURS, [read(1, sscc=sscc(2001))], others=[THEIRS])
    theirs = reconcile(THEIRS, [])
    theirs = replace(theirs, cartons=tuple(replace(found, state=state) for found in theirs.cartons))
    (before,), (after,) = result.over, with_owners(result, [theirs]).over
    assert in_words(after) == in_words(before) + words
    assert with_owners(result, [replace(theirs, store="0999")]).over == result.over
    assert with_owners(result, []).over == result.over


HERE = manifest(carton("01", (1, 1)))

THERE = manifest(carton("07", (1, 1), code=77), shipment="SH-2", store="0422")


def belongs(reads_there: list[object]) -> str:
    result = reconcile(HERE, [read(1, sscc=sscc(77))], others=[THERE])
    return in_words(with_owners(result, [reconcile(THERE, reads_there)]).over[0])  # type: ignore[arg-type]


def test_an_over_says_that_its_own_store_is_short_of_it() -> None:
    assert belongs([]) == "belongs to store 0422, shipment SH-2, carton 07, which is short of it"


def test_an_over_whose_own_store_has_it_is_a_code_used_twice() -> None:
    assert belongs([read(1, sscc=sscc(77))]).endswith("carton 07, where a carton with this code is here as well")


def test_an_over_of_an_unknown_shipment_is_left_as_it_is() -> None:
    result = reconcile(HERE, [read(1, sscc=sscc(5))], others=[THERE])
    assert with_owners(result, [reconcile(THERE, [])]) == result


def test_an_over_is_called_by_its_sscc_however_its_label_carries_it() -> None:
    link = read(1, f"https://id.gs1.org/00/{sscc(77)}", sscc=sscc(77))
    (over,) = reconcile(HERE, [link, read(2, sscc=sscc(77))], others=[THERE]).over
    assert over.code == f"SSCC {sscc(77)}"
    (nameless,) = reconcile(HERE, [read(1, "parcel 7", barcode="PARCEL7")], others=[THERE]).over
    assert nameless.code == "parcel 7"


def test_an_index_of_other_shipments_serves_as_well_as_the_shipments() -> None:
    reads = [read(1, sscc=sscc(77))]
    assert reconcile(HERE, reads, others=Elsewhere.of([HERE, THERE, THERE])) == reconcile(HERE, reads, others=[THERE])


def test_a_label_without_code_is_strange_by_the_store_and_shipment_that_it_names() -> None:
    for stated, why in (
        ({"store": "0422"}, OverReason.OTHER_STORE),
        ({"store": "0999"}, OverReason.OTHER_STORE),
        ({"shipment": "SH-2"}, OverReason.OTHER_STORE),
    ):
        result = reconcile(HERE, [read(1, address=at(1, 1), **stated)], others=[THERE])
        assert [over.why for over in result.over] == [why]
        assert not result.received


def test_a_store_number_without_its_zeros_is_the_same_store() -> None:
    assert reconcile(HERE, [read(1, address=at(1, 1), store="417")]).complete


def test_a_location_number_of_another_scheme_says_nothing_of_the_store() -> None:
    assert reconcile(HERE, [read(1, address=at(1, 1), store="9521234567899")]).complete


THREE = manifest(carton("01", (1, 1)), carton("02", (1, 2)), carton("03", (1, 3)))

SAME_PLACES = manifest(carton("07", (1, 1), code=77), carton("08", (1, 2), code=78), shipment="SH-2", store="0422")

OVER = read(1, sscc=sscc(77))


def test_a_torn_label_is_asked_for_where_an_over_is_here_whose_shipment_has_a_carton_for_its_place_as_well() -> None:
    result = reconcile(THREE, [OVER, read(2, address=at(1, 2))], others=[SAME_PLACES])
    assert [q.cartons for q in result.questions] == [("02",)]
    assert in_words(result.questions[0]) == (
        "The label says Oak, column 1, row 2, and nothing else can be read; store 0422, shipment SH-2, carton 08 has "
        "the same place, and a carton of that shipment is here. Is it carton 02, or none of this shipment?"
    )
    assert not result.received


def test_a_torn_label_matches_where_the_overs_shipment_has_no_other_carton_that_fits() -> None:
    torn_at_another = reconcile(THREE, [OVER, read(2, address=at(1, 3))], others=[SAME_PLACES])
    of_another_kind = reconcile(THREE, [OVER, read(2, address=at(1, 2), kind="tray")], others=[HEADERS])
    without_over = reconcile(THREE, [read(2, address=at(1, 2))], others=[SAME_PLACES])
    for result in (torn_at_another, of_another_kind, without_over):
        assert (len(result.received), result.questions) == (1, ())


HEADERS = manifest(
    carton("07", (1, 1), code=77), carton("08", (1, 2), code=78, kind=CartonKind.HEADER), shipment="SH-2", store="0422"
)


def test_a_torn_label_for_the_place_of_the_over_may_be_the_over_seen_again_and_is_asked_for() -> None:
    result = reconcile(THREE, [OVER, read(2, address=at(1, 1))], others=[SAME_PLACES])
    assert [q.cartons for q in result.questions] == [("01",)]


def test_a_torn_label_that_says_which_carton_of_how_many_matches_beside_an_over() -> None:
    torn = read(2, address=at(1, 2), carton_n=2, carton_total=3)
    result = reconcile(THREE, [OVER, torn], others=[SAME_PLACES])
    assert [f.carton.carton for f in result.received] == ["02"]


def test_an_over_known_by_its_store_alone_brings_others_of_its_shipment_too() -> None:
    reads = [read(1, address=at(1, 1), store="0422"), read(2, address=at(1, 2))]
    assert [q.cartons for q in reconcile(THREE, reads, others=[SAME_PLACES]).questions] == [("02",)]


def shipment(name: str, store: str, first: int) -> Manifest:
    cartons = [carton(f"{n:02}", (n, 1), code=first + n) for n in range(1, 9)]
    return manifest(*cartons, carton("09", code=0, barcode="KIT-09"), shipment=name, store=store)


OUR_SHIPMENT, THEIR_SHIPMENT = shipment("SH-1", "0417", 1000), shipment("SH-2", "0422", 2000)


def labels(first: int, count: int) -> list[LabelRead]:
    return [read(n, sscc=sscc(first + n)) for n in range(1, count + 1)]


def test_the_labels_of_another_open_shipment_say_whose_pile_it_is() -> None:
    found = reconcile(OUR_SHIPMENT, labels(2000, 5), others=[THEIR_SHIPMENT]).looks_like
    assert found is not None
    assert (found.shipment, found.store, found.labels, found.own) == ("SH-2", "0422", 5, 0)
    assert found.log_odds > 7


def test_an_over_or_two_among_our_own_labels_are_overs() -> None:
    assert reconcile(OUR_SHIPMENT, labels(2000, 2), others=[THEIR_SHIPMENT]).looks_like is None
    ours = [read(n + 100, sscc=sscc(1000 + n)) for n in range(1, 4)]
    assert reconcile(OUR_SHIPMENT, [*labels(2000, 5), *ours], others=[THEIR_SHIPMENT]).looks_like is None


def test_in_another_shipments_pile_print_and_shared_codes_receive_nothing() -> None:
    torn = [
        read(21, "CARTON 07", symbology="", carton="07"),
        read(22, address=at(8, 1), photo="p", label=1),
        read(23, "6 OF 9", symbology="", carton_n=6, carton_total=9),
        read(24, barcode="KIT-09"),
    ]
    result = reconcile(OUR_SHIPMENT, [*labels(2000, 5), *torn], others=[THEIR_SHIPMENT])
    assert (names(result.received), result.questions) == ([], ())
    assert [len(unclear.read_ids) for unclear in result.unclear] == [1, 1, 1, 1]
    assert "SH-2" in in_words(explanation_of(result, 21))
    assert names(reconcile(OUR_SHIPMENT, torn, others=[THEIR_SHIPMENT]).received) == ["06", "07", "08", "09"]


def test_a_of_another_shipment_shipment_is_the_one_thing_that_is_asked() -> None:
    """A relabelled carton whose barcode both have, and a typing mistake, are not questions beside it."""
    relabelled = [
        read(31, sscc=sscc(7000), barcode="KIT-09", photo="q", label=1),
        read(32, f"00{sscc(1003)}"[:-2] + "9", symbology=""),
    ]
    alone = reconcile(OUR_SHIPMENT, relabelled, others=[THEIR_SHIPMENT])
    assert len(alone.questions) == 1
    result = reconcile(OUR_SHIPMENT, [*labels(2000, 5), *relabelled], others=[THEIR_SHIPMENT])
    assert result.looks_like is not None
    assert (names(result.received), result.questions) == ([], ())
    assert "SH-2" in in_words(explanation_of(result, 31))
    assert f"00{sscc(1003)}"[3:-2] + "9" in in_words(explanation_of(result, 32))
    assert "SH-2" in in_words(explanation_of(result, 32))


def test_in_another_shipments_pile_a_persons_word_stays_and_so_does_what_only_we_have() -> None:
    shared, own = read(24, barcode="KIT-09"), read(25, "CARTON 07", symbology="", carton="07")
    placed = ReadAssigned("n1", NOON, "Ana", shared.read_id, "09")
    ours = replace(OUR_SHIPMENT, cartons=(*OUR_SHIPMENT.cartons, carton("10", code=0, barcode="LAMP-10")))
    reads = [*labels(2000, 6), shared, own, read(26, barcode="LAMP-10")]
    result = reconcile(ours, reads, [placed], others=[THEIR_SHIPMENT])
    assert result.looks_like is not None
    assert names(result.received) == ["09", "10"]
    assert names(reconcile(ours, reads, others=[THEIR_SHIPMENT]).received) == ["10"]


def test_the_more_overs_a_pile_has_the_less_a_printed_number_says() -> None:
    torn = read(99, "CARTON 08", symbology="", carton="08")
    own = [read(n + 100, sscc=sscc(1000 + n)) for n in range(1, 4)]
    assert "08" in names(reconcile(OUR_SHIPMENT, [*own, torn], others=[THEIR_SHIPMENT]).received)
    unknown = [read(n + 200, sscc=sscc(9000 + n)) for n in range(1, 7)]
    result = reconcile(OUR_SHIPMENT, [*own, *unknown, torn], others=[THEIR_SHIPMENT])
    assert "08" not in names(result.received)
    assert [q.cartons for q in result.questions] == [("08",)]


def test_a_code_and_a_printed_number_of_different_cartons_are_a_question() -> None:
    label = [read(1, sscc=sscc(1001), photo="p", label=1), read(2, "CARTON 02", carton="02", photo="p", label=1)]
    assert [q.cartons for q in reconcile(OUR_SHIPMENT, label).questions] == [("01", "02")]


def test_a_shared_code_on_a_label_for_another_store_is_that_stores_carton() -> None:
    label = [read(1, barcode="KIT-09", photo="p", label=1), read(2, "STORE 0422", store="0422", photo="p", label=1)]
    result = reconcile(OUR_SHIPMENT, label, others=[THEIR_SHIPMENT])
    assert (names(result.received), [over.store for over in result.extra]) == ([], ["0422"])
