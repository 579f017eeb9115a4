"""Reads and misreads on real photos: each decoder alone, their union, and ours; time as a ratio to zxing-cpp.

usage: python tests/bench/read_photos.py [--photos FOLDER] [--angles 0,10,20,30,45,60] [--fill 255] [FOLDER_NAME ...]

Photos and truth: ../shared/photos (the ZXing black-box set, Apache-2.0). "other" counts texts that the truth does not
name: misreads, and second codes in view that the truth leaves out; they are listed. The manifest is unknown. Times are
CPU seconds of one thread, in one run, with zxing-cpp at all its options (its default), image already opened.
"""

import argparse
import json
import statistics
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import cv2
import numpy as np
import zxingcpp
from numpy.typing import NDArray
from PIL import Image
from pyzbar import pyzbar

from receiving.reading.image import gray_photo
from receiving.reading.photo import read_gray

PHOTOS = Path(__file__).resolve().parents[2].parent / "shared" / "photos"
CARTON = ("code128-", "code39-", "itf-", "qrcode-", "datamatrix-", "pdf417-")
NEGATIVE = ("falsepositives", "partial")
READERS = ("zxing-cpp", "ZBar", "OpenCV", "union", "ours")


def zxing(gray: NDArray[np.uint8]) -> set[str]:
    return {code.text for code in zxingcpp.read_barcodes(gray, text_mode=zxingcpp.TextMode.Plain)}


def zbar(gray: NDArray[np.uint8]) -> set[str]:
    return {code.data.decode("utf-8", "replace") for code in pyzbar.decode(gray)}


def opencv(gray: NDArray[np.uint8]) -> set[str]:
    _, bars, _, _ = cv2.barcode.BarcodeDetector().detectAndDecodeWithType(gray)
    try:
        _, squares, _, _ = cv2.QRCodeDetector().detectAndDecodeMulti(gray)
    except (UnicodeDecodeError, cv2.error):  # its Python binding knows UTF-8 only, its decoder not every mode
        squares = ()
    return {text for text in (*bars, *squares) if text}


def ours(gray: NDArray[np.uint8]) -> set[str]:
    return {symbol.raw for symbol in read_gray(gray).symbols}


def plain(text: str) -> str:
    """UPC-A and EAN-13 of one number look alike."""
    return text.zfill(13) if text.isascii() and text.isdigit() and len(text) == 12 else text


def timed(read: Callable[[NDArray[np.uint8]], set[str]], gray: NDArray[np.uint8]) -> tuple[set[str], float]:
    started = time.thread_time()
    texts = read(gray)
    return {plain(text) for text in texts}, time.thread_time() - started


def turned(gray: NDArray[np.uint8], angle: float, fill: int) -> NDArray[np.uint8]:
    if not angle:
        return gray
    return np.asarray(Image.fromarray(gray).rotate(angle, Image.Resampling.BICUBIC, expand=True, fillcolor=fill))


def shots(photos: Path, folder: str) -> Iterator[tuple[str, NDArray[np.uint8], set[str]]]:
    for shot in json.loads((photos / "truth.json").read_text())["images"]:
        if shot["file"].startswith(folder + "/"):
            data = (photos / shot["file"]).read_bytes()
            yield shot["file"], gray_photo(shot["file"], data), {plain(code["text"]) for code in shot["codes"]}


def measure(photos: Path, folder: str, angle: float, fill: int) -> dict[str, object]:
    read, other = dict.fromkeys(READERS, 0), dict.fromkeys(READERS, 0)
    ratios, odd, codes = [], [], 0
    for file, upright, truth in shots(photos, folder):
        gray = turned(upright, angle, fill)
        base, base_s = timed(zxing, gray)
        found = {"zxing-cpp": base, "ZBar": timed(zbar, gray)[0], "OpenCV": timed(opencv, gray)[0]}
        found["union"] = set().union(*found.values())
        found["ours"], our_s = timed(ours, gray)
        codes += len(truth)
        ratios.append(our_s / base_s)
        for reader in READERS:
            read[reader] += len(found[reader] & truth)
            other[reader] += len(found[reader] - truth)
        odd += [f"{file}: {text!r}" for text in sorted(found["ours"] - truth)]
    return {"codes": codes, "read": read, "other": other, "ratios": ratios, "odd": odd}


def main() -> None:
    ask = argparse.ArgumentParser()
    ask.add_argument("folders", nargs="*")
    ask.add_argument("--photos", type=Path, default=PHOTOS)
    ask.add_argument("--angles", default="0")
    ask.add_argument("--fill", type=int, default=255, help="gray level around a turned photo")
    given = ask.parse_args()
    if not given.photos.exists():
        raise SystemExit(f"{given.photos} is not there: say where the photos are with --photos")
    cv2.setNumThreads(1)
    every = sorted(path.name for path in given.photos.iterdir() if path.is_dir())
    folders = given.folders or [f for f in every if f.startswith(CARTON + NEGATIVE)]
    for angle in map(float, given.angles.split(",")):
        table(given.photos, folders, angle, given.fill)


def table(photos: Path, folders: list[str], angle: float, fill: int) -> None:
    print(f"\nturned by {angle:g} degrees; read / other\n")
    print("| folder | codes | " + " | ".join(READERS) + " | median time ratio |")
    print("|---|---|" + "---|" * (len(READERS) + 1))
    total = {"codes": 0, "read": dict.fromkeys(READERS, 0), "other": dict.fromkeys(READERS, 0)}
    ratios, odd = [], []
    for folder in folders:
        row = measure(photos, folder, angle, fill)
        line(folder, row, row["ratios"])
        odd += row["odd"]
        total["codes"] += row["codes"]
        for kind in ("read", "other"):
            for reader in READERS:
                total[kind][reader] += row[kind][reader]
        if not folder.startswith(NEGATIVE):
            ratios += row["ratios"]
    line("all (time: without negatives)", total, ratios or [0.0])
    print("\nnot in the truth, ours:", *odd, sep="\n  ")


def line(name: str, row: dict[str, object], ratios: list[float]) -> None:
    cells = " | ".join(f"{row['read'][reader]} / {row['other'][reader]}" for reader in READERS)
    print(f"| {name} | {row['codes']} | {cells} | {statistics.median(ratios):.2f} |", flush=True)


if __name__ == "__main__":
    main()
