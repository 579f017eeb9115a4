"""Whatever is saved loads as it was; whatever is sent is kept."""

from datetime import UTC, date, datetime
from pathlib import Path
from tempfile import TemporaryDirectory

from hypothesis import given, settings
from hypothesis import strategies as st

from receiving.model import (
    NOTE_KINDS,
    Address,
    Carton,
    CartonKind,
    ContentLine,
    Manifest,
    Note,
    Place,
    RawRead,
    Source,
    Sscc,
    mod10_check_digit,
)
from receiving.store import Store
from receiving.store.records import from_text, to_text

MOMENTS = st.datetimes(datetime(2000, 1, 1), datetime(2199, 12, 31), timezones=st.just(UTC))
TEXT = st.text(max_size=40)
POSITIONS = st.none() | st.integers(1, 9999)
DAYS = st.none() | st.dates(date(2000, 1, 1), date(2199, 12, 31))
LIMITED = {
    "qty": st.integers(1, 100_000),
    "column": POSITIONS,
    "row": POSITIONS,
    "trip": POSITIONS,
    "photo": st.sampled_from(["", "ab" * 32]),
    "due": DAYS,
    "until": DAYS,
    "day": DAYS.filter(lambda day: day is not None),
}
SSCCS = st.integers(0, 10**17 - 1).map(lambda n: Sscc(f"{n:017d}" + mod10_check_digit(f"{n:017d}")))
CORNERS = st.tuples(*[st.floats(0, 9000).map(lambda v: round(v, 2))] * 2)
READS = st.builds(
    RawRead,
    read_id=st.uuids().map(str),
    read_at=MOMENTS,
    source=st.sampled_from(Source),
    raw=TEXT,
    symbology=st.sampled_from(["", "]C1", "]d2"]),
    place=st.sampled_from(Place),
    by=TEXT,
    photo=st.sampled_from(["", "ab" * 32]),
    quad_px=st.none() | st.tuples(*[CORNERS] * 4),
    label=st.integers(0, 99),
    guided=st.booleans(),
    confidence=st.floats(0, 1),
    alternatives=st.lists(TEXT, max_size=3).map(tuple),
)


@st.composite
def lines(draw: st.DrawFn) -> ContentLine:
    section = draw(TEXT)
    cell = draw(st.none() | st.tuples(st.integers(1, 40), st.integers(1, 40)))
    address = Address(section, *cell) if cell else None
    return ContentLine(section, address, draw(TEXT), draw(TEXT), draw(st.none() | st.integers(1, 999)), draw(TEXT))


@st.composite
def manifests(draw: st.DrawFn) -> Manifest:
    cartons = draw(
        st.lists(
            st.builds(
                Carton,
                carton=TEXT,
                kind=st.sampled_from(CartonKind),
                sscc=st.none() | SSCCS,
                barcode=TEXT,
                open_first=st.booleans(),
                contents=st.lists(lines(), max_size=3).map(tuple),
                weight_kg=st.none() | st.floats(0.01, 99),
            ),
            max_size=6,
            unique_by=(lambda c: c.carton, lambda c: c.sscc or c.carton),
        )
    )
    return Manifest("S-1", draw(TEXT), tuple(cartons), draw(st.none() | st.dates()))


@settings(max_examples=60, deadline=None)
@given(manifests())
def test_any_manifest_loads_as_it_was_saved(manifest: Manifest) -> None:
    assert from_text(to_text(manifest), Manifest) == manifest


@settings(max_examples=40, deadline=None)
@given(st.data())
def test_any_note_loads_as_it_was_saved(data: st.DataObject) -> None:
    kind: type[Note] = data.draw(st.sampled_from(sorted(NOTE_KINDS.values(), key=lambda k: k.__name__)))
    limited = {name: values for name, values in LIMITED.items() if name in kind.__dataclass_fields__}
    note = data.draw(st.builds(kind, noted_at=MOMENTS, **limited))
    assert from_text(to_text(note), kind) == note


@settings(max_examples=15, deadline=None)
@given(st.lists(READS, max_size=8, unique_by=lambda read: read.read_id), st.randoms())
def test_no_read_is_lost_whatever_comes_twice(reads: list[RawRead], random: object) -> None:
    with TemporaryDirectory() as folder, Store(Path(folder) / "receiving.sqlite") as store:
        store.add_revisions(
            [(Manifest("S-1", "0417", ()), 0, ())], source="m.csv", imported_at=datetime(2026, 3, 2, tzinfo=UTC)
        )
        store.add_reads("S-1", reads)
        again = list(reads)
        random.shuffle(again)  # type: ignore[attr-defined]
        store.add_reads("S-1", again)
        assert store.reads("S-1") == tuple(reads)


def test_the_kinds_of_notes_are_the_words_that_stand_in_stored_data() -> None:
    # A class that gets another name would make every note of its kind unreadable.
    assert sorted(NOTE_KINDS) == [
        "carton_moved",
        "carton_place",
        "carton_seen",
        "content_counted",
        "damage_noted",
        "note_withdrawn",
        "outer_opened",
        "place_searched",
        "read_assigned",
        "read_rejected",
        "region_settled",
        "shipment_delivered",
        "shipment_voided",
        "short_declared",
        "shortage_followed",
        "size_said",
        "staging_changed",
        "visit_decided",
    ]
