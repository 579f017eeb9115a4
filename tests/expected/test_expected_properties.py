"""Any bytes get an answer in our own words; what is written reads back equal."""

from datetime import date

from hypothesis import given, settings
from hypothesis import strategies as st

from receiving.errors import FileFaults
from receiving.expected import (
    Kit,
    KitPlace,
    manifest_changes,
    read_kit,
    read_layout,
    read_manifests,
    write_kit_csv,
    write_layout_toml,
    write_manifest_csv,
)
from receiving.model import Address, Bay, Cart, Carton, CartonKind, ContentLine, Layout, Manifest, Sscc
from receiving.model.hidden_characters import without_hidden_characters
from tests.expected.edi_messages import DESPATCH, STANDARD, edifact, sscc, x12

SEEDS = (
    x12(STANDARD),
    edifact(DESPATCH).encode(),
    b"shipment,store,carton,kind,sscc,section,column,row,qty\nS,1,7,tray,,H,1,2,3\n",
    b"PK\x03\x04",
)
printable = st.characters(exclude_categories=("Cc", "Cs", "Cn", "Zs", "Zl", "Zp", "Cf", "Co"))
ids = st.text(printable, min_size=1, max_size=12)
words = st.text(st.characters(codec="utf-8", exclude_characters="\x00"), max_size=30).map(
    lambda t: without_hidden_characters(t).strip(" \t\r\n\u00a0\ufeff")
)
several = st.lists(ids.filter(lambda text: ";" not in text), max_size=3, unique=True).map(tuple)
measures = st.none() | st.integers(1, 10**6).map(lambda n: n / 1000)


@st.composite
def content_lines(draw: st.DrawFn) -> ContentLine:
    section = draw(st.just("") | ids)
    cell = draw(st.none() | st.tuples(st.integers(1, 9999), st.integers(1, 9999)))
    address = Address(section, *cell) if cell else None
    return ContentLine(
        section,
        address,
        draw(ids),
        draw(words),
        draw(st.none() | st.integers(1, 10**6)),
        draw(st.just("") | ids),
        draw(several),
    )


@st.composite
def manifests(draw: st.DrawFn) -> Manifest:
    names = draw(st.lists(ids, min_size=1, max_size=5, unique=True))
    cartons = tuple(
        Carton(
            carton=name,
            kind=draw(st.sampled_from(CartonKind)),
            sscc=draw(st.none() | st.just(Sscc(sscc(at)))),
            barcode=draw(st.just("") | ids | st.just("A\x1dB")),
            outer=draw(st.sampled_from(["", *names[:at]])),
            open_first=draw(st.booleans()),
            contents=tuple(draw(st.lists(content_lines(), max_size=3))),
            weight_kg=draw(measures),
            length_cm=draw(measures),
            numbers=draw(several),
        )
        for at, name in enumerate(names)
    )
    references = draw(st.lists(st.tuples(ids.filter(lambda t: "=" not in t), ids), max_size=2).map(tuple))
    return Manifest(draw(ids), draw(ids), cartons, draw(st.none() | st.dates(date(2000, 1, 1))), references)


@given(manifests())
@settings(deadline=None)
def test_a_manifest_that_is_written_reads_back_equal(manifest: Manifest) -> None:
    assert read_manifests("again.csv", write_manifest_csv([manifest]).encode()).manifests == (manifest,)


@given(manifests(), manifests())
def test_no_change_is_missed_and_none_is_invented(old: Manifest, new: Manifest) -> None:
    assert manifest_changes(old, old) == ()
    changed = {change.carton for change in manifest_changes(old, new)}
    by_id = {c.carton: c for c in old}
    assert {c.carton for c in new if by_id.get(c.carton) != c} <= changed


@given(st.lists(st.builds(KitPlace, ids, ids, st.none(), st.none() | st.sampled_from(CartonKind), words), min_size=1))
def test_a_kit_that_is_written_reads_back_equal(places: list[KitPlace]) -> None:
    assert read_kit("again.csv", write_kit_csv(Kit(tuple(places))).encode()) == Kit(tuple(places))


@given(ids, st.floats(0.001, 1e5), st.lists(ids, min_size=1, max_size=4, unique=True))
def test_a_layout_that_is_written_reads_back_equal(store: str, size: float, names: list[str]) -> None:
    bays = tuple(
        Bay(name, "H", (at * 2, at * 2 + 1), at, size, size, size, *((size, None, None, size)[at % 2 :: 2]))
        for at, name in enumerate(names, start=1)
    )
    layout = Layout(store, size, Cart(size, size, size, size), bays, size if len(names) > 1 else None)
    assert read_layout("again.toml", write_layout_toml(layout).encode()) == layout


def answered(data: bytes) -> None:
    for read in (read_manifests, read_layout, read_kit):
        try:
            read("any", data)
        except FileFaults as refused:
            assert refused.faults
            assert all(str(fault.message) for fault in refused.faults)


@given(st.binary(max_size=400))
@settings(deadline=None)
def test_any_bytes_are_answered(data: bytes) -> None:
    answered(data)


@given(
    st.sampled_from(SEEDS),
    st.lists(st.tuples(st.integers(0, 2000), st.integers(0, 30), st.binary(max_size=8)), max_size=6),
)
@settings(deadline=None, max_examples=150)
def test_damaged_files_are_answered(seed: bytes, cuts: list[tuple[int, int, bytes]]) -> None:
    for at, length, put in cuts:
        at %= len(seed) + 1
        seed = seed[:at] + put + seed[at + length :]
    answered(seed)


@given(st.permutations(range(3, len(STANDARD) - 1)))
@settings(deadline=None, max_examples=50)
def test_no_sscc_of_a_notice_is_lost_whatever_the_order_of_its_segments(order: list[int]) -> None:
    segments = (*STANDARD[:3], *(STANDARD[at] for at in order), STANDARD[-1])
    found = read_manifests("n.x12", x12(segments))
    everything = repr(found.manifests) + repr(found.not_understood)
    assert all(sscc(serial) in everything for serial in (1, 2, 900))


@given(st.permutations(range(4, len(DESPATCH))))
@settings(deadline=None, max_examples=50)
def test_no_sscc_of_a_message_is_lost_whatever_the_order_of_its_segments(order: list[int]) -> None:
    segments = (*DESPATCH[:4], *(DESPATCH[at] for at in order))
    everything = repr(read_manifests("n.edi", edifact(segments).encode()))
    assert all(sscc(serial) in everything for serial in (11, 12, 901))
