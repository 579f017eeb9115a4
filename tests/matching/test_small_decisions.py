"""Small decisions that change what a person reads: how a carton was told, whose a label is, what a count is of."""

from dataclasses import replace

import pytest

from receiving.matching import reconcile, replacement_lines
from receiving.matching.assignment import Row, assign, has_parts
from receiving.matching.catalogue import Catalogue, Elsewhere
from receiving.matching.observations import Observation, Reason
from receiving.matching.presence import MOST_CHOICES, Ledger, add_question, fits_fact
from receiving.matching.reconcile import _how_assigned
from receiving.model import ContentCounted, ContentLine, Damage, How, LabelRead, Outcome, ReadAssigned, Source
from receiving.model.replacement import RequestReason
from tests.matching.scenes import NOON, at, carton, manifest, read, sscc
from tests.matching.test_contents import EXPECTED, READS, damage, usable
from tests.matching.test_overs import OUR_SHIPMENT, THEIR_SHIPMENT, labels
from tests.matching.test_reconcile import explanation_of, names

BARCODED = carton("02", (1, 2), code=0, barcode="KX-0147")
TWO = manifest(carton("01", (1, 1)), BARCODED)


@pytest.mark.parametrize(
    ("label", "how"),
    [
        (read(1, sscc=sscc(1001)), How.SSCC),
        (read(1, sscc=sscc(1009)), How.TYPED),  # another carton's
        (read(1, address=at(1, 1)), How.ADDRESS),
        (read(1, address=at(1, 2)), How.TYPED),
        (read(1, carton="07"), How.TYPED),
    ],
)
def test_what_a_person_assigned_is_told_by_what_its_label_shows_of_that_carton(label: LabelRead, how: How) -> None:
    known = Catalogue(TWO, Elsewhere())
    assert _how_assigned(Observation((label,)), known, "01") is how
    note = ReadAssigned("n", NOON, "Ana", label.raw.read_id, "01")
    (found,) = reconcile(TWO, [label], [note]).received
    assert (found.carton.carton, found.how) == ("01", how)


def test_a_carton_without_an_sscc_is_told_by_its_barcode_or_its_place() -> None:
    known = Catalogue(TWO, Elsewhere())
    seen = [read(1, barcode="KX-0147"), read(2, gtin="KX-0147"), read(3, address=at(1, 2)), read(4, sscc=sscc(1001))]
    found = [_how_assigned(Observation((each,)), known, "02") for each in seen]
    assert found == [How.BARCODE, How.BARCODE, How.ADDRESS, How.TYPED]


@pytest.mark.parametrize(("own", "others"), [(0, 0), (1, 0), (0, 1), (1, 1)])
def test_of_a_pile_that_looks_like_another_shipments_it_is_said_how_many_labels_are_ours(own: int, others: int) -> None:
    """By an SSCC of ours, or by a barcode that the other shipment does not have."""
    ours = manifest(*OUR_SHIPMENT.cartons, carton("10", code=0, barcode="KX-0147"))
    seen = [*labels(2000, 8), *(read(50 + n, sscc=sscc(1001 + n)) for n in range(own))]
    seen += [read(60 + n, barcode="KX-0147") for n in range(others)]
    found = reconcile(ours, seen, others=[THEIR_SHIPMENT]).looks_like
    assert found is not None
    assert (found.shipment, found.labels, found.own) == ("SH-2", 8, own + others)


@pytest.mark.parametrize(
    ("label", "parts"),
    [
        (read(1, "0147", symbology="", carton=""), True),
        (read(1, item="TR-1200"), True),
        (read(1, address=at(1, 1)), False),
        (read(1, sscc=sscc(1001)), False),
    ],
)
def test_a_label_has_parts_by_a_piece_of_a_code_or_by_an_items_number(label: LabelRead, parts: bool) -> None:
    listed = replace(carton("03"), contents=(ContentLine("Oak", item="TR-1200"),))
    assert has_parts(Observation((label,)), Catalogue(manifest(*TWO.cartons, listed), Elsewhere())) is parts


@pytest.mark.parametrize(("nats", "rivals"), [(2.9, ("b",)), (4.9, ("b",)), (5.0, ()), (5.1, ())])
def test_with_caution_a_label_has_more_rivals(nats: float, rivals: tuple[str, ...]) -> None:
    """A rival is named up to 3 nats, and 2 more where a size was judged by eye."""
    (choice,) = assign([Row((("a", 0.0), ("b", nats)), (), 50.0, caution=2.0)], 3.0)
    assert (choice.carton, choice.rivals) == ("a", rivals)
    (plain,) = assign([Row((("a", 0.0), ("b", nats)), (), 50.0)], 3.0)
    assert plain.rivals == (("b",) if nats < 3 else ())


def test_a_place_that_only_another_open_shipment_has_is_said_to_be_theirs() -> None:
    theirs = manifest(carton("05", (7, 3), code=2005), shipment="SH-2", store="0422")
    torn = read(1, address=at(7, 3), photo="p", label=1)
    why = explanation_of(reconcile(TWO, [torn], others=[theirs]), 1).why
    assert why.reason == Reason.FITS_ELSEWHERE
    assert dict(why.values)["where"] == ("0422", "SH-2", "05")
    assert explanation_of(reconcile(TWO, [torn]), 1).why.reason == Reason.NOT_LISTED


def test_a_slip_near_a_carton_that_is_here_is_not_understood_and_no_second_look_at_it() -> None:
    slip = read(2, "KX-0148", symbology="", source=Source.TYPED, barcode="KX-0148")
    result = reconcile(TWO, [read(1, barcode="KX-0147"), slip])
    assert names(result.received) == ["02"]
    assert explanation_of(result, 2).outcome is Outcome.UNCLEAR
    assert [each.read_ids for each in result.unclear] == [(slip.raw.read_id,)]


def test_what_is_noted_of_a_place_alone_is_asked_for_with_its_reason() -> None:
    wrong = damage("n1", Damage.WRONG_SIDE, of="", item="base", section="Oak", column=2, row=1)
    found = replacement_lines(EXPECTED, reconcile(EXPECTED, READS, [wrong]), [wrong])
    assert [(line.qty, line.address, line.reason) for line in found] == [(1, at(2, 1), RequestReason.WRONG_SIDE)]
    elsewhere = damage("n1", Damage.WRONG_SIDE, of="", item="base", section="Oak", column=3, row=1)
    assert replacement_lines(EXPECTED, reconcile(EXPECTED, READS, [elsewhere]), [elsewhere]) == ()


def test_a_place_without_its_section_is_the_one_that_fits() -> None:
    worn = damage("n1", Damage.EXISTING_WORN, of="", item="LED strip", section="", column=1, row=1, qty=2)
    (line,) = replacement_lines(EXPECTED, reconcile(EXPECTED, READS, [worn]), [worn])
    assert (line.qty, line.item, line.address, line.section) == (2, "LED strip", at(1, 1), "Oak")
    counted = ContentCounted("n1", NOON, "Ana", "01", "TR-12", 0, 1, 2)
    assert usable(counted)["TR-12 base"] == 1


@pytest.mark.parametrize(("known", "named"), [(MOST_CHOICES, MOST_CHOICES), (MOST_CHOICES + 1, 0)])
def test_a_question_names_known_cartons_as_seen_again_as_far_as_a_person_would_look(known: int, named: int) -> None:
    ledger = Ledger(Catalogue(TWO, Elsewhere()))
    why = fits_fact(Reason.FITS_ALONE, ())
    add_question(ledger, (), ("01",), (), why, again=tuple(f"{n}" for n in range(known)))
    assert [len(question.again) for question in ledger.open_questions] == [named]
