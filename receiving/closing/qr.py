"""A QR code for a screen, from zxing-cpp's writer (ISO/IEC 18004)."""


def qr_svg(text: str, *, scale: int = 4) -> str:
    """The text as a QR code with its quiet zone, as an SVG element to stand in a page; ``scale`` is units a module."""
    import zxingcpp

    symbol = zxingcpp.create_barcode(text, zxingcpp.BarcodeFormat.QRCode)
    drawn = str(symbol.to_svg(scale=scale, add_quiet_zones=True))
    return drawn[drawn.index("<svg") :]
