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
from datetime import UTC, datetime
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
from receiving.closing.label_printing import LabelPrint, labels_pdf
from receiving.closing.label_sheets import STOCKS, drawings_pdf
from receiving.closing.labels import LabelExtras, position_label
from receiving.closing.plan_print import plan_pdf
from receiving.model import Address, Layout, Manifest, Receipt, Reconciliation, ShownLine, Signature, StagingPlan
from receiving.store.records import from_text, to_text
from tests.closing.printed import pdfium
from tests.closing.test_label_sheets import CARTONS
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
    more = [replace(row, trays=(f"TR-{n:02} tray of many words",), parts=(f"part {n}",) * 2)
            for n, row in enumerate(first.rows * 12)]  # fmt: skip
    return [replace(first, rows=tuple(more), section_wide=("one sign", "two rails"))]


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


MESSAGES: dict[str, Callable[[], str]] = {
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
