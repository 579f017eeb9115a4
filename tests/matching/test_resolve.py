"""Questions that a person can answer in a tap: one label each, few choices, and a second look is always one of them.

Choices between answers that compete, and a shared code that the rest of the label tells apart.

A code that several cartons share shows new ones only beyond those that are known, whatever a photo is called.
"""

from dataclasses import replace
from itertools import permutations

import pytest

from receiving.matching import reconcile
from receiving.matching.assignment import Row, assign, statement
from receiving.matching.catalogue import Catalogue, Elsewhere
from receiving.matching.observations import Observation
from receiving.matching.overs import at_their_place
from receiving.model import CartonKind, CartonState, How, LabelRead, Manifest, Outcome, ReadAssigned, Source
from receiving.reading import default_patterns, interpret
from tests.matching.scenes import NOON, at, carton, manifest, read, sscc
from tests.matching.test_reconcile import explanation_of, names
from tests.spoken import in_words

TWO = manifest(carton("01", (1, 1)), carton("02", (1, 1)))


def test_two_torn_labels_that_say_the_same_are_two_questions() -> None:
    torn = [read(n, address=at(1, 1), photo=f"p{n}", label=1) for n in (1, 2)]
    result = reconcile(TWO, torn)
    assert [len(question.read_ids) for question in result.questions] == [1, 1]
    answered = reconcile(TWO, torn, [ReadAssigned("n1", NOON, "Ana", torn[0].read_id, "01")])
    assert names(answered.received) == ["01"]
    assert [(q.cartons, q.again) for q in answered.questions] == [(("02",), ("01",))]


def test_a_kind_that_few_missing_cartons_have_is_asked_about_and_a_kind_of_many_is_not() -> None:
    trays = [carton(f"{n:02}", (n, 1)) for n in range(1, 13)]
    kind = read(99, "TRAY", symbology="", kind="tray", photo="p", label=1)
    many = reconcile(manifest(*trays), [kind])
    assert (many.questions, explanation_of(many, 99).outcome) == ((), Outcome.UNCLEAR)
    assert "12 cartons fit" in in_words(explanation_of(many, 99))
    known = [read(n, sscc=sscc(1000 + n)) for n in range(1, 11)]
    few = reconcile(manifest(*trays), [*known, kind])
    assert [q.cartons for q in few.questions] == [("11", "12")]


def test_a_carton_that_a_later_read_throws_in_doubt_says_so() -> None:
    torn = read(1, address=at(1, 1), photo="p", label=1)
    one = manifest(carton("01", (1, 1)), carton("02", (1, 1)))
    first = reconcile(one, [read(9, sscc=sscc(1002)), torn])
    assert [q.cartons for q in first.questions] == []
    assert names(first.received) == ["01", "02"]
    photo_of_known = read(8, sscc=sscc(1002), address=at(1, 1), photo="q", label=1)
    later = reconcile(one, [read(9, sscc=sscc(1002)), torn, photo_of_known])
    doubted = later.short[0]
    assert (doubted.carton.carton, doubted.state) == ("01", CartonState.SHORT)
    assert in_words(doubted) == "A label that may be this carton waits for an answer"
    assert doubted.asked_in == (later.questions[0].question_id,)


def test_a_column_alone_is_evidence_and_half_a_line_no_extra_carton() -> None:
    cartons = [carton("01", (4, 1)), replace(carton("02", (4, 2)), kind=CartonKind.HEADER), carton("03", (5, 1))]
    expected = manifest(*cartons)
    half = interpret(read(1, "SECTION Oak COL 4 RO", symbology="", source=Source.TYPED).raw, default_patterns())
    assert (half.claim.column, half.claim.address, half.claim.section) == (4, None, "Oak")
    asked = reconcile(expected, [half])
    assert [q.cartons for q in asked.questions] == [("01", "02")]
    assert names(reconcile(expected, [read(9, sscc=sscc(1001)), half]).received) == ["01", "02"]
    with_kind = read(2, "COL 4 / HEADER", symbology="", column=4, kind="header", photo="p", label=1)
    assert names(reconcile(expected, [with_kind]).received) == ["02"]


def test_a_blurred_code_between_cartons_of_other_shipments_is_no_question_without_an_answer() -> None:
    blurred = read(1, f"00{sscc(77)}", photo="p", label=1, guided=True, alternatives=(f"00{sscc(78)}",))
    result = reconcile(TWO, [blurred])
    assert (result.questions, explanation_of(result, 1).outcome) == ((), Outcome.UNCLEAR)


def test_two_looks_at_one_numbered_label_are_one_question() -> None:
    expected = manifest(carton("01", (1, 1)), carton("02", (1, 1)))
    torn = [read(n, address=at(1, 1), carton_n=9, carton_total=2, photo=f"p{n}", label=1) for n in (1, 2)]
    assert [len(question.read_ids) for question in reconcile(expected, torn).questions] == [2]


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
    stated = statement(one, Catalogue(manifest(items, carton("07")), Elsewhere(())))
    assert tuple(dict(stated.shown).values()) == shown and set(dict(stated.shown)) == {"shown", "what"}


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


EAN = "9521234567899"

TWO_ALIKE = manifest(carton("01", (1, 1), barcode=EAN), carton("02", (1, 2), barcode=EAN))


def ean(number: int, **where: object) -> LabelRead:
    return read(number, EAN, symbology="]E0", barcode=EAN, gtin=f"0{EAN}", **where)  # type: ignore[arg-type]


def test_a_known_cartons_own_barcode_scanned_by_hand_brings_no_other_carton() -> None:
    photo = read(1, sscc=sscc(1002), photo="p", label=1)
    result = reconcile(TWO_ALIKE, [photo, ean(2)])
    assert names(result.received) == ["02"]
    assert [(q.cartons, q.again) for q in result.questions] == [(("01",), ("02",))]
    assert result.short[0].asked_in == (result.questions[0].question_id,)


@pytest.mark.parametrize("photos", list(permutations(("a", "b"))))
def test_two_photos_decide_the_same_whatever_their_hashes(photos: tuple[str, str]) -> None:
    reads = [read(1, sscc=sscc(1002), photo=photos[0], label=1), ean(2, photo=photos[1], label=1)]
    result = reconcile(TWO_ALIKE, reads)
    assert (names(result.received), [q.cartons for q in result.questions]) == (["02"], [("01",)])


def test_two_labels_with_the_code_in_one_photo_are_two_cartons() -> None:
    reads = [ean(1, photo="p", label=1), ean(2, photo="p", label=2, x=300)]
    assert names(reconcile(TWO_ALIKE, reads).received) == ["01", "02"]


def test_a_label_with_the_code_beside_the_whole_label_of_a_known_carton_is_the_other_one() -> None:
    whole = [read(1, sscc=sscc(1002), photo="p", label=1), ean(2, photo="p", label=1)]
    assert names(reconcile(TWO_ALIKE, [*whole, ean(3, photo="p", label=2, x=300)]).received) == ["01", "02"]


def test_a_label_with_the_code_beside_an_sscc_alone_may_be_the_same_carton() -> None:
    reads = [read(1, sscc=sscc(1002), photo="p", label=1), ean(2, photo="p", label=2, x=300)]
    result = reconcile(TWO_ALIKE, reads)
    assert (names(result.received), [q.cartons for q in result.questions]) == (["02"], [("01",)])


def test_cartons_with_numbers_of_their_own_are_not_counted_by_a_shared_code() -> None:
    result = reconcile(TWO_ALIKE, [ean(1)])
    assert (names(result.received), [q.cartons for q in result.questions]) == ([], [("01", "02")])


def test_of_two_shared_codes_on_one_label_it_is_of_the_cartons_that_have_both() -> None:
    """In whatever order they are read; a third carton has the first code alone."""
    both = {"code": 0, "barcode": "KIT-1", "numbers": ("LOT-7",), "kind": CartonKind.PARTS}
    expected = manifest(carton("01", code=0, barcode="KIT-1"), carton("02", **both), carton("03", **both))
    label = [
        read(1, "KIT-1", barcode="KIT-1", photo="p", label=1),
        read(2, "LOT-7", barcode="LOT-7", photo="p", label=1),
    ]
    for reads in permutations(label):
        result = reconcile(expected, reads)
        assert names(result.received) == ["02"], "which of two alike does not matter"
        assert names(result.short) == ["01", "03"]


def test_with_every_carton_known_the_code_is_seen_again() -> None:
    result = reconcile(TWO_ALIKE, [read(1, sscc=sscc(1001)), read(2, sscc=sscc(1002)), ean(3)])
    assert (result.complete, result.questions) == (True, ())
    assert in_words(explanation_of(result, 3)) == f"It carries barcode {EAN}: cartons 01 and 02, both are here"


def test_the_order_of_the_manifests_rows_decides_nothing() -> None:
    kits = [carton(name, code=0, barcode="KIT-1", kind=CartonKind.PARTS) for name in ("01", "02", "03")]
    scan = [read(1, barcode="KIT-1")]
    received = {tuple(names(reconcile(manifest(*rows), scan).received)) for rows in permutations(kits)}
    assert received == {("01",)}


def test_one_code_on_every_carton_takes_time_in_line_with_their_number() -> None:
    many = Manifest("SH-1", "0417", tuple(carton(f"{n:04}", code=0, barcode="KIT-1") for n in range(1, 2001)))
    reads = [read(n, barcode="KIT-1") for n in range(1, 2001)]
    result = reconcile(many, reads)
    assert (len(result.received), len(result.questions)) == (1, 1999)
    assert all(len(question.cartons) == 1 for question in result.questions)


OTHERWISE = manifest(
    carton("01", (1, 1), code=0, barcode=EAN),
    carton("02", (1, 2), code=0, barcode=EAN, section="Elm", kind=CartonKind.HEADER, open_first=True),
    carton("03", (1, 3), code=0, barcode=EAN),
)


@pytest.mark.parametrize(
    "wanted", [{"section": "Elm"}, {"kind": "header"}, {"open_first": True}, {"item": "IT-2"}, {"carton_n": 2}], ids=str
)
def test_one_thing_beside_a_shared_code_says_which_of_its_cartons_it_is(wanted: dict[str, object]) -> None:
    """Whatever it is alone: a section, a kind, the mark to open it first, an item or its number."""
    lines = [replace(each.contents[0], item=f"IT-{n}") for n, each in enumerate(OTHERWISE.cartons, 1)]
    expected = replace(
        OTHERWISE,
        cartons=tuple(replace(c, contents=(line,)) for c, line in zip(OTHERWISE.cartons, lines, strict=True)),
    )
    label = read(1, EAN, symbology="]E0", photo="p", label=1, barcode=EAN, gtin=f"0{EAN}", **wanted)  # type: ignore[arg-type]
    assert names(reconcile(expected, [label]).received) == ["02"]
    alone = reconcile(expected, [ean(1, photo="p", label=1)])
    assert "02" not in names(alone.received)
