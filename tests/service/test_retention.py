"""Photos go by rule and names when they must; receipts can still be verified, and what is gone is named."""

import json
from datetime import timedelta
from io import BytesIO

import pytest
from PIL import Image

from receiving import service
from receiving.errors import BadRequest, Conflict, NotFound
from receiving.model import Place, Role, Source
from receiving.service import Flaw
from receiving.store.records import to_text
from tests.service.conftest import LAYOUT, MANIFEST, Clock, picture
from tests.service.test_records import SIGNED, alter, confirm, flaws, scan

WORDS = "four plain words here"


@pytest.fixture
def ctx(timed: service.Context) -> service.Context:
    return timed


@pytest.fixture
def signed(ctx: service.Context) -> bytes:
    """Two receipts with reads and a damage photo by Ada, confirmed by Ida Berg; the first as a file."""
    scan(ctx, "]C100395200000000000012")
    photo = service.add_photo(ctx, "S-1", "bent.png", picture("red"), place=Place.DOCK, by="Ada").photo
    service.add_note(
        ctx, "S-1", "damage_noted", by="Ada", carton="02", reason="arrived_damaged", usable="false", photo=photo
    )
    first = service.get_record_file(ctx, "S-1", confirm(ctx, signature=SIGNED, taken_by="Ada")).encode()
    scan(ctx, "]C100395200000000000029")
    confirm(ctx)
    return first


def everything(ctx: service.Context) -> bytes:
    return b"".join(path.read_bytes() for path in ctx.data.rglob("*") if path.is_file())


def test_a_name_is_out_of_everything_that_is_stored_and_receipts_stay_proved(
    ctx: service.Context, signed: bytes
) -> None:
    assert b"Ida Berg" in everything(ctx)
    would = service.erase_name(ctx, "Ida Berg", dry_run=True)
    notes = sum(
        note.by == "Ida Berg" for note in service.get_shipment(ctx, "S-1").notes
    )  # she looked for what is missing
    assert would.rows == {"receipts": 2, "notes": notes} and notes and would.receipts == 2
    assert service.get_receipt(ctx, "S-1", 1).name == "Ida Berg"
    service.erase_name(ctx, "Ida Berg")
    assert b"Ida Berg" not in everything(ctx)
    receipt = service.get_receipt(ctx, "S-1", 1)
    assert receipt.name.startswith("[name erased on ") and receipt.signature is None
    assert receipt.taken_by == "Ada"
    assert all(verdict.sound for verdict in service.verify_shipment(ctx, "S-1"))
    assert service.check(ctx.data).whole, service.check(ctx.data).damages


def test_a_file_with_the_name_still_proves_itself_and_is_compared_with_what_is_left(
    ctx: service.Context, signed: bytes
) -> None:
    service.erase_name(ctx, "Ida Berg")
    assert service.verify_file("r.json", signed).sound
    against = service.verify_against(ctx, "r.json", signed)
    assert against.sound and against.erased_on
    fresh = service.get_record_file(ctx, "S-1", 1).encode()
    assert service.verify_against(ctx, "r.json", fresh).sound
    alter(ctx, "UPDATE receipts SET receipt = replace(receipt, 'Manager', 'Monarch') WHERE number = 1")
    assert Flaw.NOT_AS_STORED in flaws(service.verify_against(ctx, "r.json", signed))


def test_a_name_in_reads_and_notes_goes_with_the_chain_still_whole(ctx: service.Context, signed: bytes) -> None:
    service.erase_name(ctx, "Ada")
    view = service.get_shipment(ctx, "S-1")
    assert {note.by for note in view.notes} == {f"[name erased on {ctx.now().date().isoformat()}]", "Ida Berg"}
    assert all(verdict.sound for verdict in service.verify_shipment(ctx, "S-1"))
    alter(ctx, "UPDATE reads SET read = replace(read, 'scanner', 'typed') WHERE seq = 1")
    assert Flaw.EVIDENCE_CHANGED in flaws(service.verify_shipment(ctx, "S-1")[0])


def test_a_receipt_of_an_earlier_version_stays_as_it_was_but_for_the_name(
    ctx: service.Context, monkeypatch: pytest.MonkeyPatch
) -> None:
    def stored_before(value: object) -> str:
        """A receipt as versions stored it that knew neither its language nor what its lines were made of."""
        plain = json.loads(to_text(value))
        for line in plain["shown"]["lines"]:
            del line["said"]
        return json.dumps(
            {n: v for n, v in plain.items() if n != "language"}, separators=(",", ":"), ensure_ascii=False
        )

    scan(ctx, "]C100395200000000000012")
    with monkeypatch.context() as patched:
        patched.setattr("receiving.store.papers.to_text", stored_before)
        confirm(ctx, signature=SIGNED)
    with_name = service.get_record_file(ctx, "S-1", 1).encode()
    assert b"said" not in with_name
    service.erase_name(ctx, "Ida Berg")
    against = service.verify_against(ctx, "r.json", with_name)
    assert against.sound and against.erased_on
    assert b"said" not in service.get_record_file(ctx, "S-1", 1).encode()


def test_a_name_goes_from_names_of_files_typed_texts_and_tokens_too(ctx: service.Context, signed: bytes) -> None:
    name = "Ana Ruiz"
    service.add_photo(ctx, "S-1", f"pile of {name}.png", picture("blue"), place=Place.DOCK, by="Ada")
    service.add_scan(ctx, "S-1", name, place=Place.DOCK, by="Ada", source=Source.TYPED)
    service.import_manifest(ctx, f"{name}.csv", MANIFEST.replace("T-2", "T-9").encode())
    service.make_api_token(ctx, f"till of {name}", ["read"], by="Ada")
    service.import_layout(ctx, f"{name}.toml", LAYOUT.encode())
    confirm(ctx)
    service.finish_photos(ctx)
    assert name.encode() in everything(ctx)
    service.erase_name(ctx, name)
    assert name.encode() not in everything(ctx)
    assert service.check(ctx.data).whole, service.check(ctx.data).damages
    assert all(verdict.sound for verdict in service.verify_shipment(ctx, "S-1"))


def test_rows_are_append_only_again_after_a_name_was_erased(ctx: service.Context, signed: bytes) -> None:
    service.erase_name(ctx, "Ada")
    report = service.check(ctx.data)
    assert report.whole, report.damages


def test_nothing_of_a_record_that_was_changed_is_sealed_anew(ctx: service.Context, signed: bytes) -> None:
    alter(ctx, "UPDATE receipts SET receipt = replace(receipt, 'Manager', 'Monarch') WHERE number = 1")
    with pytest.raises(Conflict, match="not as it was sealed"):
        service.erase_name(ctx, "Ida Berg")
    assert b"Ida Berg" in everything(ctx)


def test_an_account_is_closed_before_its_name_goes_and_opens_nothing_after(ctx: service.Context, signed: bytes) -> None:
    service.add_person(ctx, "Ada Lund", Role.COORDINATOR, WORDS)
    berg = service.add_person(ctx, "Ida Berg", Role.STORE_MANAGER, WORDS)
    with pytest.raises(Conflict, match="is open"):
        service.erase_name(ctx, "Ida Berg")
    service.close_account(ctx, berg.person_id)
    service.erase_name(ctx, "Ida Berg")
    (left,) = [each for each in service.list_people(ctx) if each.person_id == berg.person_id]
    assert "name erased on" in left.name
    service.open_account(ctx, berg.person_id)
    with pytest.raises(service.SignInRefused):
        service.sign_in(ctx, left.name, WORDS, address="192.0.2.7")


def test_a_name_that_stands_nowhere_or_for_too_much_is_refused(ctx: service.Context, signed: bytes) -> None:
    with pytest.raises(NotFound, match="is nowhere here"):
        service.erase_name(ctx, "Nobody Here")
    for short in ("", "A", "12", "--- "):
        with pytest.raises(BadRequest, match="too short"):
            service.erase_name(ctx, short)
    service.erase_name(ctx, "Ida Berg")
    assert "Idaho" not in service.erase_name(ctx, "Ada", dry_run=True).rows


def test_a_part_of_another_word_is_not_a_name(ctx: service.Context, signed: bytes) -> None:
    scan_by = service.add_scan(
        ctx, "S-1", "]C100395200000000000012", place=Place.DOCK, by="Adaline", source=Source.SCANNER
    )
    assert scan_by
    service.erase_name(ctx, "Ada")
    assert b"Adaline" in everything(ctx)


def test_old_photos_go_by_rule_and_what_they_gave_stays(ctx: service.Context, signed: bytes, clock: Clock) -> None:
    plain = service.add_photo(ctx, "S-1", "pile.png", picture("blue"), place=Place.DOCK, by="Ada").photo
    service.finish_photos(ctx)
    reads = len(service.get_shipment(ctx, "S-1").photos)
    clock.forward(timedelta(days=400))
    would = service.prune_photos(ctx, days=365, dry_run=True)
    assert would.photos == (plain,) and would.kept == 1 and would.size_bytes > 0
    assert ctx.photos.is_sound(plain)
    service.prune_photos(ctx, days=365)
    assert not ctx.photos.path(plain).exists()
    with pytest.raises(NotFound, match="taken out by the rule"):
        service.make_photo_jpeg(ctx, "S-1", plain)
    assert len(service.get_shipment(ctx, "S-1").photos) == reads
    assert service.check(ctx.data).whole
    assert service.prune_photos(ctx, days=365).photos == ()
    service.prune_photos(ctx, days=365, with_receipts=True)
    assert all(verdict.sound for verdict in service.verify_shipment(ctx, "S-1"))
    again = service.add_photo(ctx, "S-1", "pile.png", picture("blue"), place=Place.DOCK, by="Ada").photo
    assert again == plain and ctx.photos.is_sound(plain) and service.make_photo_jpeg(ctx, "S-1", plain)


def test_photos_that_are_in_use_stay_and_a_rule_comes_from_the_settings(
    ctx: service.Context, signed: bytes, clock: Clock
) -> None:
    for days in (0, 5):
        with pytest.raises(BadRequest):
            service.prune_photos(ctx, days=days)
    with pytest.raises(BadRequest, match="No rule is set"):
        service.prune_photos(ctx)
    service.finish_photos(ctx)
    service.save_settings(ctx, service.Settings(photo_days=365))
    assert service.prune_photos(ctx).photos == ()
    clock.forward(timedelta(days=400))
    assert service.prune_photos(ctx, with_receipts=True).photos


def test_what_a_camera_wrote_of_the_place_is_in_nothing_that_is_shown(ctx: service.Context) -> None:
    exif = Image.Exif()
    exif[0x010F] = "LumoCam"
    exif[0x8825] = {1: "N", 2: (52.0, 31.0, 12.0), 3: "E", 4: (13.0, 24.0, 18.0)}
    out = BytesIO()
    Image.new("RGB", (640, 480), "green").save(out, "JPEG", exif=exif, comment=b"by Ada")
    assert Image.open(BytesIO(out.getvalue())).getexif().get_ifd(0x8825)
    photo = service.add_photo(ctx, "S-1", "p.jpg", out.getvalue(), place=Place.DOCK, by="Ada").photo
    shown = Image.open(BytesIO(service.make_photo_jpeg(ctx, "S-1", photo)))
    assert not dict(shown.getexif()) and "comment" not in shown.info and b"LumoCam" not in shown.tobytes()
    record = json.loads(service.get_record_file(ctx, "S-1", confirm(ctx)))
    assert "LumoCam" not in json.dumps(record)
