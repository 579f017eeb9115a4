"""Bytes of a table file -> text, or a fault that says how to save the file so that it can be read."""

import codecs

from receiving.errors import Fault

MAX_TABLE_BYTES = 64_000_000
"""A manifest of 100,000 rows is about 10 MB; beyond this it is some other file."""

_UTF16 = "the file is in UTF-16 ('Unicode text'); save it as 'CSV UTF-8' and load it again"
_UTF8 = "save it as 'CSV UTF-8' and load it again"


def decode_table(data: bytes) -> tuple[str, Fault | None]:
    """The text of a UTF-8 table (a BOM is dropped), or the fault that keeps it from being read."""
    if fault := _unreadable(data):
        return "", fault
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        return "", _not_utf8(data, error.start)
    if "\x00" in text:
        return "", _at(data, data.index(b"\x00"), "a NUL byte; the file is damaged or is no text; export it again")
    return text, None


def looks_like_utf16(data: bytes) -> bool:
    """True for a UTF-16 or UTF-32 byte order mark, or for text of which every other byte is NUL."""
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE, codecs.BOM_UTF32_BE)):
        return True
    head = data[:400]
    even, odd = head[0::2], head[1::2]
    return len(head) >= 4 and (even.count(0) > 0.4 * len(even)) != (odd.count(0) > 0.4 * len(odd))


def _unreadable(data: bytes) -> Fault | None:
    if not data.strip():
        return Fault(0, 0, "the file is empty; a manifest has a header row and one row for each carton")
    if len(data) > MAX_TABLE_BYTES:
        return Fault(0, 0, f"the file has {len(data):,} bytes; at most {MAX_TABLE_BYTES:,} are read as a table")
    if looks_like_utf16(data):
        return Fault(0, 0, _UTF16)
    return None


def _not_utf8(data: bytes, start: int) -> Fault:
    byte = data[start]
    guess = bytes([byte]).decode("cp1252", errors="replace")
    return _at(data, start, f"byte 0x{byte:02X} is not UTF-8 (perhaps {guess!r} of Windows-1252); {_UTF8}")


def _at(data: bytes, start: int, message: str) -> Fault:
    line = data.count(b"\n", 0, start) + 1
    return Fault(line, 0, message)
