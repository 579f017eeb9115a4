"""Whatever people do in whatever order, with restarts and a clock that jumps, comes out as a simple model says.

The model knows sets alone: which cartons a shipment expects, which codes were scanned, what was said and taken back.
"""

import shutil
import tempfile
import uuid
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule

from receiving import service
from receiving.errors import BadRequest, Conflict
from receiving.model import Place, Receipt, Source, mod10_check_digit
from tests.planned_reader import PlannedReader

SHIPMENTS = ("S-1", "S-2", "S-3")
CARTONS = ("01", "02", "03", "04")


def code(shipment: str, carton: str) -> str:
    body = f"3952000{SHIPMENTS.index(shipment) + 1:05d}{int(carton):05d}"
    return body + mod10_check_digit(body)


@dataclass
class Shipment:
    """What the model knows of a shipment: ``revisions`` of expected cartons, scans by id, and what was said."""

    revisions: list[frozenset[str]] = field(default_factory=list)
    scans: dict[str, str] = field(default_factory=dict)
    rejected: dict[str, str] = field(default_factory=dict)
    seen: dict[str, str] = field(default_factory=dict)
    receipts: list[Receipt] = field(default_factory=list)
    voided: bool = False

    @property
    def here(self) -> set[str]:
        left_out = set(self.rejected.values())
        read = {carton for scan, carton in self.scans.items() if scan not in left_out}
        return (read | set(self.seen.values())) & self.revisions[-1]


class Receiving(RuleBasedStateMachine):
    """People at work."""

    def __init__(self) -> None:
        super().__init__()
        self.folder = Path(tempfile.mkdtemp(prefix="any-order-"))
        self.clock = datetime(2026, 3, 2, 9, tzinfo=UTC)
        self.model: dict[str, Shipment] = {}
        self.count = 0
        self.open()

    def open(self) -> None:
        self.ctx = service.Context(self.folder / "data", PlannedReader(), now=self.now)

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
        said = [(name, note) for name, each in self.model.items() for note in (*each.seen, *each.rejected)]
        shipment, note = data.draw(st.sampled_from(sorted(said)))
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
            given = service.confirm(
                self.ctx,
                shipment,
                shown.digest,
                name=f"Grace {self.count}",
                role="Manager",
                with_exceptions=True,
                missing=service.MissingAnswer(searched=True),
            )
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
            assert len(view.reads) == len(mine.scans)
            assert list(view.receipts) == mine.receipts
            assert [len(each.manifest.cartons) for each in view.revisions] == [len(each) for each in mine.revisions]


TestAnyOrder = Receiving.TestCase
TestAnyOrder.settings = settings(
    max_examples=30, stateful_step_count=25, deadline=None, suppress_health_check=list(HealthCheck)
)
