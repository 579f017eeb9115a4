"""Codes that lie nearest to a code: what a label that is not expected would most likely be mistaken for."""

from collections.abc import Iterator
from functools import lru_cache

from receiving.model import ExpectedCode, mod10_check_digit

CONSECUTIVE = 100


@lru_cache(maxsize=512)
def rivals(code: ExpectedCode) -> tuple[ExpectedCode, ...]:
    """Valid codes of the same symbology and length that are nearest to ``code``, without itself."""
    found = dict.fromkeys(_near(code))
    found.pop(code.raw, None)
    return tuple(ExpectedCode(raw, code.symbology) for raw in found)


def _near(code: ExpectedCode) -> Iterator[str]:
    raw = code.raw
    if code.symbology in ("]E0", "]E4") or (code.symbology in ("]I0", "]I1") and len(raw) == 14):
        yield from _two_digits(raw)
        return
    if code.symbology == "]C1" and raw.startswith("00") and len(raw) == 20:
        yield from ("00" + sscc for sscc in _two_digits(raw[2:]))
        yield from ("00" + sscc for sscc in _consecutive(raw[2:]))
        return
    alphabet = "0123456789" if raw.isdigit() else "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ-. "
    for place, here in enumerate(raw):
        if here == "\x1d":
            continue
        for other in alphabet if not here.islower() else "abcdefghijklmnopqrstuvwxyz0123456789-":
            if other != here:
                yield raw[:place] + other + raw[place + 1 :]
        if place and raw[place - 1] not in (here, "\x1d"):
            yield raw[: place - 1] + here + raw[place - 1] + raw[place + 1 :]


def _two_digits(raw: str) -> Iterator[str]:
    """All codes with a right check digit that differ in exactly two digits, the least that two valid codes can."""
    last = len(raw) - 1
    weight = [3 if (last - place) % 2 else 1 for place in range(len(raw))]
    for a in range(len(raw)):
        for b in range(a + 1, len(raw)):
            for da in range(1, 10):
                for db in range(1, 10):
                    if (weight[a] * da + weight[b] * db) % 10 == 0:
                        yield _changed(raw, ((a, da), (b, db)))


def _changed(raw: str, changes: tuple[tuple[int, int], ...]) -> str:
    digits = list(raw)
    for place, by in changes:
        digits[place] = str((int(digits[place]) + by) % 10)
    return "".join(digits)


def _consecutive(sscc: str) -> Iterator[str]:
    serial = int(sscc[:-1])
    for by in range(-CONSECUTIVE, CONSECUTIVE + 1):
        if 0 <= serial + by < 10**17:
            digits = str(serial + by).zfill(17)
            yield digits + mod10_check_digit(digits)
