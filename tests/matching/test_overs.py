"""Whose a label is that is not on the manifest, by codes, store and shipment; and what is not a label of a carton."""

from dataclasses import replace

import pytest

from receiving.matching import reconcile
from receiving.matching.catalogue import Catalogue, Elsewhere
from receiving.matching.observations import Observation
from receiving.matching.overs import (
    _is_carton_code,
    _is_other_store,
    names_this_shipment,
    over_by_name,
    says_it_is_ours,
    with_owners,
)
from receiving.model import CartonState, LabelRead, Manifest, OverReason, Source
from tests.matching.scenes import carton, manifest, read, sscc
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
    ("theirs", "ours", "told"), [(2, 0, False), (3, 0, True), (3, 1, False), (4, 1, True), (9, 6, True), (9, 7, False)]
)
def test_a_pile_is_another_shipments_from_three_labels_more_than_ours(theirs: int, ours: int, told: bool) -> None:
    """The odds of a wrong page (1 in 99) times 19 for each label more: 69 for three, 3.6 for two; 20 are asked for."""
    other = manifest(*(carton(f"{n:02}", code=2000 + n) for n in range(1, 10)), shipment="SH-2", store="0422")
    here = manifest(*(carton(f"{n:02}") for n in range(1, 10)))
    reads: list[LabelRead] = [read(n, sscc=sscc(2000 + n)) for n in range(1, theirs + 1)]
    reads += [read(50 + n, sscc=sscc(1000 + n)) for n in range(1, ours + 1)]
    found = reconcile(here, reads, others=[other]).looks_like
    assert (found is not None) is told
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
def test_a_stray_says_how_its_own_shipment_stands_without_it(state: CartonState, words: str) -> None:
    result = reconcile(OURS, [read(1, sscc=sscc(2001))], others=[THEIRS])
    theirs = reconcile(THEIRS, [])
    theirs = replace(theirs, cartons=tuple(replace(found, state=state) for found in theirs.cartons))
    (before,), (after,) = result.over, with_owners(result, [theirs]).over
    assert in_words(after) == in_words(before) + words
    assert with_owners(result, [replace(theirs, store="0999")]).over == result.over
    assert with_owners(result, []).over == result.over
