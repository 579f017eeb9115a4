"""Symbols as modules, encoded by libraries and drawn by nobody yet: those of labels, and QR codes for screens.

A QR code (ISO/IEC 18004) is drawn here for a page or a terminal.
"""

import re
from dataclasses import dataclass

import numpy as np
import zxingcpp

from receiving.closing.label_stock import LINK_HOST
from receiving.errors import BadRequest
from receiving.messages import message
from receiving.model import Address, Sscc


@dataclass(frozen=True)
class Modules:
    """A symbol before it has a size: ``rows`` of dark (True) and light modules, and the quiet zone in modules.

    A linear symbol has one row. ``text`` is what a person types when the symbol cannot be scanned.
    """

    name: str
    text: str
    rows: tuple[tuple[bool, ...], ...]
    quiet: int

    @property
    def width(self) -> int:
        """Modules across, without quiet zones."""
        return len(self.rows[0])

    @property
    def height(self) -> int:
        """Rows of modules."""
        return len(self.rows)

    def runs(self) -> tuple[tuple[int, int, int], ...]:
        """Dark runs as (row, first module, length)."""
        return tuple(run for y, row in enumerate(self.rows) for run in _dark_runs(y, row))


def _dark_runs(y: int, row: tuple[bool, ...]) -> list[tuple[int, int, int]]:
    runs = []
    start = None
    for x, dark in enumerate((*row, False)):
        if dark and start is None:
            start = x
        elif not dark and start is not None:
            runs.append((y, start, x - start))
            start = None
    return runs


def sscc_bars(sscc: Sscc) -> Modules:
    """GS1-128 with AI 00: 156 modules (start, FNC1, ten pairs, check, stop), quiet zones of 10 modules.

    Source: GS1 General Specifications, section 5.4 (GS1-128), and ISO/IEC 15417.
    """
    return _linear("GS1-128", f"(00){sscc}", gs1=True)


def sscc_data_matrix(sscc: Sscc) -> Modules:
    """GS1 Data Matrix with AI 00 (GS1 General Specifications, section 5.6), quiet zone of 1 module."""
    return _matrix("GS1 Data Matrix", f"(00){sscc}", gs1=True)


def sscc_link(sscc: Sscc, host: str = LINK_HOST) -> Modules:
    """QR code of the SSCC's Digital Link URI, level M, quiet zone of 4 modules (ISO/IEC 18004).

    ``host`` is scheme, name and perhaps a path: where the service answers ``/00/<sscc>``.
    """
    uri = f"{host.rstrip('/')}/00/{sscc}"
    return _qr_code(uri)


def barcode_bars(barcode: str) -> Modules:
    """Plain Code 128 for a carton whose label carries no SSCC; BadRequest where Code 128 cannot hold the text."""
    return _linear("Code 128", barcode, gs1=False)


def barcode_data_matrix(barcode: str) -> Modules:
    """Plain Data Matrix with the same text as the bars."""
    return _matrix("Data Matrix", barcode, gs1=False)


def position_text(address: Address) -> str:
    """What a position symbol carries: section, column, row, readable by a person too.

    >>> position_text(Address("Paint", 3, 2))
    'SECTION Paint COL 3 ROW 2'
    """
    section = f"SECTION {address.section} " if address.section else ""
    return f"{section}COL {address.column} ROW {address.row}"


def position_data_matrix(address: Address) -> Modules:
    """Data Matrix with the planogram address alone: it still tells where a carton goes when its bars are gone."""
    return _matrix("Data Matrix", position_text(address), gs1=False)


def scanner_test_symbols(elements: tuple[tuple[str, str], ...], envelope: str) -> tuple[Modules, Modules]:
    """A GS1-128 of these elements and a Data Matrix of this envelope, to see what a scanner sends for them."""
    written = "".join(f"({ai}){value}" for ai, value in elements)
    return _linear("GS1-128", written, gs1=True), _matrix("Data Matrix", envelope, gs1=False)


def modules_svg(modules: Modules, *, row_modules: int = 1) -> str:
    """A symbol as SVG with its quiet zone, a unit for each module; ``row_modules`` is how high a row is."""
    quiet = modules.quiet
    width, height = modules.width + 2 * quiet, modules.height * row_modules + 2 * quiet
    path = "".join(
        f"M{quiet + x} {quiet + y * row_modules}h{length}v{row_modules}h-{length}z" for y, x, length in modules.runs()
    )
    box = f'viewBox="0 0 {width} {height}" shape-rendering="crispEdges" role="img" aria-label="{modules.name}"'
    ground = f'<path fill="#fff" d="M0 0h{width}v{height}H0z"/>'
    return f'<svg xmlns="http://www.w3.org/2000/svg" {box}>{ground}<path d="{path}"/></svg>'


def _linear(name: str, content: str, *, gs1: bool) -> Modules:
    rows = _encode(content, "Code128", {"gs1": gs1})
    return Modules(name, content, rows[:1], 10)


def _matrix(name: str, content: str, *, gs1: bool) -> Modules:
    return Modules(name, content, _encode(content, "DataMatrix", {"gs1": gs1, "force_square": True}), 1)


def _qr_code(content: str) -> Modules:
    # Level M whatever the size: where a smaller symbol would do for less, the library takes that unless it is asked.
    return Modules("QR code", content, _encode(content, "QRCode", {"ec_level": "M"}), 4)


def _encode(content: str, symbology: str, options: dict[str, bool | str]) -> tuple[tuple[bool, ...], ...]:
    try:
        symbol = zxingcpp.create_barcode(content, getattr(zxingcpp.BarcodeFormat, symbology), **options)
    except (ValueError, RuntimeError) as fault:
        raise BadRequest(
            message(
                "{content} cannot be printed as {symbology}: {fault}.",
                content=repr(content),
                symbology=symbology,
                fault=fault,
            ),
            next_step=message("Correct the barcode on the manifest, or leave it empty."),
        ) from fault
    image = np.asarray(symbol.to_image(scale=1, add_quiet_zones=False))
    return tuple(tuple(bool(value < 128) for value in row) for row in image)


def qr_svg(text: str, *, scale: int = 4) -> str:
    """The text as a QR code with its quiet zone, as an SVG element to stand in a page; ``scale`` is units a module."""
    symbol = zxingcpp.create_barcode(text, zxingcpp.BarcodeFormat.QRCode)
    drawn = str(symbol.to_svg(scale=scale, add_quiet_zones=True))
    # The library describes every symbol with its own name, which a screen reader would read.
    return re.sub("<desc>.*?</desc>\\s*", "", drawn[drawn.index("<svg") :], flags=re.DOTALL)


def qr_terminal(text: str) -> str:
    """The text as a QR code of half blocks with its quiet zone, for a terminal that shows light on dark."""
    code = _qr_code(text)
    margin = (False,) * code.quiet
    blank = (False,) * (code.width + 2 * code.quiet)
    above = (blank,) * code.quiet
    rows = (*above, *((*margin, *row, *margin) for row in code.rows), *above)
    below = (*rows[1:], (True,) * len(blank))  # an odd last row has the dark of the terminal below it
    lines = zip(rows[::2], below[::2], strict=True)
    return "".join("".join(map(_half_blocks, *pair)) + "\n" for pair in lines)


def _half_blocks(upper: bool, lower: bool) -> str:
    """The character that shows two modules, one above the other: light is drawn, dark is left as it is."""
    return ("█▀" if not upper else "▄ ")[lower]
