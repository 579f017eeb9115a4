"""Whatever people do in whatever order, with restarts and a clock that jumps, comes out as a simple model says.

The model knows sets alone: which cartons a shipment expects, which codes were scanned, what was said and taken back.
"""

import shutil
import tempfile
import uuid
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from io import BytesIO
from pathlib import Path
from threading import Event

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule
from PIL import Image

from receiving import service
from receiving.errors import BadRequest, Conflict, Limit, ScanFaults, WorkStopped
from receiving.model import ExpectedCode, PhotoReading, Place, Quad, Receipt, Source, Symbol, mod10_check_digit
from receiving.store import PhotoStatus
from tests.planned_reader import PlannedReader
from tests.receipts import confirm_with_shorts

SHIPMENTS = ("S-1", "S-2", "S-3")
CARTONS = ("01", "02", "03", "04")
READ, FAILED = PhotoStatus.READ, PhotoStatus.FAILED


def code(shipment: str, carton: str) -> str:
    body = f"3952000{SHIPMENTS.index(shipment) + 1:05d}{int(carton):05d}"
    return body + mod10_check_digit(body)


def box(left: int) -> Quad:
    return ((left, 0), (left + 8, 0), (left + 8, 8), (left, 8))


@dataclass
class Shipment:
    """What the model knows of a shipment: ``revisions`` of expected cartons, scans by id, and what was said.

    ``photos``: by its name what a photo shows; None for one that cannot be read.
    """

    revisions: list[frozenset[str]] = field(default_factory=list)
    scans: dict[str, str] = field(default_factory=dict)
    photos: dict[str, frozenset[str] | None] = field(default_factory=dict)
    rejected: dict[str, str] = field(default_factory=dict)
    seen: dict[str, str] = field(default_factory=dict)
    receipts: list[Receipt] = field(default_factory=list)
    voided: bool = False

    @property
    def here(self) -> set[str]:
        left_out = set(self.rejected.values())
        read = {carton for scan, carton in self.scans.items() if scan not in left_out}
        shown = {carton for cartons in self.photos.values() for carton in cartons or ()}
        return (read | shown | set(self.seen.values())) & self.revisions[-1]

    @property
    def reads(self) -> int:
        return len(self.scans) + sum(len(cartons or ()) for cartons in self.photos.values())


class Reader(PlannedReader):
    """Reads photos as planned by name; while it ``waits``, a service that stops gets no photo read any more."""

    def __init__(self) -> None:
        super().__init__()
        self.waits = Event()
        self.closed = Event()

    def read(self, name: str, data: bytes, expected: Sequence[ExpectedCode] = ()) -> PhotoReading:
        if self.waits.is_set():
            self.closed.wait(30)
            raise WorkStopped("The service stops.", Limit.CLOSED)
        return super().read(name, data, expected)

    def close(self) -> None:
        self.closed.set()


class Receiving(RuleBasedStateMachine):
    """People at work."""

    def __init__(self) -> None:
        super().__init__()
        self.folder = Path(tempfile.mkdtemp(prefix="any-order-"))
        self.clock = datetime(2026, 3, 2, 9, tzinfo=UTC)
        self.model: dict[str, Shipment] = {}
        self.reader = Reader()
        self.lists: list[tuple[str, bytes, dict[str, str]]] = []
        self.count = 0
        self.open()

    def open(self) -> None:
        self.reader.waits.clear()
        self.ctx = service.Context(self.folder / "data", self.reader, now=self.now)
        service.resume_photos(self.ctx)

    def now(self) -> datetime:
        self.clock += timedelta(seconds=1)
        return self.clock

    def teardown(self) -> None:
        self.ctx.close()
        report = service.check(self.folder / "data")
        shutil.rmtree(self.folder)
        assert report.whole, report.damages

    def known(self, shipment: str) -> bool:
        return shipment in self.model

    @rule(shipment=st.sampled_from(SHIPMENTS), cartons=st.sets(st.sampled_from(CARTONS), min_size=1))
    def import_manifest(self, shipment: str, cartons: set[str]) -> None:
        rows = [f"{shipment},0417,{carton},{code(shipment, carton)},tray" for carton in sorted(cartons)]
        text = "\n".join(["shipment,store,carton,sscc,kind", *rows]) + "\n"
        (result,) = service.import_manifest(self.ctx, "m.csv", text.encode())
        mine = self.model.setdefault(shipment, Shipment())
        before = mine.revisions[-1] if mine.revisions else None
        expected = "new" if before is None else "unchanged" if before == cartons else "changed"
        if expected != "unchanged":
            mine.revisions.append(frozenset(cartons))
        assert (result.status, result.revision) == (expected, len(mine.revisions))

    @precondition(lambda self: self.model)
    @rule(data=st.data(), carton=st.sampled_from(CARTONS), twice=st.booleans())
    def scan(self, data: st.DataObject, carton: str, twice: bool) -> None:
        shipment = data.draw(st.sampled_from(sorted(self.model)))
        name = str(uuid.UUID(int=len(self.model[shipment].scans) + 1))
        for _ in range(1 + twice):
            service.add_scan(
                self.ctx,
                shipment,
                code(shipment, carton),
                place=Place.DOCK,
                by="Ada",
                source=Source.SCANNER,
                scan_id=name,
            )
        self.model[shipment].scans[name] = carton

    @precondition(lambda self: self.model)
    @rule(data=st.data(), cartons=st.lists(st.sampled_from(CARTONS), min_size=1, max_size=4))
    def send_a_scan_list(self, data: st.DataObject, cartons: list[str]) -> None:
        shipment = data.draw(st.sampled_from(sorted(self.model)))
        self.count += 1
        scans = {str(uuid.UUID(int=self.count * 1000 + n)): carton for n, carton in enumerate(cartons)}
        text = "".join(f"{name},2026-03-05T09:00:00Z,{code(shipment, carton)}\n" for name, carton in scans.items())
        sent = (shipment, ("scan_id,scanned_at,raw\n" + text).encode(), scans)
        assert len(service.add_scans(self.ctx, shipment, "s.csv", sent[1])) == len(scans)
        self.lists.append(sent)
        self.model[shipment].scans |= scans

    @precondition(lambda self: self.lists)
    @rule(data=st.data(), spoiled=st.sampled_from(["", "not a scan\n", "other"]))
    def send_a_scan_list_again(self, data: st.DataObject, spoiled: str) -> None:
        """As it was it changes nothing; with a fault or another content for a known id, no new scan of it counts."""
        shipment, text, scans = data.draw(st.sampled_from(self.lists))
        new = f"{uuid.UUID(int=1)},2026-03-05T09:00:00Z,{code(shipment, '01')}\n"
        if spoiled == "other":
            spoiled = f"{next(iter(scans))},2026-03-05T09:00:00Z,another code\n"
            text = b"scan_id,scanned_at,raw\n"
        try:
            service.add_scans(self.ctx, shipment, "s.csv", text + (new + spoiled if spoiled else "").encode())
        except (ScanFaults, Conflict):
            assert spoiled
        else:
            assert not spoiled

    @precondition(lambda self: self.model)
    @rule(data=st.data(), cartons=st.sets(st.sampled_from(CARTONS)), readable=st.booleans(), stopped=st.booleans())
    def photograph(self, data: st.DataObject, cartons: set[str], readable: bool, stopped: bool) -> None:
        """A photo that is read, cannot be, or is in work when the service stops: then it is read after the start."""
        shipment = data.draw(st.sampled_from(sorted(self.model)))
        self.count += 1
        name = f"{self.count}.png"
        if readable:
            codes = [f"00{code(shipment, carton)}" for carton in sorted(cartons)]
            symbols = (Symbol(text, "]C1", box(9 * n), "z", n + 1) for n, text in enumerate(codes))
            self.reader.readings[name] = PhotoReading(40, 30, tuple(symbols))
        if stopped:
            self.reader.closed.clear()
            self.reader.waits.set()
        out = BytesIO()
        Image.new("RGB", (40, 30), (self.count % 256, self.count // 256, 7)).save(out, "PNG")
        for _ in range(2):
            service.add_photo(self.ctx, shipment, name, out.getvalue(), place=Place.DOCK, by="Ada")
        if stopped:
            self.restart()
        service.finish_photos(self.ctx)
        self.model[shipment].photos[name] = frozenset(cartons) if readable else None

    @precondition(lambda self: self.model)
    @rule(data=st.data(), carton=st.sampled_from(CARTONS))
    def say_that_it_is_here(self, data: st.DataObject, carton: str) -> None:
        shipment = data.draw(st.sampled_from(sorted(self.model)))
        mine = self.model[shipment]
        try:
            note = service.add_note(self.ctx, shipment, "carton_seen", by="Bo", carton=carton)
        except BadRequest:
            assert carton not in mine.revisions[-1]
        else:
            assert carton in mine.revisions[-1]
            mine.seen[note.note_id] = carton

    @precondition(lambda self: any(each.scans for each in self.model.values()))
    @rule(data=st.data())
    def leave_a_scan_out(self, data: st.DataObject) -> None:
        shipment = data.draw(st.sampled_from(sorted(name for name, each in self.model.items() if each.scans)))
        scan = data.draw(st.sampled_from(sorted(self.model[shipment].scans)))
        note = service.add_note(self.ctx, shipment, "read_rejected", by="Bo", read_id=scan)
        self.model[shipment].rejected[note.note_id] = scan

    @precondition(lambda self: any(each.seen or each.rejected for each in self.model.values()))
    @rule(data=st.data(), back_h=st.sampled_from([0, 0, 5, 50]))
    def undo(self, data: st.DataObject, back_h: int) -> None:
        self.clock -= timedelta(hours=back_h)
        noted = [(name, note) for name, each in self.model.items() for note in (*each.seen, *each.rejected)]
        shipment, note = data.draw(st.sampled_from(sorted(noted)))
        service.add_note(self.ctx, shipment, "note_withdrawn", by="Bo", withdrawn=note)
        self.model[shipment].seen.pop(note, None)
        self.model[shipment].rejected.pop(note, None)

    @precondition(lambda self: self.model)
    @rule(data=st.data())
    def go_back_to_a_revision(self, data: st.DataObject) -> None:
        shipment = data.draw(st.sampled_from(sorted(self.model)))
        mine = self.model[shipment]
        number = data.draw(st.integers(1, len(mine.revisions)))
        result = service.restore_revision(self.ctx, shipment, number)
        if mine.revisions[number - 1] != mine.revisions[-1]:
            mine.revisions.append(mine.revisions[number - 1])
        assert result.revision == len(mine.revisions)

    @precondition(lambda self: self.model)
    @rule(data=st.data(), twice=st.booleans())
    def confirm(self, data: st.DataObject, twice: bool) -> None:
        shipment = data.draw(st.sampled_from(sorted(self.model)))
        self.count += 1
        shown = service.show_receipt(self.ctx, shipment)
        for _ in range(1 + twice):
            given = confirm_with_shorts(self.ctx, shipment, digest=shown.digest, name=f"Grace {self.count}")
        mine = self.model[shipment]
        mine.receipts.append(given)
        assert (given.number, given.shown.received) == (len(mine.receipts), len(mine.here))

    @precondition(lambda self: self.model)
    @rule(data=st.data(), voided=st.booleans())
    def void_or_restore(self, data: st.DataObject, voided: bool) -> None:
        shipment = data.draw(st.sampled_from(sorted(self.model)))
        mine = self.model[shipment]
        deed = service.void_shipment if voided else service.restore_shipment
        try:
            deed(self.ctx, shipment, by="Bo")
        except Conflict:
            assert mine.voided == voided
        else:
            assert mine.voided != voided
            mine.voided = voided

    @rule()
    def restart(self) -> None:
        self.ctx.close()
        self.open()

    @rule(hours=st.integers(-50, 50))
    def set_the_clock(self, hours: int) -> None:
        self.clock += timedelta(hours=hours)

    @precondition(lambda self: self.model)
    @rule()
    def move_to_a_new_machine(self) -> None:
        """Back up while it is served, restore elsewhere, go on there."""
        archive, elsewhere = self.folder / "copy.zip", self.folder / "elsewhere"
        service.back_up(self.folder / "data", archive)
        self.ctx.close()
        service.restore(archive, elsewhere)
        shutil.rmtree(self.folder / "data")
        elsewhere.rename(self.folder / "data")
        self.open()

    @invariant()
    def everything_is_as_the_model_says(self) -> None:
        listed = {row.shipment for row in service.list_shipments(self.ctx)}
        assert listed == {name for name, each in self.model.items() if not each.voided}
        for name, mine in self.model.items():
            view = service.get_shipment(self.ctx, name)
            assert {found.carton.carton for found in view.reconciliation.received} == mine.here
            assert {found.carton.carton for found in view.reconciliation.short} == mine.revisions[-1] - mine.here
            assert len(view.reads) == mine.reads
            status = {photo.name: photo.status for photo in view.photos}
            assert status == {name: READ if shown is not None else FAILED for name, shown in mine.photos.items()}
            assert list(view.receipts) == mine.receipts
            assert [len(each.manifest.cartons) for each in view.revisions] == [len(each) for each in mine.revisions]


TestAnyOrder = Receiving.TestCase
TestAnyOrder.settings = settings(
    max_examples=30, stateful_step_count=25, deadline=None, suppress_health_check=list(HealthCheck)
)
