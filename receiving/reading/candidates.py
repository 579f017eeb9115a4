"""The codes that a label in view may carry, from the manifests: what guided reading may look for."""

from collections.abc import Iterable

from receiving.model import Carton, ExpectedCode, Manifest, has_valid_check_digit
from receiving.reading import gs1
from receiving.reading.symbology import CODE_39_CHARACTERS


def expected_codes(manifests: Iterable[Manifest]) -> tuple[ExpectedCode, ...]:
    """Every code of every carton once, in manifest order.

    An SSCC is expected as AI 00 in GS1-128. The form of a plain barcode decides in which symbologies it is looked
    for, the likeliest first: digits with a GTIN's length and check digit as EAN/UPC or ITF-14, and any text that
    they can hold as Code 128 and Code 39.
    """
    codes = (code for manifest in manifests for carton in manifest for code in _codes_of(carton))
    return tuple(dict.fromkeys(codes))


def _codes_of(carton: Carton) -> Iterable[ExpectedCode]:
    if carton.sscc is not None:
        yield ExpectedCode(f"00{carton.sscc}", "]C1")
    for code in dict.fromkeys((carton.barcode, *carton.numbers)):
        if len(code) == 18 and code.isascii() and code.isdigit():
            yield ExpectedCode(f"00{code}", "]C1")  # an SSCC whose check digit the shipper has wrong
        if code:
            yield from (ExpectedCode(code, symbology) for symbology in _symbologies(code))


def _symbologies(barcode: str) -> Iterable[str]:
    if barcode.isascii() and barcode.isdigit() and has_valid_check_digit(barcode):
        retail = {8: "]E4", 12: "]E0", 13: "]E0", 14: "]I1"}.get(len(barcode))
        if retail:
            yield retail
    if _is_element_strings(barcode):
        yield "]C1"
    if barcode.isascii() and barcode.isprintable():
        yield "]C0"
    if set(CODE_39_CHARACTERS).issuperset(barcode):
        yield "]A0"


def _is_element_strings(barcode: str) -> bool:
    """AI 01 or 02 with a right GTIN, and only whole elements: such a text is printed as GS1-128."""
    key = barcode[:2] in ("01", "02") and has_valid_check_digit(barcode[2:16])
    return key and len(barcode) >= 16 and not gs1.read_element_strings(barcode).faults
