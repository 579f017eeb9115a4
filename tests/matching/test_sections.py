"""Facings, bays and the rows of a bay's sheet, group by group."""

import random
from dataclasses import replace

from receiving.matching import bay_sheets, reconcile, section_state
from receiving.matching.allocation import Programme
from receiving.model import Bay, BaySheet, Cart, CartonKind, ContentLine, Layout, Manifest, SheetItem
from receiving.wording import item_words
from tests.matching.scenes import at, carton, manifest, read, sscc

CART = Cart(100, 120, 60, 100)


def of_kind(name: str, kind: CartonKind, *lines: ContentLine) -> object:
    return replace(carton(name), kind=kind, contents=lines)


GROUPS: Manifest = manifest(
    of_kind("01", CartonKind.TRAY, ContentLine("Oak", at(1, 1), "TR-1", "tray", 1)),
    of_kind("02", CartonKind.REPLACEMENT_TRAY, ContentLine("Oak", at(1, 1), "TR-2", "", 2)),
    of_kind("03", CartonKind.GRAPHIC, ContentLine("Oak", at(1, 1), "", "poster", 1)),
    of_kind("04", CartonKind.HEADER, ContentLine("Oak", at(1, 1))),
    of_kind("05", CartonKind.TAGS, ContentLine("Oak", at(1, 1), "TG-1", "tags", 40)),
    of_kind("06", CartonKind.LIGHTING, ContentLine("Oak", at(1, 1), "LED", "", 1)),
    of_kind("07", CartonKind.PARTS, ContentLine("Oak", None, "SCREW", "", 5)),
    of_kind("08", CartonKind.PARTS, ContentLine("", None, "GLUE", "", 1)),
    of_kind("09", CartonKind.TAGS, ContentLine("Fir", at(1, 1, "Fir"), "TG-2", "", 1)),
)  # type: ignore[arg-type]


def wide(sheet: BaySheet) -> tuple[str, ...]:
    return tuple(f"{item_words(item)} (carton {carton})" for item, carton in sheet.section_wide)


def said(items: tuple[SheetItem, ...]) -> tuple[str, ...]:
    return tuple(str(item_words(item)) for item in items)


def test_a_row_names_what_hangs_there_by_what_it_is() -> None:
    found = reconcile(GROUPS, [read(n, sscc=sscc(1000 + n)) for n in range(1, 10)])
    sheets = {sheet.section: sheet for sheet in bay_sheets(GROUPS, found)}
    (row,) = sheets["Oak"].rows
    assert said(row.trays) == ("TR-1 tray", "2 × TR-2")
    assert said(row.graphics) == ("poster", "header")
    assert said(row.tags) == ("40 × TG-1 tags",)
    assert said(row.parts) == ("LED",)
    assert set(row.cartons) == {"01", "02", "03", "04", "05", "06"}
    assert row.waits_for == ()
    assert wide(sheets["Oak"]) == ("5 × SCREW (carton 07)", "GLUE (carton 08)")
    assert wide(sheets["Fir"]) == ("GLUE (carton 08)",)


def test_what_a_position_waits_for_stands_in_its_row_alone() -> None:
    trays = manifest(carton("01", (1, 1)), carton("02", (2, 1)))
    found = reconcile(trays, [read(1, sscc=sscc(1001))])
    (sheet,) = bay_sheets(trays, found)
    assert [(row.address, bool(row.waits_for)) for row in sheet.rows] == [(at(1, 1), False), (at(2, 1), True)]
    assert sheet.percent == 50.0


def test_a_bay_sheet_has_the_positions_of_its_bay_alone_and_what_no_bay_has_stands_apart() -> None:
    trays = manifest(carton("01", (1, 1)), carton("02", (2, 1)), carton("03", (9, 1)))
    found = reconcile(trays, [])
    layout = Layout("0417", 10, CART, (Bay("B1", "Oak", (1,), 2, 60, 60, 60), Bay("B2", "Oak", (2,), 1, 60, 60, 60)))
    sheets = bay_sheets(trays, found, (), layout)
    assert [(sheet.bay, [row.address for row in sheet.rows]) for sheet in sheets] == [
        ("B2", [at(2, 1)]),
        ("B1", [at(1, 1)]),
        ("", [at(9, 1)]),
    ]


def test_facings_of_several_lines_are_added_and_a_line_without_counts_one() -> None:
    def tray(name: str, column: int, qty: int | None, unit: str) -> object:
        line = ContentLine("Oak", at(column, 1), f"T-{column}", "tray", qty, unit)
        return replace(carton(name), kind=CartonKind.TRAY, contents=(line,))

    trays = manifest(
        tray("01", 1, 3, "Facings"), tray("02", 1, None, "facing"), tray("03", 2, 1, "ea"), tray("04", 3, 2, "facings")
    )  # type: ignore[arg-type]
    (bay,) = section_state(trays, reconcile(trays, [read(3, sscc=sscc(1003))])).bays
    assert (bay.positions, bay.settable, bay.facings, bay.settable_facings) == (3, 1, 7, 1)


def test_a_programme_is_given_up_at_its_limit_of_time_and_proven_without_one() -> None:
    chosen = random.Random(3)
    programme = Programme()
    unknowns = [programme.unknown(1 + chosen.random(), 3) for _ in range(15)]
    for _ in range(8):
        terms = {unknown: chosen.randint(1, 9) for unknown in chosen.sample(unknowns, 6)}
        programme.between(terms, 0, chosen.randint(20, 40))
    assert programme.solve(1e-9) == ([0] * 15, False)
    values, proven = programme.solve()
    assert proven and sum(values) > 0
    for terms, low, high in programme.sums:
        assert low <= sum(values[unknown] * factor for unknown, factor in terms.items()) <= high
    assert programme.solve(3600.0) == (values, True)
