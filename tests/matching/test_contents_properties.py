"""Laws of contents for any counts and damage: nothing below zero, and what is asked for is what lets all be set."""

from collections import Counter
from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st

from receiving.matching import (
    counted_lines,
    position_needs,
    reconcile,
    replacement_lines,
    section_state,
    settable_positions,
    stock_of,
)
from receiving.model import CartonKind, ContentCounted, ContentLine, Damage, DamageNoted, LabelRead, Note
from receiving.model.contents import USUAL_PARTS
from tests.matching.scenes import NOON, at, carton, manifest, read, sscc

EXPECTED = manifest(
    replace(
        carton("01"),
        contents=tuple(ContentLine("Oak", at(n, 1), "TR-12" if n < 4 else "TR-08", "tray", 1) for n in range(1, 6)),
    ),
    replace(carton("02"), kind=CartonKind.REPLACEMENT_TRAY, contents=(ContentLine("Oak", at(1, 2), "TR-12", qty=2),)),
    replace(
        carton("03"),
        kind=CartonKind.PARTS,
        contents=(
            ContentLine("Oak", item="PR-1", description="price rails", qty=2),
            ContentLine("Oak", item="CC-1", description="clear cover", qty=3, unit="pack of 4"),
            ContentLine("Oak", at(2, 2), "BR-L", "bracket left", 1),
        ),
    ),
    replace(carton("04"), kind=CartonKind.GRAPHIC, contents=(ContentLine("Oak", at(1, 1), "GR-1"),)),
)
ITEMS = ["", "TR-12", "TR-08", "base", "price rail", "graphic", "PR-1", "CC-1", "BR-L", "GR-1", "unheard of"]


@st.composite
def noted(draw: st.DrawFn) -> list[Note]:
    notes: list[Note] = []
    for n in range(draw(st.integers(0, 6))):
        name = draw(st.sampled_from(["01", "02", "03", "04"]))
        item = draw(st.sampled_from(ITEMS))
        cell = draw(st.sampled_from([None, (1, 1), (2, 1), (5, 1), (1, 2), (2, 2)]))
        where = {"section": "Oak", "column": cell[0], "row": cell[1]} if cell else {}
        if draw(st.booleans()):
            qty = draw(st.integers(0, 6)) if item else None
            notes.append(ContentCounted(f"c{n}", NOON, "Ana", name, item, qty, **where))
        else:
            reason = draw(st.sampled_from(list(Damage)))
            qty = draw(st.integers(1, 4))
            notes.append(DamageNoted(f"d{n}", NOON, "Ana", name, reason, draw(st.booleans()), item, qty=qty, **where))
    return notes


reads = st.sets(st.integers(1, 4)).map(lambda numbers: [read(n, sscc=sscc(1000 + n)) for n in sorted(numbers)])


@settings(max_examples=150, deadline=None)
@given(reads, noted())
def test_no_count_is_negative_and_nothing_is_usable_that_is_not_here(seen: list[LabelRead], notes: list[Note]) -> None:
    for line in counted_lines(EXPECTED, reconcile(EXPECTED, seen, notes), notes):
        assert 0 <= line.usable <= line.here
        assert line.wanted >= 1


@settings(max_examples=100, deadline=None)
@given(reads, noted())
def test_the_positions_and_facings_of_all_bays_add_up(seen: list[LabelRead], notes: list[Note]) -> None:
    state = section_state(EXPECTED, reconcile(EXPECTED, seen, notes), notes)
    assert sum(bay.settable for bay in state.bays) == len(state.settable)
    assert sum(bay.positions for bay in state.bays) == len(state.settable) + len(state.waiting)
    assert not {w.address for w in state.waiting} & set(state.settable)
    assert (not state.waiting) == (not state.order)


@settings(max_examples=150, deadline=None)
@given(reads, noted())
def test_the_request_asks_for_positions_exactly_the_pieces_that_are_lacking(
    seen: list[LabelRead], notes: list[Note]
) -> None:
    result = reconcile(EXPECTED, seen, notes)
    stock = stock_of(counted_lines(EXPECTED, result, notes))
    order = settable_positions(position_needs(EXPECTED, notes), stock).order
    lacking, asked = Counter[object](), Counter[object]()
    for address, _, qty in order:
        lacking[address] += qty
    for line in replacement_lines(EXPECTED, result, notes):
        made_of = USUAL_PARTS.parts_of(line.kind) if not line.description.endswith(" only") else ()
        if line.address is not None:
            asked[line.address] += line.qty * (sum(part.qty for part in made_of) or 1)
    assert asked == lacking
