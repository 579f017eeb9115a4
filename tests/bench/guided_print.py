"""False accepts of guided reading on real photos: whatever looks striped, held against codes that are not there.

usage: python tests/bench/guided_print.py [--photos FOLDER] [--every N] [--variants V...] [--seed N] [FOLDER_NAME ...]

An attempt is one region of a photo as guided reading finds it: labels that are not expected, and as often print, cloth,
grilles and edges. It is held against one kind of expected codes, each kind in turn. Photos: ../shared/photos (the ZXing
black-box set, Apache-2.0), as they are and changed: smaller, larger, turned, seen askew. No code of a photo is
expected, so every read is false; each read and each question is printed.
"""

import argparse
import json
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import cv2
import numpy as np
from guided_labels import shipment
from guided_negatives import ALPHABET, checked, digits, upce_next
from guided_tail import upper_bound
from numpy.typing import NDArray

from receiving.model import ExpectedCode
from receiving.reading.guided import candidate_regions, guided_symbols

PHOTOS = Path(__file__).resolve().parents[2].parent / "shared" / "photos"
Gray = NDArray[np.uint8]
Chance = np.random.Generator


def _askew(gray: Gray) -> Gray:
    height, width = gray.shape
    corners = np.array([[0, 0], [width, 0], [width, height], [0, height]], np.float32)
    far = np.array([[0, 0], [0.95, 0.06], [0.95, 0.94], [0, 1]], np.float32) * (width, height)
    turn = cv2.getPerspectiveTransform(corners, far.astype(np.float32))
    return cv2.warpPerspective(gray, turn, (width, height), borderMode=cv2.BORDER_REPLICATE)


def _turned(gray: Gray) -> Gray:
    height, width = gray.shape
    turn = cv2.getRotationMatrix2D((width / 2, height / 2), 8, 1)
    return cv2.warpAffine(gray, turn, (width, height), flags=cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE)


VARIANTS: dict[str, Callable[[Gray], Gray]] = {
    "as it is": lambda gray: gray,
    "smaller": lambda gray: cv2.resize(gray, None, fx=0.7, fy=0.7, interpolation=cv2.INTER_AREA),
    "larger": lambda gray: cv2.resize(gray, None, fx=1.4, fy=1.4, interpolation=cv2.INTER_LINEAR),
    "turned": _turned,
    "askew": _askew,
}


def sscc(chance: Chance) -> list[ExpectedCode]:
    return list(shipment(chance)[1])


def ean(chance: Chance) -> list[ExpectedCode]:
    return [checked(digits(12, chance), "]E0") for _ in range(200)]


def itf(chance: Chance) -> list[ExpectedCode]:
    return [checked("1" + digits(12, chance), "]I1") for _ in range(40)]


def plain(chance: Chance) -> list[ExpectedCode]:
    texts = ["".join(chance.choice(ALPHABET, int(chance.integers(6, 13)))) for _ in range(12)]
    return [ExpectedCode(text, symbology) for text in texts for symbology in ("]C0", "]A0")]


def short(chance: Chance) -> list[ExpectedCode]:
    return [*upce_next(chance)[1], *(checked(digits(7, chance), "]E4") for _ in range(40))]


KINDS = (sscc, ean, itf, plain, short)


def photos(folder: Path, wanted: list[str], every: int) -> Iterator[tuple[str, Gray, set[str]]]:
    """(file, gray levels, texts on it) of every so-manieth photo."""
    listed = json.loads((folder / "truth.json").read_text())["images"]
    chosen = [shot for shot in listed if not wanted or shot["file"].split("/")[0] in wanted]
    for shot in chosen[::every]:
        gray = cv2.imread(str(folder / shot["file"]), cv2.IMREAD_GRAYSCALE)
        yield shot["file"], gray, {code["text"].zfill(13) for code in shot["codes"]}


def false_reads(file: str, gray: Gray, texts: set[str], chance: Chance, variant: str) -> tuple[int, int]:
    """Looks at this photo, and reads among them."""
    looks = reads = 0
    for quad in candidate_regions(gray):
        expected = [code for code in KINDS[looks % len(KINDS)](chance) if code.raw.zfill(13) not in texts]
        (symbol,) = guided_symbols(gray, [quad], expected)
        looks += 1
        if symbol is not None:
            reads += not symbol.alternatives
            place = np.rint(symbol.quad_px).astype(int).tolist()
            asked = f", asked against {symbol.alternatives}" if symbol.alternatives else ""
            print(f"  {file} {variant}: {symbol.symbology}{symbol.raw} at {place}{asked}", flush=True)
    return looks, reads


def main() -> None:
    ask = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    ask.add_argument("folders", nargs="*")
    ask.add_argument("--photos", type=Path, default=PHOTOS)
    ask.add_argument("--every", type=int, default=1, help="take every so-manieth photo")
    ask.add_argument("--variants", nargs="+", choices=list(VARIANTS), default=list(VARIANTS))
    ask.add_argument("--seed", type=int, default=20261125)
    given = ask.parse_args()
    if not given.photos.exists():
        raise SystemExit(f"{given.photos} is not there: say where the photos are with --photos")
    total = false = 0
    for variant in given.variants:
        start = time.process_time()
        chance, looks, reads = np.random.default_rng([given.seed, list(VARIANTS).index(variant)]), 0, 0
        for file, gray, texts in photos(given.photos, given.folders, given.every):
            looked, read = false_reads(file, VARIANTS[variant](gray), texts, chance, variant)
            looks, reads = looks + looked, reads + read
        print(f"{variant}: {looks} looks, {reads} read, {time.process_time() - start:.0f} s CPU", flush=True)
        total, false = total + looks, false + reads
    print(f"all: {total} looks, {false} read, 95 % bound {upper_bound(false, total):.1e}")


if __name__ == "__main__":
    main()
