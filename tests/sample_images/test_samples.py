"""The demo scenario against its truth: what the scene holds, what each photo shows, and what comes of it."""

import io
import json
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
from PIL import Image, ImageOps

from receiving.expected import read_layout, read_manifests
from receiving.matching import reconcile
from receiving.model import CartonKind, LabelRead, Manifest, PhotoReading, RawRead, Reconciliation, Source, Unreadable
from receiving.reading import default_patterns, interpret, read_photo, read_scans

SAMPLES = Path(__file__).parents[2] / "sample_images"
PHOTOS = sorted(SAMPLES.glob("*.jpg"))
NAMES = [photo.stem for photo in PHOTOS]


def manifest(name: str = "manifest.csv") -> Manifest:
    return read_manifests(name, (SAMPLES / name).read_bytes()).manifests[0]


def truth_of(name: str) -> dict[str, Any]:
    return dict(json.loads((SAMPLES / f"{name}.json").read_text("utf-8")))


@cache
def reading_of(name: str) -> PhotoReading:
    return read_photo(f"{name}.jpg", (SAMPLES / f"{name}.jpg").read_bytes())


def label_reads(name: str) -> list[LabelRead]:
    reads = []
    for number, symbol in enumerate(reading_of(name).symbols):
        raw = RawRead(
            f"{name}-{number}",
            datetime(2026, 12, 3, 7, 40, tzinfo=UTC),
            Source.PHOTO,
            symbol.raw,
            symbol.symbology,
            photo=name,
            quad_px=symbol.quad_px,
            label=symbol.label,
        )
        reads.append(interpret(raw, default_patterns()))
    return reads


@cache
def outcome() -> Reconciliation:
    reads = [read for name in NAMES for read in label_reads(name)]
    unread = [Unreadable(name, region.quad_px, region.advice) for name in NAMES for region in reading_of(name).unread]
    return reconcile(manifest(), reads, others=(manifest("manifest_0523.csv"),), unread=unread)


def scenario() -> dict[str, Any]:
    return truth_of("truth")


def inside(quad: Any, point: Any) -> bool:
    return cv2.pointPolygonTest(np.array(quad, np.float32), tuple(map(float, point)), False) >= 0


def test_there_are_six_photos_each_beside_its_truth_and_small_enough_to_ship() -> None:
    assert len(PHOTOS) == 6
    assert all(photo.with_suffix(".json").exists() for photo in PHOTOS)
    assert sum(file.stat().st_size for file in SAMPLES.iterdir() if file.is_file()) < 12_000_000


@pytest.mark.parametrize("name", NAMES)
def test_a_photo_has_a_phones_size_and_stands_upright_as_its_truth_says(name: str) -> None:
    image = ImageOps.exif_transpose(Image.open(io.BytesIO((SAMPLES / f"{name}.jpg").read_bytes())))
    truth = truth_of(name)
    assert image.size == (truth["width_px"], truth["height_px"])
    assert 3e6 <= image.width * image.height <= 12.1e6


def test_one_photo_is_stored_on_its_side_with_the_turn_in_exif() -> None:
    turns = [Image.open(io.BytesIO(photo.read_bytes())).getexif().get(0x0112) for photo in PHOTOS]
    assert sorted(turns) == [1, 1, 1, 1, 1, 6]


def test_one_outer_box_holds_all_kinds_of_cartons_for_three_sections_of_different_widths() -> None:
    expected = manifest()
    layout = read_layout("layout.toml", (SAMPLES / "layout.toml").read_bytes())
    assert len(expected.inside("00")) == 24 == len(expected.cartons) - 1
    assert {carton.kind for carton in expected} == set(CartonKind)
    widths = {bay.section: 0 for bay in layout.bays}
    for bay in layout.bays:
        widths[bay.section] += len(bay.columns)
    assert widths == {"Brakkenfell": 3, "Mossquill": 5, "Lumovane": 2}
    addresses = [address for carton in expected for address in carton.addresses]
    assert len(set(addresses)) == len(addresses)
    assert all(layout.bay_of(address) for address in addresses)


def test_the_truth_of_the_scenario_follows_from_the_truth_of_the_photos() -> None:
    truth, own, other, places = scenario(), set(), set(), {}
    for name in NAMES:
        for label in truth_of(name)["labels"]:
            (own if label["store"] == truth["store"] else other).add(label["carton"])
            places.setdefault((label["store"], label["carton"]), set()).add(name)
    assert own | {"00"} == set(truth["received"])
    assert {carton.carton for carton in manifest()} - own - {"00"} == set(truth["short"])
    assert other == {over["carton"] for over in truth["over"]}
    assert [carton for (_, carton), photos in places.items() if len(photos) > 1] == truth["on_two_photos"]


@pytest.mark.parametrize("name", NAMES)
def test_every_label_is_read_as_its_truth_says(name: str) -> None:
    reads = label_reads(name)
    for label in truth_of(name)["labels"]:
        on_it = [r.claim for r in reads if r.raw.quad_px and inside(label["quad_px"], np.mean(r.raw.quad_px, axis=0))]
        got = {"sscc": {str(c.sscc) for c in on_it if c.sscc}, "barcode": {c.barcode for c in on_it if c.barcode}}
        if label["expected"] == "address":
            assert not got["sscc"] and not got["barcode"], label["carton"]
            assert {str(c.address) for c in on_it if c.address} == {label["address"]}
        else:
            assert got[label["expected"]] == {label[label["expected"]]}, label["carton"]


@pytest.mark.parametrize("name", NAMES)
def test_nothing_is_read_that_no_label_carries(name: str) -> None:
    texts = [symbol["text"] for label in truth_of(name)["labels"] for symbol in label["symbols"]]
    printed = {text.removeprefix("(00)") if not text.startswith("(00)") else "00" + text[4:] for text in texts}
    assert {symbol.raw for symbol in reading_of(name).symbols} <= printed


def distances(name: str) -> list[float]:
    """Pixels from where a code was found to where the truth puts it, for codes that a photo shows once."""
    printed = {s["text"]: np.mean(s["quad_px"], axis=0) for label in truth_of(name)["labels"] for s in label["symbols"]}
    found = [(s.raw, np.mean(s.quad_px, axis=0)) for s in reading_of(name).symbols if s.symbology in ("]Q1", "]d1")]
    return [float(np.abs(centre - printed[raw]).max()) for raw, centre in found if raw in printed]


def test_symbols_lie_where_the_truth_puts_them() -> None:
    far = [apart for name in NAMES for apart in distances(name)]
    assert len(far) > 10
    assert max(far) < 12


def test_the_whole_scenario_comes_out_as_its_truth_says() -> None:
    found, truth = outcome(), scenario()
    here = {finding.carton.carton: finding for finding in found.received}
    assert sorted(here) == truth["received"]
    assert [finding.carton.carton for finding in found.short] == truth["short"]
    assert {name: finding.how.value for name, finding in here.items() if finding.how.value != "sscc"} == truth["how"]
    assert [(o.why.value, o.store, o.carton) for o in found.extra] == [
        (over["why"], over["store"], over["carton"]) for over in truth["over"]
    ]
    assert truth["over"][0]["sscc"] in found.extra[0].raw
    assert not found.questions


def test_the_scan_list_names_cartons_that_are_here() -> None:
    reads = [
        interpret(raw, default_patterns()) for raw in read_scans("scans.csv", (SAMPLES / "scans.csv").read_bytes())
    ]
    found = reconcile(manifest(), reads)
    scanned = {finding.carton.carton for finding in found.received}
    assert scanned == {"00", "02", "18", "23", "24"}
    assert scanned <= set(scenario()["received"])
