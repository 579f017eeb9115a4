"""The staging plan on paper: one page, everything on it, the same bytes for the same plan."""

import re
import shutil
import subprocess
from dataclasses import replace
from pathlib import Path

import pytest

from receiving.closing.plan_print import ROW_HEAD, _Page, plan_pdf
from receiving.commands.in_words import reconciliation_in_words
from receiving.messages import ENGLISH
from receiving.model import (
    CartonKind,
    CartonState,
    Caution,
    Held,
    Layout,
    Manifest,
    Reconciliation,
    StagingPlan,
    StopBound,
    Topic,
    TripBound,
    Units,
)
from receiving.staging import plan_staging
from tests.staging.shipments import bay, carton, layout, manifest, reconciled

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
    text = " ".join(read_with_poppler(plan_pdf(*planned(where=layout())), tmp_path, "pdftotext").split())
    for words in (
        "Staging plan, store 0417",
        "24 of 26 cartons here",
        "OPEN FIRST: 90 (instructions)",
        "Trip 1",
        "fewest possible",
        "Bay B2",
        "07 missing",
        "Carton 91 is heavy (24 kg, 52.9 lb)",
        "store management decides where",
        "The aisle is not measured: keep it free.",
        "Lifting: above what is recommended for one person (NIOSH 94-110)",
        "For each: two people lift it together",
        "91: 24 kg (52.9 lb); floor to cart",
        "91→B1",
        "raise both ends to waist height (75 cm, 29.5 in): limit",
        "after the arrow its bay",
    ):
        assert words in text


def test_in_us_units_loads_are_in_pounds_and_cautions_in_both(tmp_path: Path) -> None:
    parts = planned(where=layout())
    load_lb = parts[0].trips[0].load_kg / 0.45359237  # NIST Special Publication 811: exact
    text = " ".join(read_with_poppler(plan_pdf(*parts, units=Units.US), tmp_path, "pdftotext").split())
    assert f"{load_lb:.1f} lb" in text
    assert "91: 52.9 lb (24 kg); floor to cart" in text
    assert not re.search(r"\d kg", re.sub(r"[\d.]+ kg,? \(?[\d.]+ lb|[\d.]+ lb \([\d.]+ kg\)", "", text))


def test_the_free_width_of_a_measured_aisle_is_printed(tmp_path: Path) -> None:
    measured = replace(layout(), bays=tuple(replace(each, aisle_width_cm=180) for each in layout().bays))
    text = " ".join(read_with_poppler(plan_pdf(*planned(where=measured)), tmp_path, "pdftotext").split())
    assert "of 180 cm (70.9 in) stay free; at least 91.5" in text
    assert "cm (36 in) must, assumed." in text


def test_three_sections_of_forty_cartons_are_one_page(tmp_path: Path) -> None:
    sections = {"Sol": 3, "Luna": 5, "Nova": 2}
    bays = tuple(
        bay(f"{s[0]}1", s, *range(1, n + 1), order=i, length=240) for i, (s, n) in enumerate(sections.items(), 1)
    )
    shipment = manifest(
        *(
            carton(f"{s[0]}{c}{r}", (c, r), section=s, weight=10)
            for s, n in sections.items()
            for c in range(1, n + 1)
            for r in range(1, 5)
        )
    )
    found = reconciled(shipment, short="S11")
    parts = (plan_staging(shipment, found, layout(*bays)), shipment, layout(*bays), found)
    assert "Pages:           1\n" in read_with_poppler(plan_pdf(*parts), tmp_path, "pdfinfo")
    text = read_with_poppler(plan_pdf(*parts), tmp_path, "pdftotext")
    assert all(f"Section {name}, seen" in text for name in sections)


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


@pytest.mark.parametrize(
    ("trips", "stops", "expected"),
    [
        ((3, 3), (7, 7), "3 by cart, fewest possible; 7 stops at bays, fewest possible"),
        ((3, 3), (1, 1), "3 by cart, fewest possible; 1 stop at bays, fewest possible"),
        (
            (3, 2),
            (7, 7),
            "3 by cart, at least 2 needed; 7 stops at bays, fewest possible; searched for better ones for about 0.6 s",
        ),
        (
            (3, 3),
            (7, 6),
            "3 by cart, fewest possible; 7 stops at bays, at least 6 needed; searched for better ones for about 0.6 s",
        ),
        ((3, 3), (0, 0), "3 by cart, fewest possible"),
    ],
)
def test_the_page_claims_the_fewest_trips_and_stops_where_that_is_proven_alone(
    trips: tuple[int, int], stops: tuple[int, int], expected: str, tmp_path: Path
) -> None:
    plan, *others = planned(6, where=layout())
    plan = replace(plan, bound=TripBound(*trips), stop_bound=StopBound(*stops), search_s=0.6)
    text = " ".join(read_with_poppler(plan_pdf(plan, *others), tmp_path, "pdftotext").split())
    assert expected in text and text.count("fewest possible") == expected.count("fewest possible")
    assert text.count("searched for") == expected.count("searched for") and text.count("stops at") == expected.count(
        "stops at"
    )


def test_what_stays_in_the_back_room_is_printed_with_its_reason_and_what_is_missing_apart(tmp_path: Path) -> None:
    plan, *others = planned(6, where=layout())
    held = (Held("03", "no bay has room for it"), Held("07", "waited for", missing=True), Held("11", "", missing=True))
    text = " ".join(read_with_poppler(plan_pdf(replace(plan, held=held), *others), tmp_path, "pdftotext").split())
    assert "Stays in the back room 03: no bay has room for it Missing 07, 11 " in text


def test_an_empty_plan_is_printed_too() -> None:
    shipment = manifest()
    assert plan_pdf(StagingPlan(), shipment, layout(), reconciled(shipment)).startswith(b"%PDF")


def test_paper_and_command_say_three_cautions_first_and_the_others_after_them(tmp_path: Path) -> None:
    plan, shipment, where, found = planned(where=layout())
    many = tuple(Caution(f"Caution {n}.", topic=topic) for n, topic in enumerate(sorted(Topic)[:5], start=1))
    plan = replace(plan, cautions=many)
    printed = read_with_poppler(plan_pdf(plan, shipment, where, found), tmp_path, "pdftotext")
    shown = str(reconciliation_in_words(found, plan, shipment, 0, {}))
    for text in (printed, shown):
        first, others = text.split("Take care")[1].split("Also")
        assert re.findall(r"Caution (\d)", first) == ["1", "2", "3"]
        assert re.findall(r"Caution (\d)", others) == ["4", "5"]


@pytest.mark.parametrize(("wide_pt", "size_pt"), [(36, 6.0), (27, 4.5), (20, 4.5), (51, 8.5), (90, 8.5)])
@pytest.mark.parametrize("scale", [1.0, 0.8])
def test_the_words_of_a_section_are_a_sixth_of_its_columns_between_two_limits(
    wide_pt: float, size_pt: float, scale: float
) -> None:
    cells = {(column, row): ("07", CartonState.RECEIVED) for column in (1, 2, 3) for row in (1, 2)}
    width = wide_pt * scale * (3 + ROW_HEAD)
    _, grid = _Page(scale, "A4", Units.METRIC, ENGLISH)._elevation("Sol", cells, width)
    words = [cell for row in grid._cellvalues for cell in row]
    assert {round(each.style.fontSize, 6) for each in words} == {round(size_pt * scale, 6)}
    assert [len(row) for row in grid._cellvalues] == [4, 4, 4]
