"""A planogram that changes in the middle of a programme: shown in words, stored as a revision, undone by another.

A shipment that was imported by mistake goes from every list, loses nothing, and comes back as it was.
"""

from pathlib import Path

import pytest

from receiving import service
from receiving.cli import run
from receiving.errors import BadRequest, Conflict, NotFound
from receiving.model import Address, CartonKind, Outcome, Place, Source
from receiving.service import CartonEdit, TypedPlace
from receiving.wording import from_stored
from tests.service.conftest import MANIFEST


def edit(*places: tuple[str, str, str], kind: str = "tray", first: bool = False) -> CartonEdit:
    return CartonEdit(kind, first, tuple(TypedPlace(*place) for place in places))


def test_a_carton_moves_in_the_planogram(ctx: service.Context) -> None:
    moved = edit(("Harbor", "4", "2"))
    preview = service.preview_carton(ctx, "S-1", "02", moved)
    assert preview.follows == 1
    assert tuple(map(str, preview.changes)) == (
        "Carton 02 changed: no longer holds 1 of T-1 for Harbor, column 1, row 1; "
        "now holds 1 of T-1 for Harbor, column 4, row 2.",
    )
    assert service.get_manifest(ctx, "S-1")[1] == 1
    assert service.revise_carton(ctx, "S-1", "02", moved, follows=1, by="Ada Ng") == 2
    manifest, revision = service.get_manifest(ctx, "S-1")
    assert (revision, manifest.find("02").addresses) == (2, (Address("Harbor", 4, 2),))
    latest = service.list_revisions(ctx, "S-1")[-1]
    assert (latest.origin, latest.source, latest.by) == (service.RevisionOrigin.CARTON_EDITED, "02", "Ada Ng")
    assert tuple(map(from_stored, latest.changes)) == preview.changes


def test_what_the_page_changed_is_matched_against_from_then_on(ctx: service.Context) -> None:
    service.revise_carton(ctx, "S-1", "02", edit(("Harbor", "4", "2")), follows=1, by="")
    view = service.get_shipment(ctx, "S-1")
    assert view.reconciliation.cartons[1].carton.addresses == (Address("Harbor", 4, 2),)
    assert view.revision == 2


def test_a_revised_manifest_is_a_manifest_file_that_changes_nothing(ctx: service.Context) -> None:
    changed = edit(("Harbor", "4", "2"), ("Moss", "", ""), ("Moss", "1", "3"), kind="header", first=True)
    service.revise_carton(ctx, "S-1", "02", changed, follows=1, by="")
    again = service.preview_import(ctx, "again.csv", service.make_manifest_csv(ctx, "S-1").encode())
    assert [each.status for each in again.manifests] == ["unchanged"]
    carton = service.get_manifest(ctx, "S-1")[0].find("02")
    assert (carton.kind, carton.open_first, carton.sections) == (CartonKind.HEADER, True, ("Harbor", "Moss"))


def test_a_place_that_is_emptied_goes_and_its_item_stays(ctx: service.Context) -> None:
    service.revise_carton(ctx, "S-1", "02", edit(("", "", ""), ("Moss", "1", "3")), follows=1, by="")
    service.revise_carton(ctx, "S-1", "02", edit(("Harbor", "1", "1"), ("", "", "")), follows=2, by="")
    (line,) = service.get_manifest(ctx, "S-1")[0].find("02").contents
    assert (line.item, line.address) == ("T-1", Address("Harbor", 1, 1))


def test_content_lines_that_were_not_sent_stay_as_they_are(ctx: service.Context) -> None:
    assert service.preview_carton(ctx, "S-1", "02", edit()).changes == ()
    assert service.revise_carton(ctx, "S-1", "02", edit(), follows=1, by="") == 1


def test_every_wrong_place_is_named_at_once(ctx: service.Context) -> None:
    wrong = edit(("Harbor", "0", "x"), ("Har\x00bor", "3", ""))
    with pytest.raises(BadRequest) as caught:
        service.preview_carton(ctx, "S-1", "02", wrong)
    assert str(caught.value.message) == (
        "Place 1: column '0' is not a whole number from 1 to 9999. "
        "Place 1: row 'x' is not a whole number from 1 to 9999. "
        "Place 2: the section is not a single line of at most 120 characters. "
        "Place 2: row is missing; give both or neither."
    )


@pytest.mark.parametrize(("carton", "kind"), [("99", "tray"), ("02", "troy")])
def test_an_unknown_carton_or_kind_is_named(ctx: service.Context, carton: str, kind: str) -> None:
    with pytest.raises(BadRequest, match=r"'99'|'troy'"):
        service.preview_carton(ctx, "S-1", carton, edit(kind=kind))


def test_an_edit_of_a_manifest_that_moved_on_is_refused(ctx: service.Context) -> None:
    service.revise_carton(ctx, "S-1", "02", edit(("Harbor", "4", "2")), follows=1, by="")
    with pytest.raises(Conflict):
        service.revise_carton(ctx, "S-1", "03", edit(("Harbor", "5", "2")), follows=1, by="")
    assert len(service.list_revisions(ctx, "S-1")) == 2


def test_a_restore_is_previewed_and_follows_what_was_shown(ctx: service.Context) -> None:
    service.revise_carton(ctx, "S-1", "02", edit(kind="header"), follows=1, by="")
    preview = service.preview_restore(ctx, "S-1", 1)
    assert (preview.follows, list(map(str, preview.changes))) == (2, ["Carton 02 changed: header is now tray."])
    with pytest.raises(Conflict, match="at revision 2 by now"):
        service.restore_revision(ctx, "S-1", 1, follows=1)
    assert service.restore_revision(ctx, "S-1", 1, follows=2).revision == 3
    assert service.get_manifest(ctx, "S-1")[0].find("02").kind is CartonKind.TRAY


def test_revisions_of_an_unknown_shipment_are_not_found(ctx: service.Context) -> None:
    for ask in (service.list_revisions, service.get_manifest):
        with pytest.raises(NotFound, match="'S-9'"):
            ask(ctx, "S-9")


OVER_SCAN = "]C100395200000000000036"
"""Carton 09 of S-2."""


def scan(ctx: service.Context, shipment: str, text: str) -> service.ScanAnswer:
    return service.add_scan(ctx, shipment, text, place=Place.DOCK, by="Ada", source=Source.SCANNER)


def listed(ctx: service.Context) -> list[str]:
    return [row.shipment for row in service.list_shipments(ctx)]


def test_a_voided_shipment_is_in_no_list_and_its_page_says_so(ctx: service.Context) -> None:
    service.void_shipment(ctx, "S-2", by="Bo", reason="imported twice")
    assert listed(ctx) == ["S-1"]
    assert [row.row.shipment for row in service.get_overview(ctx)] == ["S-1"]
    assert [store.store for store in service.list_store_layouts(ctx).stores] == ["0417"]
    (voided,) = service.list_voided_shipments(ctx)
    assert (voided.shipment, voided.note.by, voided.note.reason) == ("S-2", "Bo", "imported twice")
    assert service.get_shipment(ctx, "S-2").found.record.voided


def test_what_is_scanned_for_a_voided_shipment_is_kept_and_counts_once_it_is_restored(ctx: service.Context) -> None:
    service.void_shipment(ctx, "S-2", by="Bo")
    scan(ctx, "S-2", OVER_SCAN)
    service.restore_shipment(ctx, "S-2", by="Bo")
    assert listed(ctx) == ["S-1", "S-2"]
    assert service.get_shipment(ctx, "S-2").row.here == 1
    assert service.list_voided_shipments(ctx) == ()


def test_a_carton_of_a_voided_shipment_is_no_other_stores_carton(ctx: service.Context) -> None:
    assert "0422" in str(scan(ctx, "S-1", OVER_SCAN).sentence)
    service.void_shipment(ctx, "S-2", by="Bo")
    (over,) = service.get_shipment(ctx, "S-1").reconciliation.over
    assert over.shipment == ""
    answer = scan(ctx, "S-1", OVER_SCAN)
    assert answer.outcome is not Outcome.MATCHED
    assert "0422" not in str(answer.sentence)


def test_importing_a_voided_shipment_again_leaves_it_voided(ctx: service.Context) -> None:
    service.void_shipment(ctx, "S-2", by="Bo")
    changed = MANIFEST.replace("T-1,1,6,2026-03-20", "T-1,2,6,2026-03-20")
    results = service.import_manifest(ctx, "m.csv", changed.encode())
    assert [(each.shipment, each.status, each.revision) for each in results] == [
        ("S-1", "unchanged", 1),
        ("S-2", "changed", 2),
    ]
    assert listed(ctx) == ["S-1"]


def test_a_shipment_is_voided_and_restored_once(ctx: service.Context) -> None:
    with pytest.raises(Conflict, match="Shipment 'S-2' is not voided"):
        service.restore_shipment(ctx, "S-2", by="Bo")
    service.void_shipment(ctx, "S-2", by="Bo")
    with pytest.raises(Conflict, match="Shipment 'S-2' is voided already"):
        service.void_shipment(ctx, "S-2", by="Bo")
    with pytest.raises(NotFound):
        service.void_shipment(ctx, "S-9", by="Bo")


def test_no_form_voids_a_shipment_beside_its_own(ctx: service.Context) -> None:
    with pytest.raises(BadRequest, match="no note of the kind 'shipment_voided'"):
        service.add_note(ctx, "S-2", "shipment_voided", by="Bo", voided="true")
    voided = service.void_shipment(ctx, "S-2", by="Bo")
    with pytest.raises(BadRequest, match="Restore the shipment instead"):
        service.add_note(ctx, "S-2", "note_withdrawn", by="Bo", withdrawn=voided.note.note_id)


def test_a_folder_with_a_voided_shipment_is_whole(ctx: service.Context) -> None:
    service.void_shipment(ctx, "S-2", by="Bo")
    assert service.check(ctx.data).whole
    service.restore_shipment(ctx, "S-2", by="Bo")
    assert service.check(ctx.data).whole


def test_the_command_voids_and_brings_back(ctx: service.Context, capsys: pytest.CaptureFixture[str]) -> None:
    data = ["--data", str(ctx.data)]
    assert run(["void", "S-1", *data, "--reason", "wrong file", "--by", "Bo"]) == 0
    assert run(["void", "S-2", *data]) == 0
    assert run(["overview", *data]) == 0
    assert run(["void", "S-2", *data]) == 1
    assert "is voided already" in capsys.readouterr().err
    assert run(["void", "S-1", *data, "--undo"]) == 0
    assert listed(ctx) == ["S-1"]


def test_the_command_makes_no_folder(tmp_path: Path) -> None:
    assert run(["void", "S-1", "--data", str(tmp_path / "nowhere")]) == 1
    assert list(tmp_path.iterdir()) == []
