"""Reads gathered into observations of labels: which are apart, in which order, and what they state."""

from dataclasses import replace

import pytest

from receiving.matching.observations import Observation, group_by_label, text_reads
from receiving.model import LabelRead, Source
from tests.matching.scenes import at, read, sscc


def seen(number: int, **more: object) -> Observation:
    return Observation((read(number, **{"photo": "p", "label": number, "x": 200.0 * number, **more}),))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("other", "apart"),
    [
        ({}, True),
        ({"x": 201.0}, True),  # the first is 100 pixels wide and begins at 100
        ({"x": 200.0}, False),  # they touch
        ({"x": 50.0}, False),
        ({"x": -1.0}, True),
        ({"x": 0.0}, False),
        ({"label": 1}, False),  # the reader says that it is one label
        ({"label": 0}, False),  # and here it cannot tell
        ({"photo": "q"}, False),
        ({"photo": ""}, False),
    ],
)
def test_two_labels_are_apart_only_in_one_photo_and_at_places_that_do_not_touch(
    other: dict[str, object], apart: bool
) -> None:
    one, two = seen(1, x=100.0), seen(2, **other)
    assert one.apart_from(two) is apart
    assert two.apart_from(one) is apart


@pytest.mark.parametrize(("low", "apart"), [(49.0, False), (50.0, False), (51.0, True)])
def test_labels_one_above_the_other_are_apart_as_well(low: float, apart: bool) -> None:
    one, two = seen(1, x=0.0), seen(2, x=0.0)
    (label,) = two.reads
    quad = tuple((x, y + low) for x, y in label.raw.quad_px or ())
    below = Observation((replace(label, raw=replace(label.raw, quad_px=quad)),))
    assert one.apart_from(below) is below.apart_from(one) is apart


def test_a_label_whose_place_in_the_photo_is_not_known_may_be_the_other() -> None:
    one, two = seen(1), seen(2)
    (label,) = two.reads
    nowhere = Observation((replace(label, raw=replace(label.raw, quad_px=None)),))
    assert one.apart_from(two)
    assert not one.apart_from(nowhere) and not nowhere.apart_from(one)


def test_reads_of_one_label_of_a_photo_are_together_and_each_scan_is_alone() -> None:
    label = [read(n, photo="p", label=1, at=60, x=300.0 - n) for n in (1, 2)]
    others = [
        read(3, photo="p", label=2, at=60, x=0.0),
        read(4, photo="q", label=1, at=30),
        read(5, photo="p", label=0, at=60, x=500.0),
        read(6, photo="p", label=0, at=60, x=600.0),
        read(7, "the same", at=90),
        read(8, "the same", at=10),
    ]
    found = group_by_label([*label, *others])
    assert [[int(each.raw.read_id.rpartition("-")[2], 16) for each in group] for group in found] == [
        [8],
        [4],
        [3],  # of one instant by place in the photo, from the left
        [2, 1],
        [5],
        [6],
        [7],
    ]


def test_a_read_that_comes_twice_counts_once_whichever_came_first() -> None:
    one = read(1, "a", photo="p", label=1)
    other = replace(one, raw=replace(one.raw, raw="b"))
    assert group_by_label([one, one]) == [(one,)]
    assert group_by_label([one, other]) == group_by_label([other, one]) == [(one,)]


def test_what_a_label_states_is_that_of_all_its_symbols_each_once() -> None:
    reads: tuple[LabelRead, ...] = (
        read(1, "b", photo="p", label=1, sscc=sscc(1), address=at(1, 2)),
        read(2, "a", photo="p", label=1, barcode="12", gtin="34", address=at(1, 2)),
        read(3, "a", photo="p", label=1, barcode="12", address=at(1, 3)),
    )
    label = Observation(reads)
    assert label.codes == (str(sscc(1)), "12", "34", "12")
    assert (label.values("barcode"), label.values("carton")) == (("12",), ())
    assert Observation(reads[1:2]).values("barcode") == ("12",)
    assert label.addresses == (at(1, 2), at(1, 3))
    assert label.words == ("a", "b")
    assert label.key == reads[0].raw.read_id
    assert not label.ambiguous and Observation((read(4, alternatives=("x",)),)).ambiguous


@pytest.mark.parametrize(("sources", "typed"), [("t", True), ("tt", True), ("ts", False), ("s", False)])
def test_a_label_is_typed_where_a_person_typed_all_of_it(sources: str, typed: bool) -> None:
    kinds = {"t": Source.TYPED, "s": Source.SCANNER}
    label = Observation(tuple(read(n, source=kinds[each]) for n, each in enumerate(sources, 1)))
    assert label.typed is typed


def test_print_is_what_has_no_symbol() -> None:
    print_read, symbol = read(1, symbology=""), read(2)
    assert text_reads(Observation((print_read, symbol))) == (print_read,)
