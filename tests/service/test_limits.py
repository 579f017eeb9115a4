"""Limits on reads: a list sent to the wrong place cannot make each later scan slow, and cannot be half stored."""

from contextlib import closing
from pathlib import Path

import pytest

from receiving import service
from receiving.errors import BadRequest, ScanFaults
from receiving.model import Place, RawRead, Source
from receiving.reading import read_scans, scans
from receiving.service import intake, photo_reading
from receiving.service.pools import ReadAway, ReadHere
from receiving.workers import Limits
from tests.planned_reader import PlannedReader
from tests.web.scenario import SHIPMENT, open_desk


def scan_list(number: int) -> bytes:
    head = "scan_id,scanned_at,raw,place,by\n"
    lines = (f"10000000-0000-4000-8000-{n:012d},2026-03-05T09:00:00Z,C{n} R1,dock,Ana" for n in range(number))
    return (head + "\n".join(lines)).encode()


def test_a_list_of_too_many_scans_is_refused_whole(tmp_path: Path) -> None:
    with open_desk(tmp_path, PlannedReader()) as ctx:
        with pytest.raises(ScanFaults, match="more than 5,000 scans are not taken at once") as fault:
            service.add_scans(ctx, SHIPMENT, "s.csv", scan_list(5_001))
        assert "in parts" in str(fault.value)
        assert service.get_shipment(ctx, SHIPMENT).reads == ()


@pytest.mark.parametrize(
    "line",
    ["{n:032x},2026-03-05T09:00:00Z,C1 R1,dock,Ana", "n,yesterday,,nowhere,", '{{"scan_id":"{n}"}}', "[]", "a,b"],
)
def test_a_list_that_is_too_long_or_too_wrong_is_not_looked_through(line: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Whatever its 20,000 lines are: only the first 5,000 are looked at, and 100 faults of theirs are listed."""
    looked, look = [], scans._read_of
    monkeypatch.setattr(scans, "_read_of", lambda at, row, faults: (looked.append(at), look(at, row, faults))[1])
    head = "" if line.startswith("{{") else "scan_id,scanned_at,raw,place,by\n"
    with pytest.raises(ScanFaults) as fault:
        read_scans("s.csv", (head + "\n".join(line.format(n=n) for n in range(20_000))).encode(), most=5_000)
    assert len(looked) <= 5_000
    assert 1 <= len(fault.value.faults) <= 102
    assert "more than 5,000 scans are not taken at once" in str(fault.value)


def test_the_served_app_reads_a_list_in_a_process_with_limits(tmp_path: Path) -> None:
    with open_desk(tmp_path, PlannedReader()) as ctx:
        asked = []

        class Away(ReadHere):
            def scans(self, name: str, data: bytes, most: int) -> tuple[RawRead, ...]:
                asked.append((name, len(data), most))
                return super().scans(name, data, most)

        ctx.manifests = Away()
        service.add_scans(ctx, SHIPMENT, "s.csv", scan_list(3))
        assert asked == [("s.csv", len(scan_list(3)), 5_000)]


def test_a_process_with_limits_gives_the_scans_and_their_faults() -> None:
    with closing(ReadAway(1)) as away:
        assert away.scans("s.csv", scan_list(2_000), 5_000) == read_scans("s.csv", scan_list(2_000))
        with pytest.raises(ScanFaults, match="more than 1,000 scans are not taken at once"):
            away.scans("s.csv", scan_list(2_000), 1_000)


def test_a_list_that_needs_too_much_is_refused_as_a_list_of_scans() -> None:
    limits, refused = Limits(wall_s=60, cpu_s=1, memory_mb=64), pytest.raises(ScanFaults, match="this file needs more")
    with closing(ReadAway(1, limits=limits)) as away, refused:
        away.scans("s.jsonl", b"{}" + b" \n" * 15_000_000, 5_000)


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
