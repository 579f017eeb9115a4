"""Where labels and the printed plan reach a limit: what is said, cut or left out on each side of it."""

from dataclasses import replace
from pathlib import Path

import pytest

from receiving.closing import LabelExtras, LabelPrint, labels_pdf
from receiving.closing.label_drawing import _file_of, font_file, is_installed
from receiving.closing.label_stock import STOCKS, Stock
from receiving.closing.label_symbols import Modules
from receiving.closing.labels import _also_lines, _bar_module, carton_label
from receiving.closing.plan_print import plan_pdf
from receiving.errors import BadRequest
from receiving.model import Address, Carton, CartonKind, Manifest
from tests.closing.printed import words as words_of
from tests.closing.test_label_sheets import CARTONS
from tests.closing.test_label_sheets import MANIFEST as LABELLED
from tests.closing.test_labels import MANIFEST, PLAIN, TRAY, carton, words
from tests.closing.test_plan_print import planned
from tests.staging.shipments import layout


@pytest.mark.parametrize("dpi", [150, 201, 1200, 0])
def test_a_printer_of_another_resolution_is_refused_with_those_that_there_are(dpi: int) -> None:
    with pytest.raises(BadRequest, match=f"There are no printers of {dpi} dots per inch here.") as refused:
        LabelPrint(dpi=dpi)
    assert str(refused.value.next_step) == "Use 200, 203, 300 or 600."


@pytest.mark.parametrize("offset", [(15.0, -15.0), (-15.0, 15.0), (0.0, 0.0)])
def test_a_picture_is_moved_by_up_to_15_mm(offset: tuple[float, float]) -> None:
    assert LabelPrint(offset_mm=offset).offset_mm == offset


@pytest.mark.parametrize("offset", [(15.1, 0.0), (0.0, -15.1), (float("nan"), 0.0), (0.0, float("nan"))])
def test_a_picture_is_not_moved_off_the_label(offset: tuple[float, float]) -> None:
    with pytest.raises(BadRequest, match="The labels cannot be moved by") as refused:
        LabelPrint(offset_mm=offset)
    assert str(refused.value.next_step) == "Move them by at most 15 mm."


@pytest.mark.parametrize("place", [1, 4])
def test_every_place_of_a_sheet_can_be_the_first(place: int) -> None:
    assert labels_pdf(CARTONS[:1], LABELLED, LabelPrint("a4-4up"), first_place=place).startswith(b"%PDF")


@pytest.mark.parametrize("place", [0, 5])
def test_a_place_beside_the_sheet_is_refused(place: int) -> None:
    with pytest.raises(BadRequest, match=f"Label place {place} is not on a sheet of 4."):
        labels_pdf(CARTONS[:1], LABELLED, LabelPrint("a4-4up"), first_place=place)


def test_a_sender_has_three_lines_and_the_first_says_so() -> None:
    text = words(carton_label(TRAY, MANIFEST, extras=LabelExtras(("One", "Two", "Three", "Four"))))
    assert [line for line in text if line in ("FROM One", "Two", "Three", "Four")] == ["FROM One", "Two", "Three"]


def test_the_store_shipment_and_visit_stand_below_their_heads() -> None:
    text = words(carton_label(TRAY, MANIFEST))
    assert [text[text.index(head) + 1] for head in ("TO STORE", "SHIPMENT")] == ["0417", "PW-1"]
    assert "VISIT Thu 3 Dec 2026" in text
    assert not [line for line in words(carton_label(TRAY, replace(MANIFEST, dispatch_date=None))) if "VISIT" in line]


def cells(*rows: tuple[str, int]) -> tuple[Address, ...]:
    return tuple(Address(section, column, 1) for section, column in rows)


@pytest.mark.parametrize(
    ("others", "most", "lines"),
    [
        (cells(("Elm", 2)), 1, ["COL 2 ROW 1"]),
        (cells(("Elm", 2), ("Elm", 3)), 2, ["COL 2 ROW 1", "COL 3 ROW 1"]),
        (cells(("Elm", 2), ("Elm", 3)), 1, ["and 2 more"]),
        (cells(("Elm", 2), ("Elm", 3), ("Elm", 4)), 2, ["COL 2 ROW 1", "and 2 more"]),
        (cells(("Oak", 2), ("Oak", 3)), 3, ["Oak", "COL 2 ROW 1", "COL 3 ROW 1"]),
        (cells(("Oak", 2), ("Oak", 3)), 2, ["and 2 more"]),
        (cells(("Oak", 2), ("Elm", 3)), 4, ["Oak", "COL 2 ROW 1", "Elm", "COL 3 ROW 1"]),
        (cells(("Oak", 2), ("Elm", 3)), 3, ["Oak", "COL 2 ROW 1", "and 1 more"]),
    ],
)
def test_further_places_of_a_carton_are_listed_and_those_beyond_the_room_are_counted(
    others: tuple[Address, ...], most: int, lines: list[str]
) -> None:
    assert list(map(str, _also_lines(Address("Elm", 1, 1), others, most))) == lines


@pytest.mark.parametrize("stock", STOCKS, ids=lambda stock: stock.name)
def test_no_place_of_a_carton_for_two_sections_is_cut(stock: Stock) -> None:
    made = carton("09", CartonKind.PARTS, ("Harrow Row", 12, 3), ("Northern Harbor Wall", 11, 10), ("Harrow Row", 2, 1))
    text = words(carton_label(made, Manifest("S", "1", (made,)), size_mm=stock.label_mm, margin_mm=stock.margin_mm))
    also = text[text.index("ALSO") :]
    assert "COL 11 ROW 10" in also or [line for line in also if line.startswith("and ")], also
    assert not [line for line in also if "COL" in line and line.endswith("…")]


@pytest.mark.parametrize(
    ("sections", "kind", "expected"),
    [
        (("Elm",), CartonKind.HEADER, ["Elm", "WHOLE SECTION"]),
        (("Elm", "Oak", "Fir", "Ash"), CartonKind.HEADER, ["Elm", "Oak", "Fir", "WHOLE SECTION"]),
        (("Elm",), CartonKind.OUTER, ["OUTER BOX", "Elm"]),
    ],
)
def test_a_carton_without_an_address_says_its_sections(
    sections: tuple[str, ...], kind: CartonKind, expected: list[str]
) -> None:
    from receiving.model import ContentLine

    made = Carton("09", kind, contents=tuple(ContentLine(section) for section in sections))
    found = words(carton_label(made, Manifest("S", "1", (made,))))
    assert [line for line in found if line in ("Elm", "Oak", "Fir", "Ash", "OUTER BOX", "WHOLE SECTION")] == expected


def test_a_carton_without_section_says_what_is_in_it() -> None:
    from receiving.model import ContentLine

    lines = (ContentLine(description="Screws"), ContentLine(description="Screws"), ContentLine(description="Pegs"))
    made = Carton("09", CartonKind.OTHER, contents=lines)
    found = words(carton_label(made, Manifest("S", "1", (made,))))
    assert [line for line in found if line in ("Screws", "Pegs", "WHOLE SECTION")] == ["Screws", "Pegs"]


@pytest.mark.parametrize(
    ("room_mm", "dpi", "narrow", "module_dots"),
    [
        (176 * 0.508 + 0.01, 300, False, 6),
        (176 * 0.84, 300, False, 9),  # 9 dots are 0.762 mm, 10 would be above 0.8 mm
        (176 * 0.26, 300, True, 3),
        (176 * 0.508 + 0.01, 203, False, 4),
    ],
)
def test_bars_have_the_widest_module_of_whole_dots_that_fits(
    room_mm: float, dpi: int, narrow: bool, module_dots: int
) -> None:
    bars = Modules("GS1-128", "x", ((True,) * 156,), 10)
    assert _bar_module(bars, room_mm, dpi, narrow=narrow) == pytest.approx(module_dots * 25.4 / dpi)


@pytest.mark.parametrize(
    ("room_mm", "dpi", "narrow"), [(176 * 0.507, 300, False), (176 * 0.25, 300, True), (90, 50, True)]
)
def test_bars_that_would_be_too_narrow_to_scan_are_refused(room_mm: float, dpi: int, narrow: bool) -> None:
    bars = Modules("GS1-128", "x", ((True,) * 156,), 10)
    with pytest.raises(BadRequest, match="needs 176 modules of at least"):
        _bar_module(bars, room_mm, dpi, narrow=narrow)


def test_a_font_that_is_nowhere_is_named() -> None:
    assert not is_installed("NoSuchFont")  # type: ignore[arg-type]
    with pytest.raises(BadRequest, match="The font NoSuchFont is not installed"):
        font_file("NoSuchFont")  # type: ignore[arg-type]


def test_a_font_of_the_system_is_found_in_its_folders(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "deep").mkdir()
    (tmp_path / "deep" / "Somewhere.ttf").write_bytes(b"")
    monkeypatch.setattr("receiving.closing.writing.FONT_FOLDERS", ("/no/such/folder", str(tmp_path)))
    assert _file_of.__wrapped__("Somewhere") == tmp_path / "deep" / "Somewhere.ttf"


def test_a_plan_says_where_a_bay_has_no_floor_free() -> None:
    plan, shipment, where, found = planned(6, where=layout())
    bare = replace(plan, bays=tuple(replace(bay, spots=()) for bay in plan.bays))
    assert words_of(plan_pdf(bare, shipment, where, found)).count("no floor free") == len(plan.bays)
    assert "no floor free" not in words_of(plan_pdf(plan, shipment, where, found))


def test_a_label_without_codes_asks_for_its_number() -> None:
    assert "No code on the manifest: type the carton." not in words(carton_label(PLAIN, MANIFEST))
