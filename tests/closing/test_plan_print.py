"""The staging plan on paper: one page, everything on it, the same bytes for the same plan."""

import shutil
import subprocess
from pathlib import Path

import pytest

from receiving.closing.plan_print import plan_pdf
from receiving.model import CartonKind, Layout, Manifest, Reconciliation, StagingPlan
from receiving.staging import plan_staging
from tests.staging.shipments import carton, layout, manifest, reconciled

Parts = tuple[StagingPlan, Manifest, Layout | None, Reconciliation]


def planned(count: int = 24, *, where: Layout | None = None, section: str = "Sol") -> Parts:
    shipment = manifest(
        *(carton(f"{i:02}", (1 + i % 5, 1 + i // 5), section=section) for i in range(count)),
        carton("90", kind=CartonKind.INSTRUCTIONS, weight=1, size=(30, 20, 5), open_first=True, section=section),
        carton("91", kind=CartonKind.PARTS, weight=24, size=(40, 30, 20), section=section),
    )
    found = reconciled(shipment, short="07 11")
    return plan_staging(shipment, found, where), shipment, where, found


def read_with_poppler(pdf: bytes, folder: Path, tool: str) -> str:
    if shutil.which(tool) is None:
        pytest.skip(f"{tool} (poppler-utils) is not installed: the printed page cannot be read back")
    path = folder / "plan.pdf"
    path.write_bytes(pdf)
    arguments = [tool, str(path)] if tool == "pdfinfo" else [tool, "-layout", str(path), "-"]
    return subprocess.run(arguments, check=True, capture_output=True, text=True).stdout


@pytest.mark.parametrize(("paper", "size"), [("A4", "595.276 x 841.89"), ("Letter", "612 x 792")])
@pytest.mark.parametrize("count", [6, 24, 40])
def test_the_plan_is_one_page(paper: str, size: str, count: int, tmp_path: Path) -> None:
    info = read_with_poppler(plan_pdf(*planned(count, where=layout()), paper=paper), tmp_path, "pdfinfo")
    assert "Pages:           1\n" in info
    assert size in info


def test_the_page_says_what_a_person_needs(tmp_path: Path) -> None:
    text = read_with_poppler(plan_pdf(*planned(where=layout())), tmp_path, "pdftotext")
    for words in (
        "Staging plan, store 0417",
        "24 of 26 cartons here",
        "OPEN FIRST: 90 (instructions)",
        "Trip 1",
        "fewest possible",
        "Bay B2",
        "07 missing",
        "Carton 91 is heavy (24 kg)",
        "store management decides where",
    ):
        assert words in text


def test_a_plan_without_a_layout_is_printed_too(tmp_path: Path) -> None:
    text = read_with_poppler(plan_pdf(*planned()), tmp_path, "pdftotext")
    assert "No layout: no bays" in text
    assert "Bays, in opening order" not in text


def test_names_that_look_like_markup_are_printed_as_they_are(tmp_path: Path) -> None:
    text = read_with_poppler(plan_pdf(*planned(3, section="<b>Sol & Søn")), tmp_path, "pdftotext")
    assert "Section <b>Sol & Søn" in text


def test_the_same_plan_gives_the_same_bytes() -> None:
    parts = planned(where=layout())
    assert plan_pdf(*parts) == plan_pdf(*parts)


def test_an_empty_plan_is_printed_too() -> None:
    shipment = manifest()
    assert plan_pdf(StagingPlan(), shipment, layout(), reconciled(shipment)).startswith(b"%PDF")
