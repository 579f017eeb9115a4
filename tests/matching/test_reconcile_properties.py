"""Laws that hold for any reads and notes: partition, every read explained once, order and repetition do not matter."""

from datetime import timedelta
from uuid import UUID

from hypothesis import given, settings
from hypothesis import strategies as st

from receiving.matching import Reconciler, reconcile
from receiving.model import (
    CartonKind,
    CartonPlace,
    CartonSeen,
    LabelRead,
    Note,
    NoteWithdrawn,
    OuterOpened,
    Place,
    ReadAssigned,
    ReadRejected,
    Source,
)
from tests.matching.scenes import NOON, at, carton, manifest, read, sscc
from tests.spoken import in_words

EXPECTED = manifest(
    carton("20", kind=CartonKind.OUTER),
    carton("01", (1, 1), outer="20"),
    carton("02", (1, 1), outer="20"),
    carton("03", (1, 2)),
    carton("04", (2, 1), (2, 2)),
    carton("05", code=0, barcode="P-1"),
    carton("06", code=0, barcode="P-1"),
    carton("07", (1, 1), section="Elm"),
    carton("08", code=0, barcode="036000291452"),
)
OTHERS = (manifest(carton("31", (1, 1), code=31), shipment="SH-2", store="0422"),)
CARTONS = [c.carton for c in EXPECTED]
SLIPS = ["9" + str(sscc(1003))[1:], "9" + str(sscc(1001))[1:], str(sscc(1001))[:17] + str(sscc(1002))[17], "9" * 18]
CODES = [1020, 1001, 1002, 1003, 1004, 1007, 31, 99]


@st.composite
def one_read(draw: st.DrawFn, number: int) -> LabelRead:
    claim: dict[str, object] = {}
    kind = draw(st.sampled_from(["sscc", "address", "both", "barcode", "slip", "junk"]))
    if kind in ("sscc", "both"):
        claim["sscc"] = sscc(draw(st.sampled_from(CODES)))
    if kind in ("address", "both"):
        claim["address"] = at(
            draw(st.integers(1, 3)), draw(st.integers(1, 2)), draw(st.sampled_from(["Oak", "Elm", ""]))
        )
    if kind == "barcode":
        claim["barcode"] = draw(st.sampled_from(["P-1", "P-2", "ZZZZ", "036000291452", "0036000291452"]))
    if kind == "slip":
        digits = draw(st.sampled_from(SLIPS))
        claim |= {"raw": digits, "elements": (("00", digits),), "warnings": (f"{digits} is not an SSCC.",)}
    photo = draw(st.sampled_from(["", "p1", "p2"]))
    guided = bool(photo) and draw(st.booleans())
    return read(
        number,
        photo=photo,
        label=draw(st.integers(0, 3)) if photo else 0,
        at=draw(st.integers(0, 90)),
        x=draw(st.sampled_from([0.0, 300.0, 600.0])),
        place=draw(st.sampled_from(list(Place))),
        source=None if photo else draw(st.sampled_from([Source.SCANNER, Source.TYPED])),
        guided=guided,
        alternatives=draw(st.sampled_from([(), (f"00{sscc(1002)}",), ("P-1",)])) if guided else (),
        **claim,
    )


@st.composite
def some_reads(draw: st.DrawFn) -> list[LabelRead]:
    return [draw(one_read(n)) for n in range(draw(st.integers(0, 9)))]


@st.composite
def some_notes(draw: st.DrawFn) -> list[Note]:
    notes: list[Note] = []
    for n in range(draw(st.integers(0, 5))):
        name, when = f"n{n}", NOON + timedelta(seconds=draw(st.integers(0, 9)))
        any_carton, any_read = draw(st.sampled_from([*CARTONS, "99"])), str(UUID(int=draw(st.integers(0, 9))))
        notes.append(
            draw(
                st.sampled_from(
                    [
                        ReadRejected(name, when, "Ana", any_read),
                        ReadAssigned(name, when, "Ana", any_read, draw(st.sampled_from(["", any_carton]))),
                        NoteWithdrawn(name, when, "Ana", f"n{draw(st.integers(0, 5))}"),
                        CartonSeen(name, when, "Ana", any_carton),
                        CartonPlace(name, when, "Ana", any_carton, Place.OVERHEAD),
                        OuterOpened(name, when, "Ana", "20", draw(st.booleans()), draw(st.booleans())),
                    ]
                )
            )
        )
    return notes


@settings(max_examples=150, deadline=None)
@given(some_reads(), some_notes())
def test_received_and_short_partition_the_manifest(reads: list[LabelRead], notes: list[Note]) -> None:
    result = reconcile(EXPECTED, reads, notes, others=OTHERS)
    assert [f.carton.carton for f in result.cartons] == CARTONS
    received, short = {f.carton.carton for f in result.received}, {f.carton.carton for f in result.short}
    assert received | short == set(CARTONS)
    assert not received & short
    assert all((f.how is not None) == (f.carton.carton in received) for f in result.cartons)
    assert all(in_words(f) for f in result.cartons)


@settings(max_examples=150, deadline=None)
@given(some_reads(), some_notes())
def test_every_read_is_explained_once(reads: list[LabelRead], notes: list[Note]) -> None:
    result = reconcile(EXPECTED, reads, notes, others=OTHERS)
    assert sorted(e.read_id for e in result.explanations) == sorted(r.read_id for r in reads)
    assert all(in_words(e) for e in result.explanations)
    by_read = {e.read_id: e.carton for e in result.explanations}
    for finding in result.received:
        if finding.how.value != "inside_outer":  # type: ignore[union-attr]
            assert all(by_read[read_id] == finding.carton.carton for read_id in finding.evidence)


@settings(max_examples=150, deadline=None)
@given(some_reads(), some_notes(), st.randoms(use_true_random=False), st.integers(1, 3))
def test_order_and_repetition_do_not_matter(
    reads: list[LabelRead], notes: list[Note], random: object, times: int
) -> None:
    shuffled, shuffled_notes = reads * times, notes * times
    random.shuffle(shuffled)  # type: ignore[attr-defined]
    random.shuffle(shuffled_notes)  # type: ignore[attr-defined]
    once = reconcile(EXPECTED, reads, notes, others=OTHERS)
    assert reconcile(EXPECTED, shuffled, shuffled_notes, others=OTHERS * times) == once


@settings(max_examples=100, deadline=None)
@given(some_reads())
def test_no_carton_is_received_without_evidence_that_names_it(reads: list[LabelRead]) -> None:
    result = reconcile(EXPECTED, reads, others=OTHERS)
    for finding in result.received:
        assert finding.evidence


@settings(max_examples=150, deadline=None)
@given(some_reads(), some_notes())
def test_a_state_that_grew_read_by_read_is_the_state_worked_out_at_once(
    reads: list[LabelRead], notes: list[Note]
) -> None:
    growing = Reconciler(EXPECTED, OTHERS)
    for n in range(len(reads)):
        growing.state(reads[:n])
    growing.state(reads, notes[:1])
    assert growing.state(reads, notes) == reconcile(EXPECTED, reads, notes, others=OTHERS)


@settings(max_examples=100, deadline=None)
@given(some_reads(), st.integers(0, 8))
def test_a_rejected_read_is_as_if_it_had_never_been(reads: list[LabelRead], number: int) -> None:
    gone = str(UUID(int=number))
    without = reconcile(EXPECTED, [r for r in reads if r.read_id != gone], others=OTHERS)
    rejected = reconcile(EXPECTED, reads, [ReadRejected("n", NOON, "Ana", gone)], others=OTHERS)
    assert (rejected.cartons, rejected.over, rejected.duplicates) == (without.cartons, without.over, without.duplicates)
    assert rejected.questions == without.questions


@settings(max_examples=100, deadline=None)
@given(some_reads(), some_notes())
def test_a_note_taken_back_is_as_if_it_had_never_been_said(reads: list[LabelRead], notes: list[Note]) -> None:
    later = NOON + timedelta(days=1)
    back = [NoteWithdrawn(f"w{n.note_id}", later, "Ana", n.note_id) for n in notes if not isinstance(n, NoteWithdrawn)]
    taken_back = [n for n in notes if not isinstance(n, NoteWithdrawn)]
    assert reconcile(EXPECTED, reads, [*taken_back, *back], others=OTHERS) == reconcile(EXPECTED, reads, others=OTHERS)


@settings(max_examples=100, deadline=None)
@given(some_reads(), st.integers(0, 8), st.sampled_from([1001, 1002, 1003, 1004, 1007, 1020]))
def test_one_more_whole_label_brings_its_carton_and_takes_no_known_code_away(
    reads: list[LabelRead], number: int, code: int
) -> None:
    before = reconcile(EXPECTED, reads, others=OTHERS)
    after = reconcile(EXPECTED, [*reads, read(number + 100, sscc=sscc(code))], others=OTHERS)
    assert str(sscc(code)) in {str(f.carton.sscc) for f in after.received}
    kept = {f.carton.carton for f in before.received if f.how is not None and f.how.value in ("sscc", "barcode")}
    assert kept <= {f.carton.carton for f in after.received}


texts = st.text(max_size=30) | st.sampled_from(["*", "?*?*", "....", "٣٤٥٦", "\x00\x1d", "0952", "tray", "SH-2"])


@settings(max_examples=200, deadline=None)
@given(st.lists(st.tuples(texts, texts, texts, texts, st.integers(-5, 10**30)), max_size=5), st.booleans())
def test_any_text_on_a_label_is_explained_and_nothing_is_raised(
    labels: list[tuple[str, str, str, str, int]], symbol: bool
) -> None:
    reads = [
        read(
            n,
            raw,
            symbology="]C1" if symbol else "",
            barcode=code,
            kind=word,
            section=word,
            carton=name,
            carton_n=count,
        )
        for n, (raw, code, word, name, count) in enumerate(labels)
    ]
    result = reconcile(EXPECTED, reads, others=OTHERS)
    assert len(result.explanations) == len(reads)
