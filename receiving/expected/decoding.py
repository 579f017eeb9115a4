"""Bytes of a table file -> text, or a fault that says how to save the file so that it can be read."""

import codecs

from receiving.errors import Fault
from receiving.messages import Text, figure, message

MAX_TABLE_BYTES = 64_000_000
"""A manifest of 100,000 rows is about 10 MB; beyond this it is some other file."""


def decode_table(data: bytes) -> tuple[str, Fault | None, Text]:
    """The text of a table, the fault that keeps it from being read, and what a person should look at.

    UTF-8 is read as it is (a BOM is dropped); UTF-16, and Windows-1252 where the bytes are no UTF-8, are read and said.
    """
    if fault := _unreadable(data):
        return "", fault, ""
    if looks_like_utf16(data):
        return _utf16(data)
    said: Text = ""
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        try:
            text = data.decode("cp1252")
        except UnicodeDecodeError:
            return "", _not_utf8(data, error.start), ""
        signs = sorted({sign for sign in text if ord(sign) > 127})[:12]
        said = message(
            "the file is not UTF-8; it was read as Windows-1252: look at {signs} in its names", signs=" ".join(signs)
        )
    if "\x00" in text:
        return (
            "",
            _at(data, data.index(b"\x00"), message("a NUL byte; the file is damaged or is not text; export it again")),
            "",
        )
    return text, None, said


def _utf16(data: bytes) -> tuple[str, Fault | None, Text]:
    """Text in UTF-16, with or without a byte order mark ('Unicode text' of spreadsheets)."""
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        encoding = "utf-16"
    else:
        encoding = "utf-16-le" if data[1::2].count(0) >= data[0::2].count(0) else "utf-16-be"
    try:
        text = data.decode(encoding)
    except UnicodeDecodeError:
        return (
            "",
            Fault(
                0,
                0,
                message("the file is in UTF-16 ('Unicode text') and damaged; save it as 'CSV UTF-8' and load it again"),
            ),
            "",
        )
    if "\x00" in text:
        return (
            "",
            Fault(0, 0, message("the file is in UTF-32 or damaged; save it as 'CSV UTF-8' and load it again")),
            "",
        )
    return text.removeprefix("\ufeff"), None, message("the file is in UTF-16 ('Unicode text'); it was read so")


def looks_like_utf16(data: bytes) -> bool:
    """True for a UTF-16 or UTF-32 byte order mark, or for text of which every other byte is NUL."""
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE, codecs.BOM_UTF32_BE)):
        return True
    head = data[:400]
    even, odd = head[0::2], head[1::2]
    return len(head) >= 4 and (even.count(0) > 0.4 * len(even)) != (odd.count(0) > 0.4 * len(odd))


def _unreadable(data: bytes) -> Fault | None:
    if not data.strip():
        return Fault(0, 0, message("the file is empty; a manifest has a header row and one row for each carton"))
    if len(data) > MAX_TABLE_BYTES:
        return Fault(
            0,
            0,
            message(
                "the file has {number} bytes; at most {most} are read as a table",
                number=figure(len(data)),
                most=figure(MAX_TABLE_BYTES),
            ),
        )
    if data.startswith((codecs.BOM_UTF32_BE, codecs.BOM_UTF32_LE)):
        return Fault(0, 0, message("the file is in UTF-32; save it as 'CSV UTF-8' and load it again"))
    return None


def _not_utf8(data: bytes, start: int) -> Fault:
    byte = data[start]
    guess = bytes([byte]).decode("cp1252", errors="replace")
    return _at(
        data,
        start,
        message(
            "byte 0x{byte} is not UTF-8 (perhaps {guess} of Windows-1252); save it as 'CSV UTF-8' and load it again",
            byte=format(byte, "02X"),
            guess=repr(guess),
        ),
    )


def _at(data: bytes, start: int, what: Text) -> Fault:
    line = data.count(b"\n", 0, start) + 1
    return Fault(line, 0, what)
