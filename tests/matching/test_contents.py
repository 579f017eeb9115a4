"""Counting what opened cartons hold, what damage takes away, and which positions that lets a person set.

Facings, bays and the rows of a bay's sheet, group by group.

The parts list as a person edits it.
"""

import random
from dataclasses import replace

import pytest

from receiving.errors import BadRequest
from receiving.matching import (
    bay_sheets,
    counted_lines,
    parts_list,
    parts_rows,
    position_needs,
    reconcile,
    section_state,
    stock_of,
)
from receiving.matching.allocation import Programme
from receiving.model import (
    Bay,
    BaySheet,
    Cart,
    CartonKind,
    ContentCounted,
    ContentLine,
    Damage,
    DamageNoted,
    Layout,
    Manifest,
    Note,
    NoteWithdrawn,
    SheetItem,
)
from receiving.model.contents import USUAL_PARTS, CountedLine, Part, PartsList
from receiving.wording import item_words
from tests.matching.scenes import NOON, at, carton, manifest, read, sscc

TRAYS = replace(
    carton("01"),
    contents=(
        ContentLine("Oak", at(1, 1), "TR-12", "tray", 1),
        ContentLine("Oak", at(1, 2), "TR-12", "tray", 1),
        ContentLine("Oak", at(2, 1), "TR-08", "tray", 1),
    ),
)

SPARES = replace(
    carton("02"),
    kind=CartonKind.PARTS,
    contents=(ContentLine("Oak", item="PR-1", description="Price rails", qty=2),),
)

EXPECTED = manifest(TRAYS, SPARES)

READS = [read(1, sscc=sscc(1001)), read(2, sscc=sscc(1002))]


def lines(*notes: Note, of: Manifest = EXPECTED) -> list[CountedLine]:
    return list(counted_lines(of, reconcile(of, READS, notes), notes))


def usable(*notes: Note) -> dict[str, int]:
    return dict(stock_of(lines(*notes)))


def state(*notes: Note, layout: Layout | None = None) -> object:
    return section_state(EXPECTED, reconcile(EXPECTED, READS, notes), notes, layout)


def count(name: str, item: str = "", qty: int | None = None, **where: object) -> ContentCounted:
    return ContentCounted(name, NOON, "Ana", "01", item, qty, **where)  # type: ignore[arg-type]


def damage(name: str, reason: Damage = Damage.ARRIVED, *, of: str = "01", usable: bool = False, **more: object) -> Note:
    return DamageNoted(name, NOON, "Ana", of, reason, usable, **more)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("qty", "unit", "pieces"), [(None, "", 1), (1, "", 1), (3, "", 3), (None, "pack of 12", 12), (2, "pack of 12", 24)]
)
def test_a_line_without_a_quantity_is_one_piece_or_one_pack(qty: int | None, unit: str, pieces: int) -> None:
    spares = replace(SPARES, contents=(ContentLine("Oak", item="PR-1", description="Clips", qty=qty, unit=unit),))
    of = manifest(TRAYS, spares)
    (line,) = (line for line in lines(of=of) if line.carton == "02")
    assert (line.wanted, line.here, line.usable) == (pieces, pieces, pieces)


def test_a_tray_brings_its_parts_and_its_graphic_for_one_position() -> None:
    assert usable() == {
        "TR-08 base": 1,
        "TR-08 price rail": 1,
        "TR-08 pusher set": 1,
        "TR-12 base": 2,
        "TR-12 price rail": 2,
        "TR-12 pusher set": 2,
        "graphic for Oak, column 1, row 1": 1,
        "graphic for Oak, column 1, row 2": 1,
        "graphic for Oak, column 2, row 1": 1,
        "price rail": 2,
    }


def test_a_missing_graphic_is_a_short_for_a_new_tray_and_none_for_a_replacement_tray() -> None:
    replacement = replace(TRAYS, kind=CartonKind.REPLACEMENT_TRAY)
    no_graphics = count("n1", "graphic", 0)
    assert sum(line.missing for line in lines(no_graphics)) == 3
    assert sum(line.missing for line in lines(no_graphics, of=manifest(replacement, SPARES))) == 0


def test_all_there_marks_every_line_counted_in_one_note() -> None:
    counted = [line for line in lines(count("n1")) if line.carton == "01"]
    assert all(line.counted and not line.missing for line in counted)
    assert not any(line.counted for line in lines() if line.carton == "01")


def test_a_count_of_trays_counts_their_parts() -> None:
    assert usable(count("n1", "TR-12", 1))["TR-12 price rail"] == 1
    assert usable(count("n1", "TR-12", 0, column=1, row=2, section="Oak"))["TR-12 base"] == 1


def test_the_last_count_of_a_line_holds_and_can_be_taken_back() -> None:
    first, second = count("n1", "TR-12", 0), count("n2", "TR-12", 2)
    assert usable(first, second)["TR-12 base"] == 2
    assert usable(second, first, NoteWithdrawn("n3", NOON, "Ana", "n2")).get("TR-12 base", 0) == 0


def test_a_carton_that_is_not_here_holds_nothing() -> None:
    result = reconcile(EXPECTED, READS[:1])
    assert "price rail" not in dict(stock_of(counted_lines(EXPECTED, result)))


def test_unusable_damage_takes_from_the_stock_and_usable_damage_does_not() -> None:
    assert "TR-12 base" not in usable(damage("n1"))
    assert usable(damage("n1", usable=True)) == usable()
    assert usable(damage("n1", item="price rail", section="Oak", column=1, row=1))["TR-12 price rail"] == 1
    assert usable(damage("n1", item="TR-12", qty=2)).get("TR-12 base", 0) == 0


def test_a_spare_rail_saves_the_position_whose_rail_is_broken() -> None:
    broken = damage("n1", item="price rail", section="Oak", column=2, row=1)
    assert state(broken).percent == 100.0  # type: ignore[attr-defined]


def test_a_position_without_its_graphic_waits_for_it() -> None:
    found = state(count("n1", "graphic", 0, section="Oak", column=1, row=1))
    assert found.settable == (at(2, 1), at(1, 2))  # type: ignore[attr-defined]
    assert [(w.address, w.parts) for w in found.waiting] == [  # type: ignore[attr-defined]
        (at(1, 1), (("graphic for Oak, column 1, row 1", 1),))
    ]


def test_a_worn_part_of_the_fixture_is_one_more_need_that_spares_can_fill() -> None:
    worn = damage("n1", Damage.EXISTING_WORN, of="", item="price rail", section="Oak", column=1, row=1, qty=3)
    needs = {need.address: {part: qty for part, qty, _ in need.parts} for need in position_needs(EXPECTED, [worn])}
    assert needs[at(1, 1)]["price rail"] == 3
    assert state(worn).order == ((at(1, 1), "price rail", 1),)  # type: ignore[attr-defined]


def test_the_bay_that_is_set_first_has_the_stock_that_two_want() -> None:
    cart = Cart(100, 120, 60, 100)
    bays = tuple(Bay(f"B{n}", "Oak", (n,), order, 60, 60, 60) for n, order in ((1, 2), (2, 1)))
    layout = Layout("0417", 10, cart, bays)
    lost = [count(f"n{n}", "price rail", 0) for n in (1,)]
    found = state(*lost, layout=layout)
    assert found.settable == (at(2, 1), at(1, 1))  # type: ignore[attr-defined]
    assert [(b.bay, b.positions, b.settable, b.percent) for b in found.bays] == [  # type: ignore[attr-defined]
        ("B2", 1, 1, 100.0),
        ("B1", 2, 1, 50.0),
    ]


def test_facings_weigh_positions_by_what_the_shopper_sees() -> None:
    wide = replace(
        TRAYS,
        contents=(
            ContentLine("Oak", at(1, 1), "TR-12", "tray", 3, "facings"),
            ContentLine("Oak", at(1, 2), "TR-12", "tray", 1, "facings"),
        ),
    )
    expected = manifest(wide)
    notes = [count("n1", "graphic", 0, section="Oak", column=1, row=2)]
    bay = section_state(expected, reconcile(expected, READS, notes), notes).bays[0]
    assert (bay.percent, bay.facings_percent) == (50.0, 75.0)


def test_the_parts_list_can_be_changed_and_refuses_nonsense() -> None:
    clear = USUAL_PARTS.changed(CartonKind.TRAY, (Part("base"), Part("clear cover", 2)))
    found = counted_lines(EXPECTED, reconcile(EXPECTED, READS), (), clear)
    assert dict(stock_of(found))["TR-12 clear cover"] == 4
    with pytest.raises(ValueError, match="quantity 0 of part 'base': at least 1"):
        Part("base", 0)
    with pytest.raises(ValueError, match="has no name"):
        Part(" ")
    with pytest.raises(ValueError, match="kind 'tray' twice"):
        PartsList(((CartonKind.TRAY, ()), (CartonKind.TRAY, ())))


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


def wording(items: tuple[SheetItem, ...]) -> tuple[str, ...]:
    return tuple(str(item_words(item)) for item in items)


def test_a_row_names_what_hangs_there_by_what_it_is() -> None:
    found = reconcile(GROUPS, [read(n, sscc=sscc(1000 + n)) for n in range(1, 10)])
    sheets = {sheet.section: sheet for sheet in bay_sheets(GROUPS, found)}
    (row,) = sheets["Oak"].rows
    assert wording(row.trays) == ("TR-1 tray", "2 × TR-2")
    assert wording(row.graphics) == ("poster", "header")
    assert wording(row.tags) == ("40 × TG-1 tags",)
    assert wording(row.parts) == ("LED",)
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


def test_rows_bring_the_same_parts_list_back() -> None:
    assert parts_list(parts_rows(USUAL_PARTS)) == USUAL_PARTS


def test_every_faulty_row_is_named_and_nothing_is_changed() -> None:
    rows = [
        ("tray", "base", "1", "no"),
        ("box", "base", "1", "no"),
        ("tray", "rail", "0", "no"),
        ("tray", "rail", "½", "no"),
        ("tray", " ", "1", "no"),
        ("replacement tray", "rail", "1", "maybe"),
        ("tray", "Base", "2", ""),
    ]
    with pytest.raises(BadRequest) as fault:
        parts_list(rows)
    message = str(fault.value)
    assert message.startswith("The parts list has 6 faults. Row 2: kind 'box' is not one of tray, ")
    for stated in (
        "Row 3: quantity '0' is not a whole number from 1 to 999,999",
        "Row 4: quantity '½' is not a whole number from 1 to 999,999",
        "Row 5: the part has no name",
        "Row 6: 'maybe' for 'made for one position' is neither yes nor no",
        "Row 7: part 'Base' of kind 'tray' is listed twice; add the quantities up",
    ):
        assert stated in message
    assert str(fault.value.next_step) == "Correct the rows named; nothing was changed."


@pytest.mark.parametrize(("qty", "taken"), [("1", True), ("999999", True), ("0", False), ("1000000", False)])
def test_a_part_is_in_an_item_up_to_999_999_times(qty: str, taken: bool) -> None:
    rows = [("tray", "clip", qty, "no")]
    if taken:
        assert parts_list(rows).parts_of(CartonKind.TRAY) == (Part("clip", int(qty)),)
    else:
        with pytest.raises(BadRequest, match="is not a whole number from 1 to 999,999"):
            parts_list(rows)
