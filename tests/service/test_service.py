import time
from collections.abc import Callable, Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from receiving import service
from receiving.errors import BadRequest, Conflict, ManifestFaults, NotAPhoto, NotFound, StoreError
from receiving.model import CartonPlace, ExpectedCode, Outcome, PhotoReading, Place, Source, Symbol, UnreadRegion
from receiving.reading import Still
from receiving.store import PhotoStatus, Store
from receiving.wording import from_stored
from tests.planned_reader import PlannedReader
from tests.receipts import confirm_with_shorts
from tests.service.conftest import MANIFEST, picture

TRAY_1, TRAY_2, OVER_SSCC = "00395200000000000012", "00395200000000000029", "00395200000000000036"
QUAD = ((1.0, 1.0), (30.0, 1.0), (30.0, 20.0), (1.0, 20.0))


def scan(ctx: service.Context, text: str, *, scan_id: str | None = None) -> service.ScanAnswer:
    return service.add_scan(ctx, "S-1", text, place=Place.DOCK, by="Ada", source=Source.SCANNER, scan_id=scan_id)


def counts(ctx: service.Context) -> tuple[int, int, int]:
    row = service.get_shipment(ctx, "S-1").row
    return row.here, row.missing, row.extra


def test_who_saw_a_carton_first_is_told_also_when_the_clock_went_back(ctx: service.Context) -> None:
    first = scan(ctx, "]C1" + TRAY_1)
    moments = iter(datetime(2026, 3, 1, 12, minute, tzinfo=UTC) for minute in range(59, 0, -1))
    ctx.now = lambda: next(moments)
    second, third = scan(ctx, "]C1" + TRAY_1), scan(ctx, "]C1" + TRAY_1)
    assert [first.earlier, second.earlier and second.earlier.read_id] == [None, first.read_id]
    assert third.earlier is not None
    assert third.earlier.read_id == first.read_id


def test_a_scan_is_answered_with_its_carton_and_bay(ctx: service.Context) -> None:
    answer = scan(ctx, "]C1" + TRAY_1)
    assert (answer.outcome, answer.carton, answer.bay) == (Outcome.MATCHED, "02", "B1")
    assert counts(ctx) == (1, 2, 0)


def test_the_same_scan_sent_twice_counts_once(ctx: service.Context) -> None:
    first = scan(ctx, "]C1" + TRAY_1, scan_id="6f1c2d2e-0000-4000-8000-000000000001")
    again = scan(ctx, "]C1" + TRAY_1, scan_id="6f1c2d2e-0000-4000-8000-000000000001")
    assert first == again
    assert len(service.get_shipment(ctx, "S-1").reads) == 1


def test_a_carton_of_another_store_is_called_by_its_home(ctx: service.Context) -> None:
    answer = scan(ctx, "]C1" + OVER_SSCC)
    assert answer.outcome is Outcome.OVER
    assert "0422" in str(answer.sentence)
    assert counts(ctx) == (0, 3, 1)


def test_an_empty_scan_is_refused_and_nothing_is_stored(ctx: service.Context) -> None:
    with pytest.raises(BadRequest):
        scan(ctx, "   ")
    assert service.get_shipment(ctx, "S-1").reads == ()


def test_an_unknown_shipment_is_named(ctx: service.Context) -> None:
    with pytest.raises(NotFound, match="'S-9'"):
        service.get_shipment(ctx, "S-9")
    with pytest.raises(NotFound, match="'S-9'"):
        service.add_scan(ctx, "S-9", TRAY_1, place=Place.DOCK, by="", source=Source.TYPED)


def test_a_photo_is_kept_at_once_and_read_in_the_background(ctx: service.Context, reader: PlannedReader) -> None:
    reader.readings["a.png"] = PhotoReading(40, 30, (Symbol(TRAY_1, "]C1", QUAD, "zxing", label=1),), advice="Closer.")
    row = service.add_photo(ctx, "S-1", "a.png", picture(), place=Place.OVERHEAD, by="Ada")
    service.finish_photos(ctx)
    view = service.get_photo(ctx, "S-1", row.photo)
    assert (view.row.status, view.row.found, str(view.row.advice)) == ("read", 1, "Closer.")
    assert [read.raw.place for read in view.reads] == [Place.OVERHEAD]
    assert [explained.carton for explained in view.explanations] == ["02"]
    assert TRAY_2 in {code.raw for code in reader.expected}
    assert service.make_photo_jpeg(ctx, "S-1", row.photo)[:2] == b"\xff\xd8"


def test_the_same_photo_twice_is_one_photo_with_one_read(ctx: service.Context, reader: PlannedReader) -> None:
    reader.readings["a.png"] = PhotoReading(40, 30, (Symbol(TRAY_1, "]C1", QUAD, "zxing", label=1),))
    for _ in range(2):
        service.add_photo(ctx, "S-1", "a.png", picture(), place=Place.DOCK, by="Ada")
        service.finish_photos(ctx)
    view = service.get_shipment(ctx, "S-1")
    assert (len(view.photos), len(view.reads)) == (1, 1)


def test_a_photo_that_crashes_the_reader_says_so_and_stays(ctx: service.Context) -> None:
    row = service.add_photo(ctx, "S-1", "bad.png", picture("red"), place=Place.DOCK, by="Ada")
    service.finish_photos(ctx)
    failed = service.get_photo(ctx, "S-1", row.photo).row
    assert failed.status is service.PhotoStatus.FAILED
    assert str(failed.error) == "The photo 'bad.png' made the reader crash. Take it again."
    assert ctx.photos.read(row.photo) == picture("red")


def test_a_photo_that_waited_is_taken_up_at_the_next_start(ctx: service.Context, reader: PlannedReader) -> None:
    reader.readings["a.png"] = PhotoReading(40, 30, ())
    with ctx.store() as store:
        photo = ctx.photos.keep(picture())
        store.add_photo("S-1", photo, name="a.png", added_at=ctx.now(), place=Place.DOCK, by="")
    assert service.resume_photos(ctx) == 1
    service.finish_photos(ctx)
    assert service.get_photo(ctx, "S-1", photo).row.status is service.PhotoStatus.READ


@pytest.mark.parametrize("deed", [lambda path: path.unlink(), lambda path: path.write_bytes(b"x")])
def test_a_waiting_photo_whose_file_is_gone_says_so_and_may_be_sent_again(
    ctx: service.Context, reader: PlannedReader, deed: Callable[[Path], object]
) -> None:
    reader.readings["a.png"] = PhotoReading(40, 30, ())
    with ctx.store() as store:
        photo = ctx.photos.keep(picture())
        store.add_photo("S-1", photo, name="a.png", added_at=ctx.now(), place=Place.DOCK, by="")
    deed(ctx.photos.path(photo))
    service.resume_photos(ctx)
    service.finish_photos(ctx)
    row = service.get_photo(ctx, "S-1", photo).row
    assert row.status is service.PhotoStatus.FAILED
    assert "data folder. Take the photo again" in str(row.error)
    service.add_photo(ctx, "S-1", "a.png", picture(), place=Place.DOCK, by="Ada")
    service.finish_photos(ctx)
    assert service.get_photo(ctx, "S-1", photo).row.status is service.PhotoStatus.READ
    assert service.check(ctx.data).whole


@pytest.mark.parametrize("failures", [2, 9])
def test_a_photo_for_which_there_was_no_memory_is_tried_again_and_then_named(
    ctx: service.Context, reader: PlannedReader, monkeypatch: pytest.MonkeyPatch, failures: int
) -> None:
    monkeypatch.setattr("receiving.service.photo_reading.RETRY_AFTER_S", (0.0, 0.0, 0.0))
    reader.readings["a.png"] = PhotoReading(40, 30, ())
    read, tries = reader.read, []

    def scarce(name: str, data: bytes, expected: Sequence[ExpectedCode] = ()) -> PhotoReading:
        tries.append(name)
        if len(tries) <= failures:
            raise MemoryError
        return read(name, data, expected)

    monkeypatch.setattr(reader, "read", scarce)
    service.add_photo(ctx, "S-1", "a.png", picture(), place=Place.DOCK, by="Ada")
    service.finish_photos(ctx)
    row = service.get_shipment(ctx, "S-1").photos[0]
    if failures < 4:
        assert (row.status, len(tries)) == (PhotoStatus.READ, failures + 1)
    else:
        assert (row.status, len(tries)) == (PhotoStatus.FAILED, 4)
        assert str(row.error).startswith(
            "It could not be read: the service had no memory left, 4 times. The photo is kept"
        )
        tries.clear()
        monkeypatch.setattr(reader, "read", read)
        service.add_photo(ctx, "S-1", "a.png", picture(), place=Place.DOCK, by="Ada")
        service.finish_photos(ctx)
        assert service.get_shipment(ctx, "S-1").photos[0].status is PhotoStatus.READ


def test_while_a_photo_rests_until_it_is_tried_again_the_others_are_read(
    ctx: service.Context, reader: PlannedReader, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("receiving.service.photo_reading.RETRY_AFTER_S", (3600.0,))
    read = reader.read

    def scarce(name: str, data: bytes, expected: Sequence[ExpectedCode] = ()) -> PhotoReading:
        if name == "a.png":
            raise MemoryError
        return read(name, data, expected)

    monkeypatch.setattr(reader, "read", scarce)
    reader.readings["b.png"] = PhotoReading(40, 30, ())
    service.add_photo(ctx, "S-1", "a.png", picture("red"), place=Place.DOCK, by="Ada")
    service.add_photo(ctx, "S-1", "b.png", picture("blue"), place=Place.DOCK, by="Ada")
    ends = time.monotonic() + 20
    while time.monotonic() < ends and service.get_shipment(ctx, "S-1").photos[1].status is PhotoStatus.WAITING:
        time.sleep(0.01)
    first, second = service.get_shipment(ctx, "S-1").photos
    assert (first.status, second.status) == (PhotoStatus.WAITING, PhotoStatus.READ)
    ctx.close()
    service.finish_photos(ctx)  # nobody waits for what is not tried any more


def test_a_photo_of_which_nothing_can_be_stored_is_tried_until_something_can(
    ctx: service.Context, reader: PlannedReader, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("receiving.service.photo_reading.RETRY_AFTER_S", (0.0,))
    reader.readings["a.png"] = PhotoReading(40, 30, ())
    finish, full = Store.finish_photo, [0]

    def no_room(store: Store, *values: object) -> None:
        full[0] += 1
        if full[0] <= 7:
            raise StoreError("The disk is full.", next_step="Make room.")
        finish(store, *values)  # type: ignore[arg-type]

    def no_room_either(store: Store, *values: object) -> None:
        raise StoreError("The disk is full.", next_step="Make room.")

    monkeypatch.setattr(Store, "finish_photo", no_room)
    monkeypatch.setattr(Store, "fail_photo", no_room_either)
    service.add_photo(ctx, "S-1", "a.png", picture(), place=Place.DOCK, by="Ada")
    service.finish_photos(ctx)
    assert service.get_shipment(ctx, "S-1").photos[0].status is PhotoStatus.READ


def test_photos_are_listed_as_they_came_in_whatever_the_clock_said(
    ctx: service.Context, reader: PlannedReader, monkeypatch: pytest.MonkeyPatch
) -> None:
    now = ctx.now()
    for n, colour in enumerate(("red", "blue", "green", "white")):
        reader.readings[f"{colour}.png"] = PhotoReading(40, 30, ())
        ctx.now = lambda n=n: now - timedelta(minutes=5 * n)  # type: ignore[misc]
        service.add_photo(ctx, "S-1", f"{colour}.png", picture(colour), place=Place.DOCK, by="Ada")
    service.finish_photos(ctx)
    assert [row.name for row in service.get_shipment(ctx, "S-1").photos] == [
        *("red.png", "blue.png", "green.png", "white.png")
    ]


def test_bytes_that_are_no_photo_are_refused_at_the_door(ctx: service.Context) -> None:
    with pytest.raises(NotAPhoto, match=r"'notes\.txt'"):
        service.add_photo(ctx, "S-1", "notes.txt", b"hello", place=Place.DOCK, by="")
    assert service.get_shipment(ctx, "S-1").photos == ()


def test_the_version_moves_with_every_scan_and_stands_still_otherwise(ctx: service.Context) -> None:
    before = service.get_version(ctx, "S-1")
    assert service.get_version(ctx, "S-1") == before
    scan(ctx, "]C1" + TRAY_1)
    assert service.get_version(ctx, "S-1") != before


def test_importing_the_same_manifest_again_changes_nothing(ctx: service.Context) -> None:
    results = service.import_manifest(ctx, "again.csv", MANIFEST.encode())
    assert [(r.shipment, r.status, r.revision) for r in results] == [("S-1", "unchanged", 1), ("S-2", "unchanged", 1)]


def test_a_changed_manifest_is_a_new_revision_that_keeps_the_reads_and_says_what_changed(ctx: service.Context) -> None:
    scan(ctx, "]C1" + TRAY_1)
    changed = MANIFEST.replace(
        "S-1,0417,03,395200000000000029,tray,Harbor,2,1", "S-1,0417,03,395200000000000029,tray,Harbor,2,2"
    )
    preview = service.preview_import(ctx, "m2.csv", changed.encode())
    assert [(m.shipment, m.status) for m in preview.manifests] == [("S-1", "changed"), ("S-2", "unchanged")]
    assert service.get_shipment(ctx, "S-1").revision == 1
    service.import_manifest(ctx, "m2.csv", changed.encode())
    view = service.get_shipment(ctx, "S-1")
    assert (view.revision, view.row.here) == (2, 1)
    assert any("03" in str(from_stored(change)) for change in view.revisions[-1].changes)


def test_a_revision_is_undone_by_restoring_the_one_before(ctx: service.Context) -> None:
    service.import_manifest(ctx, "m2.csv", MANIFEST.replace("tray,Harbor,2,1", "tray,Harbor,2,2").encode())
    restored = service.restore_revision(ctx, "S-1", 1)
    assert (restored.status, restored.revision) == ("changed", 3)
    view = service.get_shipment(ctx, "S-1")
    assert view.manifest == view.revisions[0].manifest


def test_a_faulty_manifest_loads_nothing(ctx: service.Context) -> None:
    faulty = MANIFEST.replace("S-2,", "S-3,").replace("395200000000000036", "395200000000000035")
    with pytest.raises(ManifestFaults):
        service.import_manifest(ctx, "bad.csv", faulty.encode())
    assert [row.shipment for row in service.list_shipments(ctx)] == ["S-1", "S-2"]


def test_a_note_is_checked_against_the_shipment(ctx: service.Context) -> None:
    note = service.add_note(ctx, "S-1", "carton_place", by="Ada", carton="02", place="overhead")
    assert isinstance(note, CartonPlace)
    assert note.place is Place.OVERHEAD
    for kind, fields, message in (
        ("carton_place", {"carton": "77", "place": "dock"}, "Carton '77' is not on the manifest"),
        ("carton_place", {"carton": "02", "place": "moon"}, "This note cannot be kept"),
        ("read_rejected", {"read_id": "none"}, "There is no read 'none'"),
        ("note_withdrawn", {"withdrawn": "none"}, "There is no note 'none' to undo"),
        ("shrug", {}, "There is no note of the kind 'shrug'"),
    ):
        with pytest.raises(BadRequest, match=message):
            service.add_note(ctx, "S-1", kind, by="Ada", **fields)
    assert len(service.get_shipment(ctx, "S-1").notes) == 1


def test_a_wrong_read_is_rejected_and_the_rejection_undone(ctx: service.Context) -> None:
    read_id = scan(ctx, "]C1" + TRAY_1).read_id
    note = service.add_note(ctx, "S-1", "read_rejected", by="Ada", read_id=read_id)
    assert counts(ctx)[0] == 0
    service.add_note(ctx, "S-1", "note_withdrawn", by="Ada", withdrawn=note.note_id)
    assert counts(ctx)[0] == 1


def test_the_store_confirms_exactly_what_was_shown(ctx: service.Context) -> None:
    scan(ctx, "]C1" + TRAY_1)
    shown = service.show_receipt(ctx, "S-1")
    receipt = confirm_with_shorts(ctx, "S-1", digest=shown.digest, name=" Grace ")
    assert (receipt.number, receipt.name, receipt.asked) == (1, "Grace", shown.digest)
    assert [(line.state, line.words) for line in receipt.shown.lines] == [(e.state, e.words) for e in shown.lines]
    scan(ctx, "]C1" + TRAY_2)
    assert service.get_receipt(ctx, "S-1", 1) == receipt
    assert service.make_receipt_pdf(ctx, "S-1", 1).startswith(b"%PDF")


def test_what_changed_since_it_was_shown_must_be_looked_at_again(ctx: service.Context) -> None:
    shown = service.show_receipt(ctx, "S-1")
    scan(ctx, "]C1" + TRAY_1)
    with pytest.raises(Conflict, match="has changed since these counts were shown"):
        confirm_with_shorts(ctx, "S-1", digest=shown.digest)
    assert service.get_shipment(ctx, "S-1").receipts == ()


def test_exceptions_are_confirmed_only_as_exceptions(ctx: service.Context) -> None:
    shown = service.show_receipt(ctx, "S-1")
    with pytest.raises(BadRequest, match="There are exceptions on this receipt"):
        service.confirm(ctx, "S-1", shown.digest, name="Grace", role="Manager")
    with pytest.raises(BadRequest, match="The name is empty"):
        confirm_with_shorts(ctx, "S-1", digest=shown.digest, name=" ")


def test_the_coordinator_sees_the_short_shipment_with_the_nearest_visit_first(ctx: service.Context) -> None:
    rows = service.get_overview(ctx)
    assert [(r.row.shipment, r.days_to_visit) for r in rows] == [("S-1", 7), ("S-2", 18)]
    assert service.make_overview_csv(ctx).splitlines()[1].startswith("S-1,0417,2026-03-09,7,3,0,0,3,0")


def test_an_empty_data_folder_is_made(tmp_path: Path, reader: PlannedReader) -> None:
    with service.Context(tmp_path / "new" / "folder", reader) as ctx:
        assert service.list_shipments(ctx) == ()


def test_the_plan_goes_on_paper_and_a_change_says_what_it_costs(ctx: service.Context) -> None:
    scan(ctx, "]C1" + TRAY_1)
    assert service.make_plan_pdf(ctx, "S-1").startswith(b"%PDF")
    cost = service.work_out_change_cost(ctx, "S-1", "02", trip="2", by="Ada").cost
    assert str(cost.words).startswith("This change costs")
    with pytest.raises(BadRequest, match="Carton '77' is not on the manifest"):
        service.work_out_change_cost(ctx, "S-1", "77", trip="2", by="Ada")
    assert service.get_shipment(ctx, "S-1").notes == ()


def test_a_video_becomes_pictures_with_its_labels(ctx: service.Context, reader: PlannedReader) -> None:
    reader.stills = tuple(
        Still(picture(colour), PhotoReading(40, 30, (Symbol(raw, "]C1", QUAD, "zxing", label=1),)))
        for colour, raw in (("red", TRAY_1), ("blue", TRAY_2))
    )
    video = b"\x00\x00\x00\x20ftypisom" + bytes(64)
    row = service.add_photo(ctx, "S-1", "pan.mp4", video, place=Place.DOCK, by="Ada")
    service.finish_photos(ctx)
    view = service.get_shipment(ctx, "S-1")
    assert counts(ctx) == (2, 1, 0)
    assert sorted(photo.name for photo in view.photos) == ["pan.mp4", "pan.mp4, picture 1", "pan.mp4, picture 2"]
    assert str(service.get_photo(ctx, "S-1", row.photo).row.advice).startswith("A video: 2 codes on 2 of its pictures")
    assert service.make_photo_jpeg(ctx, "S-1", row.photo)[:2] == b"\xff\xd8"


def test_print_around_an_unread_label_is_suggested_and_not_believed(
    ctx: service.Context, reader: PlannedReader
) -> None:
    reader.readings["torn.png"] = PhotoReading(40, 30, (), unread=(UnreadRegion(QUAD),))
    reader.print = ("(00) 3952000000000O00 12",)
    row = service.add_photo(ctx, "S-1", "torn.png", picture(), place=Place.DOCK, by="Ada")
    service.finish_photos(ctx)
    (best, *_) = service.read_print(ctx, "S-1", row.photo).suggestions
    assert (best.carton, best.text) == ("02", "395200000000000012")
    assert counts(ctx) == (0, 3, 0)
    assert scan(ctx, best.text).carton == "02"


@pytest.mark.parametrize(
    ("fields", "field"),
    [
        ({"qty": "1e9"}, "qty"),
        ({"qty": "many"}, "qty"),
        ({"column": "-1"}, "column"),
        ({"remark": "x" * 2001}, "remark"),
    ],
)
def test_a_note_that_cannot_be_kept_names_the_field(ctx: service.Context, fields: dict[str, str], field: str) -> None:
    given = {"carton": "02", "reason": "arrived_damaged", "usable": "false", **fields}
    with pytest.raises(BadRequest) as fault:
        service.add_note(ctx, "S-1", "damage_noted", by="Ada", **given)
    assert fault.value.field == field
