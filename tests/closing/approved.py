"""Papers and messages as people looked at them and found them right, kept beside the tests.

A change of what leaves the house shows here first. Look at the new ones, and where they are right keep them with
``python tests/closing/approved.py`` (from the folder of the project): it writes ``tests/closing/approved/``. With
``--plans`` the plans that are printed are made anew first.
Pictures are drawn by pypdfium2, which had no part in writing the papers, in the fonts that are shipped.
"""

import json
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path

import numpy as np
from PIL import Image
from reportlab.pdfbase import pdfmetrics

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from receiving.closing import (
    bay_sheets_pdf,
    paper,
    receipt_pdf,
    receiving_advice_edifact,
    receiving_advice_x12,
    receiving_events,
    replacement_csv,
    replacement_json,
    replacement_pdf,
    show_receipt,
)
from receiving.closing.label_drawing import LabelDrawing
from receiving.closing.label_printing import drawings_pdf, labels_pdf
from receiving.closing.label_stock import STOCKS, LabelExtras, LabelPrint
from receiving.closing.labels import carton_label, position_label
from receiving.closing.plan_print import plan_pdf
from receiving.model import (
    Address,
    Carton,
    CartonKind,
    ContentLine,
    Layout,
    Manifest,
    Receipt,
    Reconciliation,
    SheetItem,
    ShownLine,
    Signature,
    StagingPlan,
)
from receiving.store.records import from_text, to_text
from tests.closing.printed import pdfium
from tests.closing.test_label_sheets import CARTONS, sscc
from tests.closing.test_label_sheets import MANIFEST as LABELLED
from tests.closing.test_printed_papers import sheets
from tests.closing.test_receipt import MANIFEST, TROUBLED, WHOLE
from tests.closing.test_receiving_advice import PARTIES, advice_of
from tests.closing.test_replacement import LAMP, RAIL, TRAY, request
from tests.spoken import built, in_english

FOLDER = Path(__file__).with_name("approved")
DPI = 75
AT = datetime(2026, 3, 2, 9, 30, tzinfo=UTC)
SIGNED = Signature((((50, 250), (200, 40), (350, 250)), ((120, 160), (280, 160)), ((600, 100),)), 300)


def _receipt() -> bytes:
    shown = show_receipt(TROUBLED, MANIFEST, 3)
    return receipt_pdf(Receipt(2, AT, "Ida Berg", "Store manager", "Box 3 & 4 <wet>", True, shown, signature=SIGNED))


def _plain_receipt() -> bytes:
    shown = show_receipt(WHOLE, MANIFEST, 1)
    return receipt_pdf(Receipt(1, AT, "Ida Berg", "Store manager", "", False, shown), paper="Letter")


def _long_receipt() -> bytes:
    shown = show_receipt(TROUBLED, MANIFEST, 3)
    here = tuple(ShownLine(f"{n:02}", "received", f"Carton {n:02}, tray: here.") for n in range(25))
    short = tuple(ShownLine(f"{n:02}", "short", f"Carton {n:02}, tray: missing. No label was seen.") for n in range(60))
    return receipt_pdf(Receipt(3, AT, "Ida Berg", "Manager", "", True, replace(shown, lines=(*short, *here))))


PLANS = Path(__file__).with_name("plans")


def _plan(name: str) -> bytes:
    """A plan as it was once made: the paper changes with the paper alone, not with how loads are planned."""
    plan, *rest = json.loads((PLANS / f"{name}.json").read_text())
    kinds = (Manifest, Layout | None, Reconciliation)
    made = (from_text(json.dumps(each), kind) for each, kind in zip(rest, kinds, strict=True))  # type: ignore[arg-type]
    return plan_pdf(built(StagingPlan, plan), *made)


def _long_sheets():  # type: ignore[no-untyped-def]
    (first, *_) = sheets()
    more = [replace(row, trays=(SheetItem(CartonKind.TRAY, f"TR-{n:02}", "tray of many words", 1),),
                    parts=(SheetItem(CartonKind.PARTS, "", f"part {n}", 1),) * 2)
            for n, row in enumerate(first.rows * 12)]  # fmt: skip
    return [
        replace(
            first,
            rows=tuple(more),
            section_wide=tuple((SheetItem(CartonKind.OTHER, "", each, 1), "07") for each in ("one sign", "two rails")),
        )
    ]


PAPERS: dict[str, Callable[[], bytes]] = {
    "receipt": _receipt,
    "receipt_long": _long_receipt,
    "receipt_letter": _plain_receipt,
    "request": lambda: replacement_pdf(request(RAIL, TRAY, LAMP, previous=request(RAIL))),
    "request_long": lambda: replacement_pdf(request(*(replace(RAIL, item=f"PR-{n:02}", qty=n) for n in range(1, 40)))),
    "bay_sheets_long": lambda: bay_sheets_pdf(_long_sheets()),
    "bay_sheets": lambda: bay_sheets_pdf(sheets()),
    "plan": lambda: _plan("plain"),
    "plan_aisles": lambda: _plan("aisles"),
    "labels": lambda: labels_pdf(CARTONS[:2], LABELLED),
    "labels_pounds": lambda: labels_pdf(
        CARTONS[:1], LABELLED, LabelPrint(extras=LabelExtras(("Northlight, Dock 4", "Quay Street"), pounds=True))
    ),
    "labels_four": lambda: labels_pdf(CARTONS[:3], LABELLED, LabelPrint("a4-4up"), first_place=2),
    "place": lambda: drawings_pdf([position_label(Address("Harbor Lane", 3, 2))], STOCKS[0], title="Place"),
}


def _events() -> str:
    import json

    return json.dumps(receiving_events(advice_of(), base="https://receiving.example.com"), indent=1) + "\n"


def _label_cartons() -> Manifest:
    """Cartons of every kind of label: codes and none, one place and many, open first, heavy and not to be lifted."""
    one, two = SHELVES
    cells = tuple(Address("Harbor Lane", 1 + n, 2) for n in range(20))
    other = tuple(Address(f"Long Meadow {n}", n, 3) for n in range(1, 4))
    number = iter(range(1, 20))

    def carton(name: str, kind: CartonKind = CartonKind.TRAY, *places: Address, **more: object) -> Carton:
        code = {"sscc": sscc(next(number))} if not {"barcode", "sscc"} & more.keys() else {}
        contents = tuple(ContentLine(place.section, place, description="drawer pulls") for place in places)
        return replace(Carton(name, kind, contents=contents), **code, **more)

    wide = (ContentLine("Harbor Lane"), ContentLine("Quay"), ContentLine("Quay"))
    loose = (ContentLine("", description="price rails"), ContentLine("", description="hooks"))
    return Manifest(
        "LD-2207-04",
        "0417",
        (
            carton("01", CartonKind.TRAY, one, weight_kg=7.25),
            carton("02", CartonKind.TRAY, one, two, open_first=True),
            carton("03", CartonKind.TRAY, *cells, weight_kg=23.0),
            carton("04", CartonKind.HEADER, one, *other, weight_kg=23.5),
            carton("05", CartonKind.PARTS, contents=wide, weight_kg=30.0),
            carton("06", CartonKind.PARTS, contents=loose, weight_kg=31.0),
            carton("07", CartonKind.TRAY, one, sscc=None, barcode="KX-000417-07"),
            carton("08", CartonKind.TRAY, two, sscc=None),
            carton("09", CartonKind.OUTER, contents=wide[:1]),
            carton("10", CartonKind.TRAY, two, outer="09"),
            carton("11", CartonKind.TAGS, contents=wide[:1]),
            carton("NO CODE AT ALL: BY THE DOOR", CartonKind.INSTRUCTIONS, sscc=None),
        ),
        dispatch_date=date(2026, 3, 9),
    )


def _label_places() -> str:
    """Where everything stands on labels, in hundredths of a millimetre: finer than a picture shows."""
    shipment, lines = _label_cartons(), []
    sent = LabelExtras(("Northlight, Dock 4", "Quay Street", "Hull", "a line too many"), pounds=True)
    for size, dpi, extras in (((101.6, 152.4), 300, None), ((105.0, 148.5), 203, sent), ((215.9, 139.7), 600, None)):
        for carton in shipment:
            drawing = carton_label(carton, shipment, size_mm=size, dpi=dpi, extras=extras)
            lines += [f"carton {carton.carton} on {size[0]} × {size[1]} at {dpi}", *_drawn_places(drawing)]
    for size, dpi in (((76.2, 50.8), 300), ((50.0, 30.0), 203)):
        drawing = position_label(SHELVES[0], size_mm=size, dpi=dpi)
        lines += [f"place on {size[0]} × {size[1]} at {dpi}", *_drawn_places(drawing)]
    return "\n".join(lines) + "\n"


def _drawn_places(drawing: LabelDrawing) -> Iterator[str]:
    for box in drawing.boxes:
        yield f"  box {box.x_mm:.2f} {box.y_mm:.2f} {box.w_mm:.2f} {box.h_mm:.2f}"
    for each in drawing.words:
        white = " white" if each.white else ""
        yield f"  {each.text!r} {each.x_mm:.2f} {each.baseline_mm:.2f} {each.size_mm:.2f} {each.font}{white}"
    for symbol in drawing.symbols:
        name = f"{symbol.modules.name} {symbol.modules.text}"
        yield f"  {name} {symbol.x_mm:.2f} {symbol.y_mm:.2f} {symbol.module_mm:.4f} {symbol.row_mm:.4f}"


def _paper_places() -> str:
    """Where each run of letters stands on papers, in tenths of a point: finer than a picture shows."""
    lines = []
    with shipped_fonts():
        for name in ("receipt", "receipt_letter", "request", "bay_sheets", "plan", "plan_aisles", "labels_four"):
            document = pdfium.PdfDocument(PAPERS[name]())
            for number, page in enumerate(document, 1):
                lines.append(f"{name} page {number}, {page.get_width():.1f} × {page.get_height():.1f}")
                letters = page.get_textpage()
                for at in range(letters.count_rects()):
                    corners = letters.get_rect(at)
                    text = " ".join(letters.get_text_bounded(*corners).split())
                    lines.append(f"  {' '.join(f'{each:.1f}' for each in corners)} {text}")
    return "\n".join(lines) + "\n"


SHELVES = (Address("Harbor Lane", 3, 2), Address("Harbor Lane", 12, 14))

MESSAGES: dict[str, Callable[[], str]] = {
    "labels.txt": _label_places,
    "papers.txt": _paper_places,
    "advice.x12": lambda: receiving_advice_x12(advice_of(), PARTIES, control=77, written_at=AT),
    "advice.edi": lambda: receiving_advice_edifact(advice_of(), PARTIES, control=77, written_at=AT),
    "advice_test.edi": lambda: receiving_advice_edifact(advice_of(), PARTIES, control=1, written_at=AT, test=True),
    "advice.jsonld": _events,
    "request.csv": lambda: replacement_csv(request(RAIL, TRAY, LAMP)),
    "request.json": lambda: replacement_json(request(RAIL, TRAY, LAMP, previous=request(RAIL, LAMP))),
}


@contextmanager
def shipped_fonts() -> Iterator[None]:
    """Papers in the fonts that come with the libraries, whatever is installed on this machine."""
    installed = paper._WIDE_FONTS
    paper._WIDE_FONTS = ()
    _forget_fonts()
    try:
        yield
    finally:
        paper._WIDE_FONTS = installed
        _forget_fonts()


def _forget_fonts() -> None:
    for name in (paper.FAMILY, paper.BOLD_FAMILY):
        pdfmetrics._fonts.pop(name, None)  # a name that is known keeps its font
    paper.register_family.cache_clear()
    paper.styles.cache_clear()


def drawn(name: str) -> np.ndarray:
    """The pages of a paper below each other, as gray levels in sixteen steps."""
    with shipped_fonts():
        document = pdfium.PdfDocument(PAPERS[name]())
    pages = [np.asarray(page.render(scale=DPI / 72, grayscale=True).to_pil().convert("L")) for page in document]
    wide = max(page.shape[1] for page in pages)
    padded = [np.pad(page, ((0, 0), (0, wide - page.shape[1])), constant_values=255) for page in pages]
    return np.vstack(padded) // 17 * 17


def approved(name: str) -> np.ndarray:
    """The same as it was approved."""
    return np.asarray(Image.open(FOLDER / f"{name}.png").convert("L"))


def _keep_plans() -> None:
    """Plan the scenes anew, where the values that a plan is made of have other fields."""
    from tests.closing.test_plan_print import planned
    from tests.staging.shipments import layout

    wide = replace(layout(), bays=tuple(replace(each, aisle_width_cm=180) for each in layout().bays))
    for name, made in (("plain", planned(where=layout())), ("aisles", planned(40, where=wide))):
        (PLANS / f"{name}.json").write_text(to_text(in_english(made)) + "\n")


def main() -> None:
    """Keep all papers and messages as they are now."""
    if "--plans" in sys.argv:
        _keep_plans()
    FOLDER.mkdir(exist_ok=True)
    for name in PAPERS:
        Image.fromarray(drawn(name)).quantize(16).save(FOLDER / f"{name}.png", optimize=True)
    for name, write in MESSAGES.items():
        (FOLDER / name).write_bytes(write().encode())


if __name__ == "__main__":
    main()
