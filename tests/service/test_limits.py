"""Limits on reads: a list sent to the wrong place cannot make each later scan slow, and cannot be half stored."""

from pathlib import Path

import pytest

from receiving import service
from receiving.errors import BadRequest
from receiving.model import Place, Source
from receiving.service import intake, photo_reading
from tests.planned_reader import PlannedReader
from tests.web.scenario import SHIPMENT, open_desk


def scan_list(number: int) -> bytes:
    head = "scan_id,scanned_at,raw,place,by\n"
    lines = (f"10000000-0000-4000-8000-{n:012d},2026-03-05T09:00:00Z,C{n} R1,dock,Ana" for n in range(number))
    return (head + "\n".join(lines)).encode()


def test_a_list_of_too_many_scans_is_refused_whole(tmp_path: Path) -> None:
    with open_desk(tmp_path, PlannedReader()) as ctx:
        with pytest.raises(BadRequest, match=r"5,001 scans; at most 5,000 .* Nothing of it was stored"):
            service.add_scans(ctx, SHIPMENT, "s.csv", scan_list(5_001))
        assert service.get_shipment(ctx, SHIPMENT).reads == ()


def test_a_shipment_with_too_many_reads_takes_no_more_and_says_so(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(photo_reading, "MOST_READS", 10)
    with open_desk(tmp_path, PlannedReader()) as ctx:
        service.add_scans(ctx, SHIPMENT, "s.csv", scan_list(9))
        service.add_scan(ctx, SHIPMENT, "C1 R1", place=Place.DOCK, by="Ana", source=Source.SCANNER)
        with pytest.raises(BadRequest, match=r"has 10 reads; at most 10 are kept"):
            service.add_scan(ctx, SHIPMENT, "C2 R1", place=Place.DOCK, by="Ana", source=Source.SCANNER)
        service.add_scans(ctx, SHIPMENT, "s.csv", scan_list(9))  # sent again, it is answered again
        assert len(service.get_shipment(ctx, SHIPMENT).reads) == 10


def test_a_shipment_with_more_cartons_than_reads_are_kept_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(intake, "MOST_CARTONS", 2)
    rows = b"shipment,store,carton,kind\nS-9,0417,01,tray\nS-9,0417,02,tray\n"
    with service.Context(tmp_path, PlannedReader()) as ctx:
        assert service.import_manifest(ctx, "m.csv", rows)[0].status == "new"
        for take in (service.preview_import, service.import_manifest):
            with pytest.raises(BadRequest, match="has 3 cartons; at most 2 are taken") as refused:
                take(ctx, "m.csv", rows + b"S-9,0417,03,tray\n")
            assert "shipment number of its own" in str(refused.value.next_step)
        assert len(service.get_shipment(ctx, "S-9").manifest.cartons) == 2
