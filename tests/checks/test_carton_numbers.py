"""A carton whose number a label shows is received by that number, however the shipper and the label write it.

Sources: GS1 General Specifications 7.9.1 (check digit), 5.4 (GS1-128, AI 00 and 420); ANSI MH10.8.2 (data identifiers J
and 1J to 6J) and ISO/IEC 15434 (formats 01 and 06); ANSI MH10.8.3 (the structured carrier message of a MaxiCode). The
parcel numbers are examples of the open collection tracking_number_data (MIT), from memory where no check digit is told.
"""

from datetime import UTC, datetime
from uuid import UUID

import pytest

from receiving.matching import reconcile
from receiving.model import Carton, CartonKind, Manifest, RawRead, Reconciliation, Source, Sscc
from receiving.reading import interpret
from receiving.reading.symbology import EOT, GS, RS
from tests.spoken import in_words

WRONG = "195200000000000019"  # its first 17 digits give 8
RIGHT = "195200000000000018"
ENVELOPE = f"[)>{RS}06{GS}%s{RS}{EOT}"


def seen(text: str, carton: Carton, *, source: Source = Source.SCANNER, symbology: str = "") -> Reconciliation:
    manifest = Manifest("S", "0417", (carton, Carton("99", CartonKind.TRAY, barcode="OTHER-99")))
    raw = RawRead(str(UUID(int=1)), datetime(2026, 3, 2, tzinfo=UTC), source, text, symbology)
    return reconcile(manifest, [interpret(raw)])


def received(found: Reconciliation) -> list[str]:
    return [finding.carton.carton for finding in found.received]


def tray(*, sscc: str = "", barcode: str = "", numbers: tuple[str, ...] = ()) -> Carton:
    return Carton("01", CartonKind.TRAY, sscc=Sscc(sscc) if sscc else None, barcode=barcode, numbers=numbers)


@pytest.mark.parametrize(
    ("text", "source"),
    [
        (f"]C100{WRONG}", Source.SCANNER),
        (f"00{WRONG}", Source.SCANNER),
        (f"(00){WRONG}", Source.SCANNER),
        (WRONG, Source.SCANNER),
        (f"(00) {WRONG[0]} {WRONG[1:8]} {WRONG[8:]}", Source.TYPED),
        (WRONG, Source.TYPED),
    ],
)
def test_a_number_with_a_wrong_check_digit_is_received_where_the_manifest_has_it_so(text: str, source: Source) -> None:
    found = seen(text, tray(barcode=WRONG), source=source)
    assert received(found) == ["01"]
    assert "check digit" in in_words(found.received[0])


def test_a_photo_of_a_number_with_a_wrong_check_digit_is_received_too() -> None:
    assert received(seen(f"00{WRONG}", tray(barcode=WRONG), source=Source.PHOTO, symbology="]C1")) == ["01"]


@pytest.mark.parametrize("text", [f"]C100{WRONG}", f"(00){WRONG}", WRONG])
def test_a_number_with_a_wrong_check_digit_that_no_manifest_has_is_no_carton(text: str) -> None:
    found = seen(text, tray(sscc="195200000000000025"))
    assert received(found) == []
    assert not found.extra


PLATE = "UN123456789A1B2C3D4"


@pytest.mark.parametrize("listed", [f"1J{PLATE}", PLATE, f"J{PLATE}", PLATE.lower()])
@pytest.mark.parametrize("text", [ENVELOPE % f"1J{PLATE}", f"1J{PLATE}", f"J{PLATE}", f"6J{PLATE}", PLATE])
def test_a_license_plate_is_the_same_with_and_without_its_data_identifier(listed: str, text: str) -> None:
    assert received(seen(text, tray(barcode=listed), symbology="]d1" if text.startswith("[") else "")) == ["01"]


def test_a_license_plate_beside_other_fields_is_found_by_any_carton_number() -> None:
    text = ENVELOPE % f"P4711{GS}Q20{GS}3SS00012345{GS}1J{PLATE}"
    assert received(seen(text, tray(sscc=RIGHT, numbers=(PLATE,)), symbology="]d1")) == ["01"]
    assert received(seen(text, tray(sscc=RIGHT, numbers=("S00012345",)), symbology="]d1")) == ["01"]


@pytest.mark.parametrize(
    ("listed", "text"),
    [
        ("1Z879E930346834440", "1Z 879 E93 03 4683 444 0"),
        ("1Z879E930346834440", "1z879e930346834440"),
        ("1z 879 e93 03 4683 444 0", "]C01Z879E930346834440"),
        ("RB123456785GB", "RB 123 456 785 GB"),
        ("986578788855", "]C01001921334250001000300986578788855"),  # 34 digits, the last 12
        ("9865 7878 8855", "]C01001921334250001000300986578788855"),
        ("987654312345672", "9611020987654312345672"),
        ("9405511899223197428490", "]C1420123459405511899223197428490"),
        ("9405511899223197428490", f"]C142012345{GS}9405511899223197428490"),
        ("9405511899223197428490", "4201234567899405511899223197428490"),
        ("9405511899223197428490", "9405 5118 9922 3197 4284 90"),
        ("JD014600003828392837", "JJD014600003828392837"),
    ],
)
def test_a_parcel_number_is_received_as_printed_and_inside_a_longer_bar_content(listed: str, text: str) -> None:
    symbology, text = (text[:3], text[3:]) if text.startswith("]") else ("", text)
    for carton in (tray(barcode=listed), tray(sscc=RIGHT, barcode="B-1", numbers=("X-1", listed))):
        assert received(seen(text, carton, symbology=symbology)) == ["01"]


MAXICODE = f"[)>{RS}01{GS}" + GS.join(
    ["96152382802", "840", "001", "1Z34683440", "UPSN", "879E93", "089", "", "1/1", "10", f"Y{RS}{EOT}"]
)


def test_the_carrier_message_of_a_maxicode_gives_the_whole_parcel_number() -> None:
    # 1Z, the shipper's six characters, the last two digits of the class of service, the package's eight digits.
    assert received(seen(MAXICODE, tray(barcode="1Z879E930134683440"), symbology="]U1")) == ["01"]
    assert received(seen(MAXICODE, tray(barcode="1Z34683440"), symbology="]U1")) == ["01"]
