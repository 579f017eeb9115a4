"""What this browser's scanner sends: tried on a page, kept by the browser, undone for each of its scans."""

from receiving import closing
from receiving.reading import TEST_ENVELOPE, TEST_GS1


def draw_test_symbols() -> tuple[str, str]:
    """The two test symbols as SVG: GS1-128 and Data Matrix."""
    bars, matrix = closing.scanner_test_symbols(TEST_GS1, TEST_ENVELOPE)
    return closing.modules_svg(bars, row_modules=40), closing.modules_svg(matrix)
