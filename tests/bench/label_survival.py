"""Which symbol of our own label survives what: read rate of bars, Data Matrix and QR over photos of growing severity.

    python tests/bench/label_survival.py [--photos 30] [--px-per-mm 4]

Photos are those of `photo_model.Look.graded`; every decoder sees the same ones. zxing-cpp reads all three, ZBar the
bars and the QR. "any" is the label as a whole: at least one symbol read. A misread is a text that no symbol carries.
"""

import argparse
import sys
from pathlib import Path

import numpy as np
import zxingcpp
from photo_model import Look, photograph
from pyzbar.pyzbar import ZBarSymbol
from pyzbar.pyzbar import decode as zbar

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from receiving.closing.label_printing import drawing_image
from receiving.closing.labels import carton_label
from receiving.model import Address, Carton, CartonKind, ContentLine, Manifest, Sscc

SSCC = Sscc("195200041700000052")
CARTON = Carton("05", CartonKind.TRAY, SSCC, contents=(ContentLine("Harrow", Address("Harrow", 2, 1)),))
COLUMNS = ("bars", "bars ZBar", "Data Matrix", "QR", "QR ZBar", "position", "any")
NAMES = {"]C1": "bars", "]d2": "Data Matrix", "]Q1": "QR", "]d1": "position"}


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--photos", type=int, default=30, help="photos at each severity")
    parser.add_argument("--px-per-mm", type=float, default=4.0)
    options = parser.parse_args()
    label = drawing_image(carton_label(CARTON, Manifest("PW-1", "0417", (CARTON,))))
    print("severity  " + "  ".join(f"{name:>11}" for name in COLUMNS) + "  misreads")
    for severity in (0.0, 0.2, 0.4, 0.6, 0.8, 1.0):
        read, wrong = dict.fromkeys(COLUMNS, 0), 0
        for seed in range(options.photos):
            rng = np.random.default_rng([seed, round(severity * 100)])
            look = Look.graded(severity, rng, px_per_mm=options.px_per_mm)
            found, bad = symbols_read(photograph(label, look, rng).image)
            wrong += bad
            for name in found:
                read[name] += 1
        print(
            f"{severity:8.1f}  "
            + "  ".join(f"{read[name] / options.photos:11.0%}" for name in COLUMNS)
            + f"  {wrong:8}"
        )


def symbols_read(image: np.ndarray) -> tuple[set[str], int]:
    """The table's columns that this photo earns, and how many texts were read that no symbol carries."""
    right = {f"00{SSCC}", f"https://id.gs1.org/00/{SSCC}", "SECTION Harrow COL 2 ROW 1"}
    found, wrong = set(), 0
    for one in zxingcpp.read_barcodes(image):
        text = one.bytes.decode("latin-1")
        wrong += text not in right
        if text in right:
            found.add(NAMES[one.symbology_identifier])
    for two in zbar(image[..., 1].copy(), symbols=[ZBarSymbol.CODE128, ZBarSymbol.QRCODE]):
        text = two.data.decode("latin-1")
        wrong += text not in right
        if text in right:
            found.add("QR ZBar" if two.type == "QRCODE" else "bars ZBar")
    return found | ({"any"} if found - {"position"} else set()), wrong


if __name__ == "__main__":
    main()
