"""A shipment that was imported by mistake goes from every list, loses nothing, and comes back as it was."""

from pathlib import Path

import pytest

from receiving import service
from receiving.cli import run
from receiving.errors import BadRequest, Conflict, NotFound
from receiving.model import Outcome, Place, Source
from tests.service.conftest import MANIFEST

STRAY = "]C100395200000000000036"
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
    scan(ctx, "S-2", STRAY)
    service.restore_shipment(ctx, "S-2", by="Bo")
    assert listed(ctx) == ["S-1", "S-2"]
    assert service.get_shipment(ctx, "S-2").row.here == 1
    assert service.list_voided_shipments(ctx) == ()


def test_a_carton_of_a_voided_shipment_is_no_other_stores_carton(ctx: service.Context) -> None:
    assert "0422" in str(scan(ctx, "S-1", STRAY).sentence)
    service.void_shipment(ctx, "S-2", by="Bo")
    (over,) = service.get_shipment(ctx, "S-1").reconciliation.over
    assert over.shipment == ""
    answer = scan(ctx, "S-1", STRAY)
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
