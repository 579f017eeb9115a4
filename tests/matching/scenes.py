"""Small manifests and reads for the tests of matching; codes are computed here, beside the tests that use them."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from uuid import UUID

from receiving.model import (
    Address,
    Carton,
    CartonKind,
    Claim,
    ContentLine,
    LabelRead,
    Manifest,
    Place,
    RawRead,
    Source,
    Sscc,
    mod10_check_digit,
)

NOON = datetime(2026, 3, 2, 12, 0, tzinfo=UTC)


def sscc(number: int) -> Sscc:
    body = f"0952{number:013d}"
    return Sscc(body + mod10_check_digit(body))


def carton(name: str, *cells: tuple[int, int], code: int | None = None, section: str = "Oak", **more: object) -> Carton:
    contents = tuple(ContentLine(section, Address(section, column, row)) for column, row in cells)
    label = sscc(code if code is not None else 1000 + int(name)) if code != 0 else None
    return replace(Carton(name, CartonKind.TRAY, label, contents=contents), **more)  # type: ignore[arg-type]


def manifest(*cartons: Carton, shipment: str = "SH-1", store: str = "0417") -> Manifest:
    return Manifest(shipment, store, cartons)


def read(
    number: int,
    raw: str = "",
    *,
    photo: str = "",
    label: int = 0,
    at: float | None = None,
    x: float = 0.0,
    symbology: str = "]C1",
    source: Source | None = None,
    place: Place = Place.BACK_ROOM,
    guided: bool = False,
    alternatives: tuple[str, ...] = (),
    **claim: object,
) -> LabelRead:
    """One read; ``x`` moves its 100-pixel quad to the right, ``at`` is seconds after noon."""
    stated = Claim(**claim)  # type: ignore[arg-type]
    text = raw or (
        f"00{stated.sscc}" if stated.sscc else stated.barcode or (str(stated.address) if stated.address else "text")
    )
    quad = ((x, 0.0), (x + 100, 0.0), (x + 100, 50.0), (x, 50.0)) if photo else None
    return LabelRead(
        RawRead(
            str(UUID(int=number)),
            NOON + timedelta(seconds=number * 600 if at is None else at),
            source or (Source.PHOTO if photo else Source.SCANNER),
            text,
            symbology,
            place,
            "Ana",
            photo,
            quad,
            label,
            guided=guided,
            alternatives=alternatives,
        ),
        stated,
    )


def at(column: int, row: int, section: str = "Oak") -> Address:
    return Address(section, column, row)
