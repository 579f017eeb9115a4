"""Make the photos of the demo scenario, each beside its truth: `python sample_images/make_samples.py [NAME …]`.

The manifests here are the source: labels are printed by the product, stuck on cartons in a modelled back room and
photographed by the camera model of tests/bench. The same seed, sizes and library versions give the same bytes.
`--small` draws at half size, to try a scene.
"""

import argparse
import io
import json
import sys
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parent), str(HERE.parent / "tests" / "bench")]

import cv2  # noqa: E402
import numpy as np  # noqa: E402
from back_room import SCENES, Scene  # noqa: E402
from carton_render import photograph_room  # noqa: E402
from carton_scene import Room, SeenLabel, Sticker, Viewpoint  # noqa: E402
from photo_model import Picture, as_bgr  # noqa: E402
from PIL import Image  # noqa: E402

from receiving.closing.label_drawing import LabelDrawing  # noqa: E402
from receiving.closing.label_printing import drawing_image  # noqa: E402
from receiving.closing.labels import carton_label  # noqa: E402
from receiving.expected import read_manifests  # noqa: E402
from receiving.model import Carton, Manifest  # noqa: E402

SEED = 20261203
TAKEN = "2026:12:03 07:40:00"


@dataclass(frozen=True)
class Printed:
    """One label of a manifest as it was printed."""

    carton: Carton
    manifest: Manifest
    drawing: LabelDrawing
    art: Picture


def printed_labels() -> dict[str, Printed]:
    """Every label of both manifests; those of the other store are named ``other/carton``."""
    labels = {}
    for prefix, name in (("", "manifest.csv"), ("other/", "manifest_0523.csv")):
        manifest = read_manifests(name, (HERE / name).read_bytes()).manifests[0]
        for carton in manifest:
            drawing = carton_label(carton, manifest)
            labels[prefix + carton.carton] = Printed(carton, manifest, drawing, as_bgr(drawing_image(drawing)))
    return labels


def room_of(scene: Scene, labels: dict[str, Printed]) -> Room:
    """The scene's room with its labels stuck on."""
    blocks = []
    for block in scene.blocks:
        stickers = [
            Sticker(
                stuck.label, labels[stuck.label].art, face=stuck.face, at_cm=stuck.at_cm, turn_deg=stuck.turn_deg,
                torn=stuck.torn,
            )
            for stuck in scene.stuck
            if stuck.label == block.name
        ]  # fmt: skip
        blocks.append(replace(block, stickers=tuple(stickers)))
    return Room(tuple(blocks), scene.lamps, scene.ambient, scene.tint, scene.wall_y_cm, scene.floor_cm)


def take(scene: Scene, labels: dict[str, Printed], *, small: bool, folder: Path) -> dict[str, Any]:
    """Take one photo, write it and its truth; the truth."""
    rng = np.random.default_rng([SEED, *scene.name.encode()])
    view, look = (
        (_halved(scene.view), replace(scene.look, defocus_px=scene.look.defocus_px / 2))
        if small
        else (scene.view, scene.look)
    )
    image, seen = photograph_room(room_of(scene, labels), view, replace(look, jpeg=100), rng)
    _write_jpeg(folder / f"{scene.name}.jpg", image, scene)
    truth = {
        "photo": f"{scene.name}.jpg",
        "what": scene.what,
        "width_px": view.size_px[0],
        "height_px": view.size_px[1],
        "labels": [_label_truth(label, labels[label.name], scene) for label in seen],
    }
    (folder / f"{scene.name}.json").write_text(json.dumps(truth, indent=1, ensure_ascii=False) + "\n", "utf-8")
    return truth


def _halved(view: Viewpoint) -> Viewpoint:
    return replace(view, size_px=(view.size_px[0] // 2, view.size_px[1] // 2))


def _label_truth(label: SeenLabel, printed: Printed, scene: Scene) -> dict[str, Any]:
    stuck = next(s for s in scene.stuck if s.label == label.name)
    return {
        "carton": printed.carton.carton,
        "store": printed.manifest.store,
        "shipment": printed.manifest.shipment,
        "sscc": str(printed.carton.sscc) if printed.carton.sscc else None,
        "barcode": printed.carton.barcode,
        "address": str(printed.carton.addresses[0]) if len(printed.carton.addresses) == 1 else None,
        "quad_px": _rounded(label.quad_px),
        "visible": round(label.visible, 2),
        "expected": stuck.expected,
        "remark": stuck.remark,
        "symbols": _symbols_truth(label, printed.drawing, stuck.torn),
    }


def _symbols_truth(label: SeenLabel, drawing: LabelDrawing, torn: float) -> list[dict[str, Any]]:
    """Every symbol that the label was printed with, where it is on the photo, and whether it was torn off."""
    sheet = np.array([[0, 0], [1, 0], [1, 1], [0, 1]], np.float32) * (drawing.width_mm, drawing.height_mm)
    warp = cv2.getPerspectiveTransform(sheet.astype(np.float32), label.quad_px.astype(np.float32))
    found = []
    for symbol in drawing.symbols:
        left, top, right, bottom = symbol.x_mm, symbol.y_mm, symbol.x_mm + symbol.w_mm, symbol.y_mm + symbol.h_mm
        corners = np.array([[[left, top], [right, top], [right, bottom], [left, bottom]]], np.float64)
        quad = cv2.perspectiveTransform(corners, warp)[0]
        gone = bottom > drawing.height_mm * (1 - torn)
        found.append(
            {"name": symbol.modules.name, "text": symbol.modules.text, "torn_off": gone, "quad_px": _rounded(quad)}
        )
    return found


def _rounded(quad: Any) -> list[list[float]]:
    return [[round(float(x), 1), round(float(y), 1)] for x, y in quad]


def _write_jpeg(path: Path, image: Picture, scene: Scene) -> None:
    """As a phone stores it: pixels as the sensor lies, the turn in EXIF."""
    exif = Image.Exif()
    exif[0x0132] = TAKEN
    if scene.exif_orientation == 6:
        image = np.ascontiguousarray(np.rot90(image))
    exif[0x0112] = scene.exif_orientation
    out = io.BytesIO()
    Image.fromarray(image[..., ::-1]).save(out, "JPEG", quality=scene.look.jpeg, exif=exif, optimize=True)
    path.write_bytes(out.getvalue())


def main(arguments: Sequence[str]) -> None:
    """Make all photos, or those named."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("names", nargs="*", metavar="NAME", help="scenes; all when none is named")
    parser.add_argument("--small", action="store_true", help="half size, to try a scene")
    parser.add_argument("--out", type=Path, default=HERE, help="folder to write to")
    options = parser.parse_args(arguments)
    options.out.mkdir(parents=True, exist_ok=True)
    labels = printed_labels()
    for scene in SCENES:
        if not options.names or scene.name in options.names:
            truth = take(scene, labels, small=options.small, folder=options.out)
            size = (options.out / truth["photo"]).stat().st_size
            sys.stdout.write(f"{truth['photo']}: {len(truth['labels'])} labels, {size / 1e6:.1f} MB\n")


if __name__ == "__main__":
    main(sys.argv[1:])
