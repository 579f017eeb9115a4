"""What a revision changes, in plain sentences."""

from dataclasses import replace
from datetime import date

from receiving.expected import manifest_changes
from receiving.model import Address, Carton, CartonKind, ContentLine, Manifest, Sscc, What
from receiving.wording import change_words
from tests.expected.edi_messages import sscc

TRAY = Carton(
    "07", CartonKind.TRAY, contents=(ContentLine("Harbor", Address("Harbor", 3, 2), "T-1", qty=2, unit="EA"),)
)
PARTS = Carton("08", CartonKind.PARTS, sscc=Sscc(sscc(8)), open_first=True, weight_kg=3.0)
OLD = Manifest("W7", "0417", (PARTS,), date(2026, 3, 9))


def words(old: Manifest, new: Manifest) -> list[str]:
    return [str(change_words(change)) for change in manifest_changes(old, new)]


def test_the_same_manifest_has_no_changes() -> None:
    assert manifest_changes(OLD, replace(OLD)) == ()


def test_an_added_carton_is_told_with_its_place() -> None:
    (change,) = manifest_changes(OLD, replace(OLD, cartons=(PARTS, TRAY)))
    assert (change.carton, change.what) == ("07", What.ADDED)
    assert str(change_words(change)) == "Carton 07 was added: tray for Harbor, column 3, row 2."


def test_a_removed_carton_is_told() -> None:
    (change,) = manifest_changes(OLD, replace(OLD, cartons=()))
    assert (change.what, str(change_words(change))) == (What.REMOVED, "Carton 08 was removed: parts, open first.")


def test_a_changed_carton_tells_every_field() -> None:
    changed = replace(PARTS, kind=CartonKind.TAGS, weight_kg=4.5, open_first=False, barcode="B", outer="01")
    assert words(OLD, replace(OLD, cartons=(changed,))) == [
        "Carton 08 changed: parts is now tags; no longer open first; barcode is now B; outer box is now 01; "
        "weight from 3 kg (6.6 lb) to 4.5 kg (9.9 lb)."
    ]


def test_changed_contents_are_told_line_by_line() -> None:
    more = replace(TRAY, contents=(replace(TRAY.contents[0], qty=3), ContentLine("Harbor", None, "T-2")))
    assert words(replace(OLD, cartons=(TRAY,)), replace(OLD, cartons=(more,))) == [
        "Carton 07 changed: no longer holds 2 EA of T-1 for Harbor, column 3, row 2; "
        "now holds 3 EA of T-1 for Harbor, column 3, row 2; now holds T-2 for Harbor."
    ]


def test_a_carton_with_a_new_number_and_the_same_sscc_is_the_same_carton() -> None:
    assert words(OLD, replace(OLD, cartons=(replace(PARTS, carton="8A"),))) == ["Carton 8A changed: it was carton 08."]


def test_the_shipment_itself_may_change() -> None:
    new = replace(OLD, store="0418", dispatch_date=None, references=(("order", "1"),))
    assert words(OLD, new) == [
        "The shipment's store is now 0418; before: 0417.",
        "The shipment's visit date is no longer given; before: Mon 9 Mar 2026.",
        "The shipment's references are now order 1.",
    ]
