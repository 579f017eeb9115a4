"""Random piles of cartons with given labels, photographed: for figures that need more piles than the demo has.

photo, seen = pile(labels, np.random.default_rng(1))
python tests/bench/carton_pile.py 3 --out piles      # three photos to look at, and what one decoder reads of them
"""

import argparse
import sys
from collections.abc import Mapping
from pathlib import Path

import cv2
import numpy as np
from carton_render import photograph_room
from carton_scene import Block, Lamp, Room, SeenLabel, Sticker, Viewpoint
from photo_model import Look, Picture

LAMPS = (Lamp(((-150, -60, 250), (-20, -60, 250)), 0.55), Lamp(((60, 10, 250), (180, 10, 250)), 0.35))
GAP_CM = 4.0


def pile(
    labels: Mapping[str, Picture],
    rng: np.random.Generator,
    *,
    look: Look | None = None,
    size_px: tuple[int, int] = (4000, 3000),
) -> tuple[Picture, list[SeenLabel]]:
    """A photo of cartons in two or three stacks, one label (4 × 6 in art, BGR) on each, and where the labels are.

    A label that is wholly hidden or outside the photo is missing from the list; ``look`` is random when not given.
    """
    names = list(labels)
    stacks = [names[place :: _stack_count(names)] for place in range(_stack_count(names))]
    blocks: list[Block] = []
    left, tallest = 0.0, 0.0
    for stack in stacks:
        wide = float(rng.uniform(40, 50))
        height = _stack(stack, labels, left + wide / 2, wide, rng, blocks)
        left, tallest = left + wide + GAP_CM, max(tallest, height)
    middle = left / 2
    away = 0.62 * max(left, tallest * 4 / 3) + 12
    eye = (middle + float(rng.normal(0, 8)), 34 - away, tallest / 2 + float(rng.uniform(5, 35)))
    view = Viewpoint(eye, (middle, 50, tallest / 2), size_px, 66, float(rng.normal(0, 2.5)))
    room = Room(tuple(blocks), LAMPS, floor_cm=max(30.0, away))
    return photograph_room(room, view, look or Look.graded(0.25, rng), rng)


def _stack_count(names: list[str]) -> int:
    return 1 if len(names) < 3 else 2 if len(names) < 7 else 3


def _stack(
    names: list[str],
    labels: Mapping[str, Picture],
    x: float,
    wide: float,
    rng: np.random.Generator,
    blocks: list[Block],
) -> float:
    """Put up one stack of cartons around ``x``; its height in cm."""
    height = 0.0
    for name in names:
        size = (wide * float(rng.uniform(0.88, 1)), float(rng.uniform(30, 38)), float(rng.uniform(19, 27)))
        free_x, free_y = size[0] / 2 - 7, size[2] / 2 - 9
        place = (float(rng.uniform(-free_x, free_x)), float(rng.uniform(-free_y, free_y)) if free_y > 0 else 0.0)
        sticker = Sticker(name, labels[name], at_cm=place, turn_deg=float(rng.normal(0, 3)))
        colour = tuple(int(channel) for channel in np.array((112, 148, 182)) * rng.uniform(0.9, 1.08))
        at = (x + float(rng.normal(0, 1)), 52 + float(rng.normal(0, 1.5)), height)
        blocks.append(Block(at, size, float(rng.normal(0, 4)), colour=colour, stickers=(sticker,), name=name))
        height += size[2]
    return height


def main() -> None:
    """Write some piles, and count what zxing-cpp alone reads of their labels."""
    import zxingcpp

    root = Path(__file__).resolve().parents[2]
    sys.path[:0] = [str(root), str(root / "sample_images")]
    from make_samples import printed_labels

    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("count", type=int, nargs="?", default=1)
    parser.add_argument("--cartons", type=int, default=6)
    parser.add_argument("--out", type=Path)
    options = parser.parse_args()
    printed = {n: p for n, p in printed_labels().items() if p.carton.sscc}
    for seed in range(options.count):
        rng = np.random.default_rng(seed)
        names = rng.choice(sorted(printed), options.cartons, replace=False)
        photo, seen = pile({str(name): printed[str(name)].art for name in names}, rng)
        texts = b" ".join(read.bytes for read in zxingcpp.read_barcodes(photo))
        count = sum(str(printed[label.name].carton.sscc).encode() in texts for label in seen)
        print(f"pile {seed}: {len(seen)} labels in view, {count} read by zxing-cpp alone")
        if options.out:
            options.out.mkdir(parents=True, exist_ok=True)
            cv2.imwrite(str(options.out / f"pile_{seed}.jpg"), photo, [cv2.IMWRITE_JPEG_QUALITY, 85])


if __name__ == "__main__":
    main()
