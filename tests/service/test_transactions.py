"""Every use case reads, decides and writes at one moment: two at once are as two after each other."""

import threading
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pytest

from receiving import service
from receiving.errors import BadRequest, Conflict
from receiving.model import PhotoReading, Place, Source, Symbol, UnreadRegion
from receiving.model.replacement import Delivery
from receiving.store import DocumentKind, Store
from tests.planned_reader import PlannedReader
from tests.receipts import confirm_with_shorts
from tests.service.conftest import LAYOUT, MANIFEST, picture

QUAD = ((1.0, 1.0), (30.0, 1.0), (30.0, 20.0), (1.0, 20.0))
TRAY_1, TRAY_2 = "00395200000000000012", "00395200000000000029"


@pytest.fixture
def shared(tmp_path: Path, reader: PlannedReader) -> service.Context:
    """A context with real ids, since several threads use it."""
    ctx = service.Context(tmp_path, reader, now=lambda: datetime(2026, 3, 2, 9, 0, tzinfo=UTC))
    service.import_manifest(ctx, "manifest.csv", MANIFEST.encode())
    service.import_layout(ctx, "layout.toml", LAYOUT.encode())
    return ctx


def at_once(*works: Callable[[], object]) -> list[object]:
    """What each of these gave, all started at the same moment; a fault counts as what it gave."""
    start, given = threading.Barrier(len(works)), dict[int, object]()

    def run(number: int, work: Callable[[], object]) -> None:
        start.wait()
        try:
            given[number] = work()
        except Exception as fault:
            given[number] = fault

    threads = [threading.Thread(target=run, args=each) for each in enumerate(works)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return [given[number] for number in range(len(works))]


def slow_steps(monkeypatch: pytest.MonkeyPatch, name: str) -> None:
    """Let another thread in between a step that reads and the one that writes."""
    whole = getattr(Store, name)

    def slow(self: Store, *values: object, **named: object) -> object:
        found = whole(self, *values, **named)
        threading.Event().wait(0.02)
        return found

    monkeypatch.setattr(Store, name, slow)


def test_two_requests_issued_at_once_are_both_kept(shared: service.Context, monkeypatch: pytest.MonkeyPatch) -> None:
    slow_steps(monkeypatch, "documents")

    def issue(contact: str) -> Callable[[], object]:
        return lambda: service.issue_request(shared, "0417", Delivery("Dock 2", contact), by="Ada")

    issued = at_once(issue("Grace"), issue("Edsger"))
    with shared.store() as store:
        kept = store.documents(DocumentKind.REQUEST, "0417")
    assert sorted((r.number, r.revision) for r in issued) == [(1, 1), (1, 2)]  # type: ignore[attr-defined]
    assert len(kept) == 2


def test_requests_of_a_store_count_on(shared: service.Context, monkeypatch: pytest.MonkeyPatch) -> None:
    """The one before has been received and confirmed, so each of the two would be a new one."""
    first = service.issue_request(shared, "0417", Delivery("Dock 2", "Grace"), by="Ada")
    confirm_with_shorts(shared, first.reference)
    slow_steps(monkeypatch, "documents")
    again = at_once(
        lambda: service.issue_request(shared, "0417", Delivery("Dock 2", "Grace"), by="Ada"),
        lambda: service.issue_request(shared, "0417", Delivery("Dock 2", "Edsger"), by="Ada"),
    )
    assert sorted((r.number, r.revision) for r in again) == [(2, 1), (2, 2)]  # type: ignore[attr-defined]
    assert [r.number for r in service.list_requests(shared, "0417")] == [1, 2]


def test_one_confirmation_sent_four_times_at_once_is_one_receipt(
    shared: service.Context, monkeypatch: pytest.MonkeyPatch
) -> None:
    shown = service.show_receipt(shared, "S-1")
    slow_steps(monkeypatch, "receipts")

    def confirm() -> object:
        return confirm_with_shorts(shared, "S-1", digest=shown.digest)

    given = at_once(*[confirm] * 4)
    assert [getattr(each, "number", each) for each in given] == [1, 1, 1, 1]
    assert len(service.get_shipment(shared, "S-1").receipts) == 1


def test_another_person_who_was_shown_what_the_first_confirmed_gets_a_receipt_of_their_own(
    shared: service.Context,
) -> None:
    for number, name in enumerate(("Grace", "Edsger"), 1):
        given = confirm_with_shorts(shared, "S-1", name=name)
        assert given.number == number


def test_a_question_answered_by_two_at_once_is_answered_once(
    shared: service.Context, reader: PlannedReader, monkeypatch: pytest.MonkeyPatch
) -> None:
    two_codes = tuple(
        Symbol(TRAY_1, symbology, QUAD, "guided", label=1, guided=True, confidence=0.55, alternatives=(TRAY_2,))
        for symbology in ("]C1", "]d2")
    )
    reader.readings["a.png"] = PhotoReading(40, 30, two_codes)
    service.add_photo(shared, "S-1", "a.png", picture(), place=Place.DOCK, by="Ada")
    service.finish_photos(shared)
    (asked, *_) = service.get_shipment(shared, "S-1").reconciliation.questions
    slow_steps(monkeypatch, "shipment")
    given = at_once(
        *[
            lambda carton=carton: service.answer_question(shared, "S-1", asked.question_id, carton, by="Ada")
            for carton in ("02", "03")
        ]
    )
    assert sum(isinstance(each, Conflict) for each in given) == 1
    noted = {note.carton for note in service.get_shipment(shared, "S-1").notes}  # type: ignore[attr-defined]
    assert len(noted) == 1


def test_a_use_case_inside_another_joins_its_transaction(shared: service.Context) -> None:
    with pytest.raises(RuntimeError, match="the power went"), shared.transaction() as store:
        service.add_scan(shared, "S-1", TRAY_1, place=Place.DOCK, by="Ada", source=Source.TYPED)
        service.add_note(shared, "S-1", "carton_seen", by="Ada", carton="03")
        assert shared.store().__enter__() is store
        raise RuntimeError("the power went")
    view = service.get_shipment(shared, "S-1")
    assert (view.reads, view.notes, view.row.here) == ((), (), 0)


def test_what_a_transaction_worked_out_and_then_undid_is_shown_to_nobody(shared: service.Context) -> None:
    """What was undone had the version that the next stored thing gets."""
    with pytest.raises(RuntimeError), shared.transaction():
        service.add_scan(shared, "S-1", TRAY_1, place=Place.DOCK, by="Ada", source=Source.TYPED)
        assert service.get_shipment(shared, "S-1").row.here == 1
        raise RuntimeError
    service.add_scan(shared, "S-1", "nothing known", place=Place.DOCK, by="Ada", source=Source.TYPED)
    assert service.get_shipment(shared, "S-1").row.here == 0


def test_an_inner_step_that_fails_takes_only_itself_back(shared: service.Context) -> None:
    with shared.transaction():
        service.add_note(shared, "S-1", "carton_seen", by="Ada", carton="02")
        with pytest.raises(RuntimeError), shared.transaction():
            service.add_note(shared, "S-1", "carton_seen", by="Ada", carton="03")
            raise RuntimeError
    assert [note.carton for note in service.get_shipment(shared, "S-1").notes] == ["02"]  # type: ignore[attr-defined]


def test_background_work_starts_once_its_photo_is_stored(shared: service.Context, reader: PlannedReader) -> None:
    reader.readings["a.png"] = PhotoReading(40, 30, ())
    with shared.transaction():
        row = service.add_photo(shared, "S-1", "a.png", picture(), place=Place.DOCK, by="Ada")
        service.finish_photos(shared)
        assert service.get_photo(shared, "S-1", row.photo).row.status is service.PhotoStatus.WAITING
    service.finish_photos(shared)
    assert service.get_photo(shared, "S-1", row.photo).row.status is service.PhotoStatus.READ


def test_what_one_moment_reads_was_true_together_though_others_write_meanwhile(shared: service.Context) -> None:
    with shared.moment() as store:
        before = service.get_shipment(shared, "S-1")
        writer = threading.Thread(target=service.void_shipment, args=(shared, "S-1"), kwargs={"by": "Ada"})
        writer.start()
        writer.join(10)
        assert not writer.is_alive()
        assert service.get_shipment(shared, "S-1").notes == before.notes == ()
        assert not store.shipment("S-1").voided
    assert service.list_voided_shipments(shared)


def test_a_moment_that_only_reads_does_not_write(shared: service.Context) -> None:
    with shared.moment(), pytest.raises(RuntimeError, match="cannot write"):
        service.add_note(shared, "S-1", "carton_seen", by="Ada", carton="02")
    assert service.get_shipment(shared, "S-1").notes == ()
    with shared.transaction(), shared.moment():  # what a use case reads inside another one that writes
        service.add_note(shared, "S-1", "carton_seen", by="Ada", carton="02")
    assert len(service.get_shipment(shared, "S-1").notes) == 1


def test_a_region_settled_as_a_label_is_one_tap(shared: service.Context, reader: PlannedReader) -> None:
    reader.readings["a.png"] = PhotoReading(40, 30, (), unread=(UnreadRegion(QUAD, ""),))
    row = service.add_photo(shared, "S-1", "a.png", picture(), place=Place.DOCK, by="Ada")
    service.finish_photos(shared)
    region = {"photo": row.photo, "region": 1}
    resolved, seen = service.resolve_region(shared, "S-1", region, "02", by="Ada")
    assert resolved.action_id == seen.action_id != ""
    with pytest.raises(BadRequest):
        service.resolve_region(shared, "S-1", region, "99", by="Ada")
    assert len(service.get_shipment(shared, "S-1").notes) == 2
