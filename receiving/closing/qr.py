"""A QR code for a screen or a terminal (ISO/IEC 18004)."""

import io
import re

import segno
import zxingcpp


def qr_svg(text: str, *, scale: int = 4) -> str:
    """The text as a QR code with its quiet zone, as an SVG element to stand in a page; ``scale`` is units a module."""
    symbol = zxingcpp.create_barcode(text, zxingcpp.BarcodeFormat.QRCode)
    drawn = str(symbol.to_svg(scale=scale, add_quiet_zones=True))
    # The library describes every symbol with its own name, which a screen reader would read.
    return re.sub("<desc>.*?</desc>\\s*", "", drawn[drawn.index("<svg") :], flags=re.DOTALL)


def qr_terminal(text: str) -> str:
    """The text as a QR code of half blocks with its quiet zone, for a terminal that shows light on dark."""
    drawn = io.StringIO()
    segno.make(text, error="m", micro=False).terminal(drawn, border=4, compact=True)
    return drawn.getvalue()
