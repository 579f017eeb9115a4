"""Choices between answers that compete, and a shared code that the rest of the label tells apart."""

from dataclasses import replace

import pytest

from receiving.matching import reconcile
from receiving.matching.assignment import Row, assign, statement
from receiving.matching.catalogue import Catalogue, Elsewhere
from receiving.matching.observations import Observation
from receiving.matching.overs import at_their_place
from receiving.model import How
from tests.matching.scenes import at, carton, manifest, read, sscc
from tests.matching.test_reconcile import names


def row(own: dict[str, float], shared: dict[str, float] | None = None, none: float = 9.0) -> Row:
    return Row(tuple(own.items()), tuple((shared or {}).items()), none)


def test_of_two_labels_that_compete_each_gets_its_own_and_one_may_be_a_known_one_seen_again() -> None:
    first, second = assign([row({"01": 0.0, "02": 1.0}), row({"01": 0.5}, {"03": 2.0})], 3.0)
    assert (first.carton, first.again, second.carton, second.again) == ("02", False, "01", False)
    first, second = assign([row({"01": 0.0}), row({"01": 0.5}, {"03": 1.0})], 3.0)
    assert (first.carton, first.again, second.carton, second.again) == ("01", False, "03", True)
    first, second = assign([row({"01": 0.0}), row({"01": 5.0}, none=1.0)], 3.0)
    assert (second.carton, second.again) == ("", False), "of none, which is nobody seen again"


def test_a_label_alone_is_its_cheapest_answer_with_those_that_come_near() -> None:
    (choice,) = assign([row({"01": 1.0, "02": 2.5}, {"03": 9.0}, none=3.9)], 3.0)
    assert (choice.carton, choice.again, choice.gap_nats, choice.rivals) == ("01", False, 1.5, ("02", ""))
    (choice,) = assign([row({}, {"03": 1.0}, none=9.0)], 3.0)
    assert (choice.carton, choice.again, choice.rivals) == ("03", True, ())


TWINS = manifest(
    replace(carton("01", (1, 1), code=0), barcode="KIT-1"), replace(carton("02", (2, 1), code=0), barcode="KIT-1")
)


def test_a_shared_code_is_the_cartons_whose_place_stands_beside_it() -> None:
    found = reconcile(TWINS, [read(1, barcode="KIT-1", address=at(2, 1))])
    assert names(found.received) == ["02"]
    (finding,) = found.received
    assert finding.how is How.BARCODE
    assert len(reconcile(TWINS, [read(1, barcode="KIT-1")]).questions) == 1


@pytest.mark.parametrize(
    ("claim", "shown"),
    [
        ({"address": at(1, 1)}, ("address", at(1, 1))),
        ({"carton": "07"}, ("id", "07")),
        ({"carton_n": 7}, ("number", (7, None))),
        ({"column": 3}, ("column", 3)),
        ({"item": "tr-12"}, ("item", "TR-12")),
        ({"kind": "tray"}, ("kind", "tray")),
        ({}, ("text", "RAW TEXT")),
    ],
)
def test_what_a_label_shows_is_the_most_that_it_says(claim: dict[str, object], shown: tuple[str, object]) -> None:
    items = replace(carton("01", (1, 1)), contents=(replace(carton("01", (1, 1)).contents[0], item="TR-12"),))
    one = Observation((read(1, raw="RAW TEXT", photo="p", **claim),))  # type: ignore[arg-type]
    said = statement(one, Catalogue(manifest(items, carton("07")), Elsewhere(())))
    assert tuple(dict(said.shown).values()) == shown and set(dict(said.shown)) == {"shown", "what"}


@pytest.mark.parametrize(
    ("known", "claim", "found"),
    [
        ({"SH-2"}, {"address": at(1, 1)}, ["01"]),
        ({"SH-9"}, {"address": at(1, 1)}, []),
        (set(), {"address": at(1, 1)}, []),
        ({"SH-2"}, {}, []),
        ({"SH-2"}, {"address": at(1, 1), "carton": "01"}, []),
        ({"SH-2"}, {"address": at(1, 1), "sscc": sscc(7)}, []),
    ],
)
def test_a_bare_position_may_be_the_carton_of_another_shipment_that_is_here(
    known: set[str], claim: dict[str, object], found: list[str]
) -> None:
    theirs = manifest(carton("01", (1, 1), code=2001), shipment="SH-2", store="0422")
    one = Observation((read(1, raw="x", photo="p", **claim),))  # type: ignore[arg-type]
    listed = at_their_place(one, frozenset(known), Catalogue(TWINS, Elsewhere.of([theirs])))
    assert [hit.carton.carton for hit in listed] == found
