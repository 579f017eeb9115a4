"""Papers read back by a reader that had no part in writing them (pypdfium2)."""

from dataclasses import dataclass

import pytest

pdfium = pytest.importorskip("pypdfium2", reason="pypdfium2 reads the PDF independently of the library that wrote it")


@dataclass(frozen=True)
class Page:
    """One page: its size in points and its words in reading order, white space between them made one space."""

    width_pt: float
    height_pt: float
    text: str


def pages(pdf: bytes) -> list[Page]:
    """The pages of a PDF as a person finds them."""
    document = pdfium.PdfDocument(pdf)
    try:
        return [Page(*page.get_size(), " ".join(page.get_textpage().get_text_range().split())) for page in document]
    finally:
        document.close()


def words(pdf: bytes) -> str:
    """All words of a PDF, page after page."""
    return " ".join(page.text for page in pages(pdf))


def title(pdf: bytes) -> str:
    """The title that a reader shows."""
    document = pdfium.PdfDocument(pdf)
    try:
        return str(document.get_metadata_value("Title"))
    finally:
        document.close()


def in_order(pdf: bytes, *parts: str) -> bool:
    """True where all of these stand on the paper, each behind the one before; names the first that does not."""
    text, at = words(pdf), 0
    for part in parts:
        found = text.find(part, at)
        assert found >= 0, f"{part!r} does not stand behind what comes before it, in: {text}"
        at = found + len(part)
    return True
