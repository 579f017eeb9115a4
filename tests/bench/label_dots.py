"""Labels read back at each printer's resolution by three decoders: zxing-cpp, ZBar and OpenCV.

Run: ``PYTHONPATH=. python tests/bench/label_dots.py [--labels 30]``. Each label is made as the printer's file has it
(ZPL raster), expanded again and decoded whole. Bars by zxing-cpp and ZBar; Data Matrix by zxing-cpp; the QR code by
OpenCV, which reads no Code 128. ``snapped to 300`` is what the labels were before: a 300 dpi picture scaled to the
printer.
"""

import argparse
from collections import Counter

import cv2
import numpy as np
import zxingcpp
from PIL import Image
from pyzbar import pyzbar

from receiving.closing import LabelPrint, labels_raster
from receiving.closing.label_printing import bitmap, raster_images
from receiving.closing.labels import carton_label
from receiving.model import Address, Carton, CartonKind, ContentLine, Manifest, Sscc, mod10_check_digit

FORMATS = (("bars zxing-cpp", "Code128"), ("matrix zxing-cpp", "DataMatrix"))


def cartons(count: int) -> tuple[Carton, ...]:
    made = []
    for n in range(count):
        body = f"39520000{n * 7919 % 10**9:09d}"
        line = ContentLine("Harbor", Address("Harbor", n % 12 + 1, n % 5 + 1), f"I{n}")
        sscc = Sscc(body + mod10_check_digit(body))
        made.append(Carton(f"{n:03d}", CartonKind.TRAY, sscc, contents=(line,), weight_kg=4.5, open_first=n % 7 == 0))
    return tuple(made)


def read_by(image: np.ndarray, digits: str) -> Counter[str]:
    found: Counter[str] = Counter()
    for name, kind in FORMATS:
        texts = {each.text for each in zxingcpp.read_barcodes(image, formats=getattr(zxingcpp.BarcodeFormat, kind))}
        found[name] += f"(00){digits}" in texts
    codes = pyzbar.decode(image, symbols=[pyzbar.ZBarSymbol.CODE128])
    found["bars ZBar"] += f"00{digits}" in {code.data.decode() for code in codes}
    ok, texts, _, _ = cv2.QRCodeDetector().detectAndDecodeMulti(image)
    found["QR OpenCV"] += bool(ok) and f"https://id.gs1.org/00/{digits}" in texts
    return found


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--labels", type=int, default=30)
    asked = parser.parse_args()
    made = cartons(asked.labels)
    manifest = Manifest("S", "0417", made)
    for dpi in (200, 203, 300, 600):
        data = labels_raster(made, manifest, LabelPrint(dpi=dpi))
        found: Counter[str] = Counter()
        for carton, image in zip(made, raster_images(data), strict=True):
            found += read_by(_padded(image.convert("L")), str(carton.sscc))
        size = len(data) / asked.labels / 1000
        print(f"{dpi} dpi, whole dots:     {_words(found, asked.labels)}; {size:.0f} kB a label")
        if dpi != 300:
            found = Counter()
            for carton in made:
                picture = bitmap(carton_label(carton, manifest, dpi=300)).resize(image.size, Image.Resampling.NEAREST)
                found += read_by(_padded(picture.convert("L")), str(carton.sscc))
            print(f"{dpi} dpi, snapped to 300: {_words(found, asked.labels)}")


def _padded(image: Image.Image) -> np.ndarray:
    return np.pad(np.asarray(image), 40, constant_values=255)


def _words(found: Counter[str], count: int) -> str:
    names = ("bars zxing-cpp", "bars ZBar", "matrix zxing-cpp", "QR OpenCV")
    return ", ".join(f"{name} {found[name]}/{count}" for name in names)


if __name__ == "__main__":
    main()
