"""A carton that is too much here is missing somewhere: the answer says where."""

from receiving.matching import Elsewhere, reconcile, with_owners
from receiving.model import CartonKind, OverReason
from tests.matching.scenes import at, carton, manifest, read, sscc
from tests.spoken import in_words

HERE = manifest(carton("01", (1, 1)))
THERE = manifest(carton("07", (1, 1), code=77), shipment="SH-2", store="0422")


def belongs(reads_there: list[object]) -> str:
    result = reconcile(HERE, [read(1, sscc=sscc(77))], others=[THERE])
    return in_words(with_owners(result, [reconcile(THERE, reads_there)]).over[0])  # type: ignore[arg-type]


def test_a_stray_says_that_its_own_store_is_short_of_it() -> None:
    assert belongs([]) == "belongs to store 0422, shipment SH-2, carton 07, which is short of it"


def test_a_stray_whose_own_store_has_it_is_a_code_used_twice() -> None:
    assert belongs([read(1, sscc=sscc(77))]).endswith("carton 07, where a carton with this code is here as well")


def test_a_stray_of_an_unknown_shipment_is_left_as_it_is() -> None:
    result = reconcile(HERE, [read(1, sscc=sscc(5))], others=[THERE])
    assert with_owners(result, [reconcile(THERE, [])]) == result


def test_a_stray_is_called_by_its_sscc_however_its_label_carries_it() -> None:
    link = read(1, f"https://id.gs1.org/00/{sscc(77)}", sscc=sscc(77))
    (over,) = reconcile(HERE, [link, read(2, sscc=sscc(77))], others=[THERE]).over
    assert over.code == f"SSCC {sscc(77)}"
    (nameless,) = reconcile(HERE, [read(1, "parcel 7", barcode="PARCEL7")], others=[THERE]).over
    assert nameless.code == "parcel 7"


def test_an_index_of_other_shipments_serves_as_well_as_the_shipments() -> None:
    reads = [read(1, sscc=sscc(77))]
    assert reconcile(HERE, reads, others=Elsewhere.of([HERE, THERE, THERE])) == reconcile(HERE, reads, others=[THERE])


def test_a_label_without_code_is_strange_by_the_store_and_shipment_that_it_names() -> None:
    for said, why in (
        ({"store": "0422"}, OverReason.OTHER_STORE),
        ({"store": "0999"}, OverReason.OTHER_STORE),
        ({"shipment": "SH-2"}, OverReason.OTHER_STORE),
    ):
        result = reconcile(HERE, [read(1, address=at(1, 1), **said)], others=[THERE])
        assert [over.why for over in result.over] == [why]
        assert not result.received


def test_a_store_number_without_its_zeros_is_the_same_store() -> None:
    assert reconcile(HERE, [read(1, address=at(1, 1), store="417")]).complete


def test_a_location_number_of_another_scheme_says_nothing_of_the_store() -> None:
    assert reconcile(HERE, [read(1, address=at(1, 1), store="9521234567899")]).complete


THREE = manifest(carton("01", (1, 1)), carton("02", (1, 2)), carton("03", (1, 3)))
SAME_PLACES = manifest(carton("07", (1, 1), code=77), carton("08", (1, 2), code=78), shipment="SH-2", store="0422")
STRAY = read(1, sscc=sscc(77))


def test_a_torn_label_is_asked_for_where_a_stray_is_here_whose_shipment_has_a_carton_for_its_place_as_well() -> None:
    result = reconcile(THREE, [STRAY, read(2, address=at(1, 2))], others=[SAME_PLACES])
    assert [q.cartons for q in result.questions] == [("02",)]
    assert in_words(result.questions[0]) == (
        "The label says Oak, column 1, row 2, and nothing else can be read; store 0422, shipment SH-2, carton 08 has "
        "the same place, and a carton of that shipment is here. Is it carton 02, or none of this shipment?"
    )
    assert not result.received


def test_a_torn_label_matches_where_the_strays_shipment_has_no_other_carton_that_fits() -> None:
    torn_at_another = reconcile(THREE, [STRAY, read(2, address=at(1, 3))], others=[SAME_PLACES])
    of_another_kind = reconcile(THREE, [STRAY, read(2, address=at(1, 2), kind="tray")], others=[HEADERS])
    no_stray = reconcile(THREE, [read(2, address=at(1, 2))], others=[SAME_PLACES])
    for result in (torn_at_another, of_another_kind, no_stray):
        assert (len(result.received), result.questions) == (1, ())


HEADERS = manifest(
    carton("07", (1, 1), code=77), carton("08", (1, 2), code=78, kind=CartonKind.HEADER), shipment="SH-2", store="0422"
)


def test_a_torn_label_for_the_place_of_the_stray_may_be_the_stray_seen_again_and_is_asked_for() -> None:
    result = reconcile(THREE, [STRAY, read(2, address=at(1, 1))], others=[SAME_PLACES])
    assert [q.cartons for q in result.questions] == [("01",)]


def test_a_torn_label_that_says_which_carton_of_how_many_matches_beside_a_stray() -> None:
    torn = read(2, address=at(1, 2), carton_n=2, carton_total=3)
    result = reconcile(THREE, [STRAY, torn], others=[SAME_PLACES])
    assert [f.carton.carton for f in result.received] == ["02"]


def test_a_stray_known_by_its_store_alone_brings_company_too() -> None:
    reads = [read(1, address=at(1, 1), store="0422"), read(2, address=at(1, 2))]
    assert [q.cartons for q in reconcile(THREE, reads, others=[SAME_PLACES]).questions] == [("02",)]
