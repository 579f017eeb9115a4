"""Bytes of an EDI file -> text in blocks, with the character set that its header declares, and how far it has come."""

import codecs
import re
from collections.abc import Callable
from typing import BinaryIO

BLOCK_BYTES = 65_536
MAX_SEGMENT = 1_000_000
"""Characters of the longest segment that is read; beyond this the terminator is missing."""

_CHARSETS = {
    "UNOC": "iso8859-1",
    "UNOD": "iso8859-2",
    "UNOE": "iso8859-5",
    "UNOF": "iso8859-7",
    "UNOG": "iso8859-3",
    "UNOH": "iso8859-4",
    "UNOI": "iso8859-6",
    "UNOJ": "iso8859-8",
    "UNOK": "iso8859-9",
}
"""Syntax identifiers of ISO 9735 (level C to K); levels A and B are ASCII, W and Y are UTF-8."""

_SYNTAX = re.compile(rb"UNB.(UNO[A-Z])")


class EdiSource:
    """Reads a binary file in blocks of text.

    Files are tried as UTF-8 first, whatever they declare, because many declare UNOA or UNOC and are UTF-8; bytes
    that are not UTF-8 are taken in the declared character set (Windows-1252 where none is declared).
    """

    def __init__(self, file: BinaryIO, on_block: Callable[[int], None] = lambda _: None) -> None:
        self._file = file
        self._on_block = on_block
        self._waiting: list[str] = []
        self._ended = False
        self._first = True
        self.charset = "cp1252"
        self._decoder = codecs.getincrementaldecoder("utf-8")(errors="surrogateescape")
        self.bytes_read = 0
        self.bytes_not_utf8 = 0

    def read(self) -> str:
        """The next block of text; empty at the end."""
        while not self._waiting and not self._ended:
            self._read_block()
        return self._waiting.pop() if self._waiting else ""

    def push_back(self, text: str) -> None:
        """Give back text that belongs to the next interchange."""
        if text:
            self._waiting.append(text)

    def _read_block(self) -> None:
        data = self._file.read(BLOCK_BYTES)
        self._ended = not data
        if self._first:
            data = self._start(data)
        self.bytes_read += len(data)
        text = self._decoder.decode(data, final=self._ended)
        self.push_back(self._repair(text))
        self._on_block(self.bytes_read)

    def _start(self, data: bytes) -> bytes:
        self._first = False
        declared = _SYNTAX.search(data[:400])
        if declared:
            self.charset = _CHARSETS.get(declared[1].decode(), "cp1252")
        return data.removeprefix(codecs.BOM_UTF8)

    def _repair(self, text: str) -> str:
        """Bytes that were not UTF-8 stand as lone surrogates; put the declared character set's signs there."""
        if text.isascii() or not (odd := _ESCAPED.findall(text)):
            return text
        self.bytes_not_utf8 += len(odd)
        return _ESCAPED.sub(lambda found: bytes([ord(found[0]) - 0xDC00]).decode(self.charset, "replace"), text)


_ESCAPED = re.compile(r"[\udc80-\udcff]")
