"""Labels read on simulated 12-megapixel pile photos: zxing-cpp, ZBar, both, and ours; time as a ratio to both.

usage: python tests/bench/piles.py [--photos 3] [--hard]

12 labels a photo with 1.5, 2 and 3 pixels a module, upright, at 15 and 90 degrees and each label at an angle of its
own (432 labels with 3 photos a setting); ``--hard`` adds perspective, glare and cartons in front of some labels.
Times are CPU seconds of one thread, in one run, photo already opened.
"""

import argparse
import time
from collections import Counter

import cv2
import numpy as np
import zxingcpp
from pile_model import NONE, USUAL, Pile, pile
from pyzbar import pyzbar

from receiving.model import ExpectedCode
from receiving.reading.photo import read_gray

MODULES_PX = (1.5, 2.0, 3.0)
ANGLES: tuple[float | None, ...] = (0.0, 15.0, 90.0, None)


def measure(photo: Pile, count: Counter[str]) -> None:
    truth = {text for text, _, _ in photo.labels}
    clock = [time.thread_time()]
    found = {"zxing-cpp": {c.text for c in zxingcpp.read_barcodes(photo.gray, text_mode=zxingcpp.TextMode.Plain)}}
    clock.append(time.thread_time())
    found["ZBar"] = {c.data.decode() for c in pyzbar.decode(photo.gray)}
    clock.append(time.thread_time())
    reading = read_gray(photo.gray)
    clock.append(time.thread_time())
    expected = [ExpectedCode(text, "]C1") for text in sorted(truth)]
    informed = read_gray(photo.gray, expected)
    clock.append(time.thread_time())
    found["both"] = found["zxing-cpp"] | found["ZBar"]
    found["ours"] = {symbol.raw for symbol in reading.symbols}
    found["ours, manifest known"] = {symbol.raw for symbol in informed.symbols}
    count["labels"] += len(truth)
    count["unread regions"] += len(reading.unread)
    for name, texts in found.items():
        count[name] += len(texts & truth)
        count[f"{name} wrong"] += len(texts - truth)
    for name, start, end in (("t both", 0, 2), ("t ours", 2, 3), ("t manifest", 3, 4)):
        count[name] += round((clock[end] - clock[start]) * 1e6)


def main() -> None:
    ask = argparse.ArgumentParser()
    ask.add_argument("--photos", type=int, default=3, help="photos a setting")
    ask.add_argument("--hard", action="store_true", help="with perspective, glare and covered labels")
    given = ask.parse_args()
    hardship = USUAL if given.hard else NONE
    cv2.setNumThreads(1)
    names = ("zxing-cpp", "ZBar", "both", "ours", "ours, manifest known")
    print("| module px | angle | labels | " + " | ".join(names) + " | time / both |\n|---|---|---|" + "---|" * 6)
    total: Counter[str] = Counter()
    for module in MODULES_PX:
        for angle in ANGLES:
            count: Counter[str] = Counter()
            for number in range(given.photos):
                seed = [int(module * 10), 255 if angle is None else int(angle), number]
                chance = np.random.default_rng(seed)
                measure(pile(module, angle, chance, serial=1 + 100 * number, hardship=hardship), count)
            row(f"{module:g} | {'any' if angle is None else f'{angle:g}'}", names, count)
            total += count
    row("all | all", names, total)
    print(
        f"\ntime with the manifest / both: {total['t manifest'] / total['t both']:.2f}; unread regions shown: "
        f"{total['unread regions']}; seconds a photo, ours: {total['t ours'] / 1e6 / (12 * given.photos):.2f}"
    )


def row(name: str, names: tuple[str, ...], count: Counter[str]) -> None:
    cells = " | ".join(
        f"{count[n]}" + (f" ({count[n + ' wrong']} wrong)" if count[n + " wrong"] else "") for n in names
    )
    print(f"| {name} | {count['labels']} | {cells} | {count['t ours'] / count['t both']:.2f} |", flush=True)


if __name__ == "__main__":
    main()
