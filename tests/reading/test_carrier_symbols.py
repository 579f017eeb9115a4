"""Numbers of carriers and license plates, from drawn symbols on a photo to the carton of the manifest.

The symbols are drawn by Zint (in zxing-cpp's writer), which shares no code with the readers; MaxiCode is ISO/IEC 16023.
"""

from datetime import UTC, datetime

import cv2
import numpy as np
import pytest
import zxingcpp

from receiving.expected import read_manifests
from receiving.matching import reconcile
from receiving.model import RawRead, Source
from receiving.reading import interpret, read_photo
from receiving.reading.bullseye import bullseyes

GS, RS, EOT = "\x1d", "\x1e", "\x04"
CARRIER = f"[)>{RS}01{GS}96123451234{GS}840{GS}001{GS}1Z23456784{GS}UPSN{GS}999AA1{GS}{GS}1/1{GS}10{GS}N{RS}{EOT}"
MANIFEST = b"""shipment,store,carton,kind,tracking,barcode
S-1,0417,1,tray,1Z999AA10123456784,
S-1,0417,2,tray,,1JUN123456789A1
S-1,0417,3,tray,,UN123456789B2
S-1,0417,4,tray,123456789012,
S-1,0417,5,tray,9405511899223197428490,
S-1,0417,6,tray,,395200000000000199
"""


def drawn(content: str, symbology: str, **options: object) -> np.ndarray:
    """The symbol on a sheet with a line of print, 1,400 pixels wide."""
    code = zxingcpp.create_barcode(content, getattr(zxingcpp.BarcodeFormat, symbology), **options)
    picture = np.asarray(code.to_image(scale=4 if symbology == "MaxiCode" else 3))
    sheet = np.full((1300, 1400), 255, np.uint8)
    sheet[300 : 300 + picture.shape[0], 300 : 300 + picture.shape[1]] = picture
    cv2.putText(sheet, "CARRIER SHIP TO 0417", (200, 1150), 0, 2, 0, 5)
    return sheet


def photo(sheet: np.ndarray, turn_deg: float = 0.0, scale: float = 0.9) -> bytes:
    """The sheet as a phone sees it: turned, a little blurred, greyer, with noise."""
    height, width = sheet.shape
    turned = cv2.getRotationMatrix2D((width / 2, height / 2), turn_deg, scale)
    seen = cv2.GaussianBlur(cv2.warpAffine(sheet, turned, (width, height), borderValue=150), (0, 0), 0.9)
    noise = np.random.default_rng(1).normal(0, 4, seen.shape)
    grey = np.clip(seen * 0.8 + 20 + noise, 0, 255).astype(np.uint8)
    return bytes(cv2.imencode(".jpg", grey)[1])


def received(data: bytes) -> list[str]:
    """The cartons that a photo receives, read and matched as the service does."""
    symbols = read_photo("label.jpg", data).symbols
    now = datetime(2026, 3, 2, tzinfo=UTC)
    raws = [RawRead(f"r{n}", now, Source.PHOTO, s.raw, s.symbology, label=1, photo="p") for n, s in enumerate(symbols)]
    (manifest,) = read_manifests("m.csv", MANIFEST).manifests
    return [f.carton.carton for f in reconcile(manifest, map(interpret, raws)).received]


@pytest.mark.parametrize(("turn_deg", "scale"), [(0, 0.9), (33, 0.5), (90, 0.9), (201, 0.4), (317, 0.7)])
def test_a_carriers_maxicode_is_read_however_it_is_turned(turn_deg: float, scale: float) -> None:
    assert received(photo(drawn(CARRIER, "MaxiCode"), turn_deg, scale)) == ["1"]


def test_rings_that_are_no_symbol_give_nothing() -> None:
    sheet = np.full((900, 900), 255, np.uint8)
    for radius in (40, 90, 140, 190):
        cv2.circle(sheet, (450, 450), radius, 0, 22)
    assert bullseyes(sheet)
    assert read_photo("target.jpg", photo(sheet)).symbols == ()


@pytest.mark.parametrize(
    ("content", "symbology", "carton"),
    [
        (f"[)>{RS}06{GS}1JUN123456789A1{GS}Q5{RS}{EOT}", "DataMatrix", "2"),
        (f"[)>{RS}06{GS}1JUN123456789B2{RS}{EOT}", "DataMatrix", "3"),
        ("1JUN123456789B2", "Code128", "3"),
        ("UN123456789A1", "Code128", "2"),
        ("9632001960000000000400123456789012", "Code128", "4"),
        ("420123459405511899223197428490", "Code128", "5"),
        ("00395200000000000199", "Code128", "6"),
        ("1Z999AA10123456784", "Code128", "1"),
    ],
)
def test_plates_and_parcel_numbers_are_read_and_receive_their_carton(content: str, symbology: str, carton: str) -> None:
    assert received(photo(drawn(content, symbology), 7)) == [carton]
