"""The PDF and the ZIP of a receipt prove themselves as whole files: whatever byte is changed is found."""

import io
import json
import random
import subprocess
import zipfile
from pathlib import Path

import pypdfium2 as pdfium
import pytest

from receiving import service
from receiving.closing import Flaw
from receiving.errors import BadRequest, ReceivingError
from receiving.model import Place
from tests.service.conftest import picture
from tests.service.test_records import SIGNED, alter, confirm, flaws, scan

KINDS = ("pdf", "zip")


def issued(ctx: service.Context, kind: str) -> bytes:
    """The PDF or ZIP of a receipt with one carton here, a damage photo and a finger's signature."""
    scan(ctx, "]C100395200000000000012")
    photo = service.add_photo(ctx, "S-1", "bent.png", picture("red"), place=Place.DOCK, by="Ada").photo
    service.add_note(
        ctx, "S-1", "damage_noted", by="Ada", carton="02", reason="arrived_damaged", usable="false", photo=photo
    )
    number = confirm(ctx, signature=SIGNED)
    make = service.make_receipt_pdf if kind == "pdf" else service.make_receipt_zip
    return make(ctx, "S-1", number)


def is_found(name: str, data: bytes) -> bool:
    try:
        return not service.verify_file(name, data).sound
    except BadRequest:
        return True


@pytest.mark.parametrize("kind", KINDS)
def test_it_is_sound_alone_and_against_the_store_and_the_same_each_time(ctx: service.Context, kind: str) -> None:
    data = issued(ctx, kind)
    alone = service.verify_file(f"r.{kind}", data)
    assert alone.sound and (alone.shipment, alone.number, alone.file_key) == ("S-1", 1, alone.key) and alone.key
    assert service.verify_against(ctx, f"r.{kind}", data).sound
    make = service.make_receipt_pdf if kind == "pdf" else service.make_receipt_zip
    assert make(ctx, "S-1", 1) == data


@pytest.mark.parametrize("kind", KINDS)
def test_no_flipped_bit_goes_unseen(ctx: service.Context, kind: str) -> None:
    """Seeded; `tests/bench/changed_files.py` takes every byte of each kind of file."""
    data, chance = issued(ctx, kind), random.Random(18)
    end = data.rfind(b"PK\x05\x06" if kind == "zip" else b"startxref")
    places = {
        0,
        5,
        len(data) - 1,
        *range(end, min(end + 24, len(data))),
        *(chance.randrange(len(data)) for _ in range(400)),
    }
    places |= set(range(data.index(b"receiving-file/1"), data.index(b"receiving-file/1") + 60))
    for place in places:
        changed = bytearray(data)
        changed[place] ^= 1 << chance.randrange(8)
        assert is_found("r", bytes(changed)), place


@pytest.mark.parametrize("kind", KINDS)
def test_what_is_cut_added_or_moved_is_found(ctx: service.Context, kind: str) -> None:
    data, mark = issued(ctx, kind), b"%receiving-file/1 "
    first = data.index(mark)
    for changed in (
        data[:-1],
        data[: len(data) // 2],
        data + b"\n",
        b"\n" + data,
        data + b"startxref\n9\n%%EOF\n",
        data + data,
        data[:first] + data[first + data[first:].index(b"\n") + 1 :],
        data[:first] + mark + b"\n" + data[first:],
        data.replace(mark, b"%receiving-file/2 "),
    ):
        assert is_found("r", changed)


def test_a_changed_page_of_a_pdf_is_found_though_its_record_is_sound(ctx: service.Context) -> None:
    data = issued(ctx, "pdf")
    changed = data.replace(b"/MediaBox [ 0 0 595", b"/MediaBox [ 0 0 495")
    assert changed != data
    verdict = service.verify_file("r.pdf", changed)
    (finding,) = verdict.findings
    assert finding.flaw is Flaw.FILE_CHANGED and finding.first is not None and finding.last is not None
    assert finding.first <= data.index(b"/MediaBox [ 0 0 595") + 16 <= finding.last


def test_the_member_of_a_zip_that_was_changed_is_named(ctx: service.Context) -> None:
    data = issued(ctx, "zip")
    names = zipfile.ZipFile(io.BytesIO(data)).namelist()
    assert names[:4] == ["record.json", "receipt.csv", "receipt.json", "receipt.pdf"] and names[4].startswith("photos/")
    for name in names:
        content = zipfile.ZipFile(io.BytesIO(data)).read(name)
        place = data.index(content) + len(content) // 2
        changed = data[:place] + bytes([data[place] ^ 1]) + data[place + 1 :]
        assert name in {each.what for each in service.verify_file("r.zip", changed).findings}, name


@pytest.mark.parametrize("kind", KINDS)
def test_a_change_that_makes_the_record_inside_unreadable_is_placed_too(ctx: service.Context, kind: str) -> None:
    data = issued(ctx, kind)
    place = data.index(b'"format": "receiving-record')
    changed = data[:place] + b"[" + data[place + 1 :]
    for verdict in (service.verify_file("r", changed), service.verify_against(ctx, "r", changed)):
        assert (verdict.shipment, verdict.number, verdict.sound) == ("S-1", 1, False)
        whole, part = verdict.findings
        assert whole.first is not None and whole.last is not None and whole.first <= place <= whole.last
        assert (whole.flaw, part.flaw, part.what) == (Flaw.FILE_CHANGED, Flaw.PART_CHANGED, "record.json")


def test_a_file_with_another_seal_than_its_own_key_is_found(ctx: service.Context) -> None:
    """Whoever seals a changed file anew with his own key is found by the key."""
    from receiving.closing import make_key, seal_zip

    data = issued(ctx, "zip")
    members = {name: zipfile.ZipFile(io.BytesIO(data)).read(name) for name in ("record.json", "receipt.csv")}
    members["receipt.csv"] = members["receipt.csv"].replace(b"short", b"recvd")
    _, private, _ = make_key()
    forged = seal_zip(members, shipment="S-1", number=1, private_hex=private)
    (own,) = service.list_signing_keys(ctx)
    assert service.verify_file("r.zip", data, key=own.public_key).sound
    assert service.verify_file("r.zip", data, key=own.key.upper()).sound
    assert service.verify_file("r.zip", forged).sound, "by itself it only shows that one key sealed all of it"
    assert flaws(service.verify_file("r.zip", forged, key=own.public_key)) == {Flaw.OTHER_KEY}
    assert flaws(service.verify_against(ctx, "r.zip", forged)) == {Flaw.UNKNOWN_KEY}


def test_a_record_of_another_receipt_in_a_sealed_file_is_found(ctx: service.Context) -> None:
    from receiving.closing import seal_zip

    data = issued(ctx, "zip")
    (own,) = service.list_signing_keys(ctx)
    members = {"record.json": zipfile.ZipFile(io.BytesIO(data)).read("record.json")}
    other = seal_zip(members, shipment="S-1", number=2, private_hex=own.private_key)
    assert flaws(service.verify_file("r.zip", other)) == {Flaw.PART_CHANGED}


@pytest.mark.parametrize("kind", KINDS)
def test_files_of_a_retired_key_stay_proved(ctx: service.Context, kind: str) -> None:
    data = issued(ctx, kind)
    service.rotate_key(ctx)
    assert service.verify_against(ctx, "r", data).sound
    later = service.make_receipt_pdf(ctx, "S-1", 1) if kind == "pdf" else service.make_receipt_zip(ctx, "S-1", 1)
    verdict = service.verify_against(ctx, "r", later)
    assert verdict.sound and verdict.file_key != verdict.key


@pytest.mark.parametrize("kind", KINDS)
def test_a_row_changed_by_hand_is_found_with_the_file_that_was_given(ctx: service.Context, kind: str) -> None:
    data = issued(ctx, kind)
    alter(ctx, "UPDATE receipts SET receipt = replace(receipt, 'Ida Berg', 'Eva Berg')")
    found = service.verify_against(ctx, "r", data)
    assert Flaw.NOT_AS_STORED in flaws(found)


def test_readers_of_other_makers_open_both_and_find_the_record(ctx: service.Context, tmp_path: Path) -> None:
    """pdfium (BSD) and Python's zipfile; poppler's pdfdetach where it is installed."""
    data = issued(ctx, "pdf")
    record = service.get_record_file(ctx, "S-1", 1).encode()
    document = pdfium.PdfDocument(data)
    assert len(document) == 1 and document.count_attachments() == 1
    inside = document.get_attachment(0)
    assert (inside.get_name(), bytes(inside.get_data())) == ("record.json", record)
    assert b"/AFRelationship /Source" in data  # what the page was made from (ISO 32000-2, 7.11.3, table 43)
    archive = zipfile.ZipFile(io.BytesIO(service.make_receipt_zip(ctx, "S-1", 1)))
    assert archive.testzip() is None and archive.read("record.json") == record
    assert json.loads(archive.read("receipt.json"))["name"] == "Ida Berg"
    assert archive.read("receipt.pdf") == data and service.verify_file("r.pdf", archive.read("receipt.pdf")).sound
    (tmp_path / "r.pdf").write_bytes(data)
    try:
        listed = subprocess.run(["pdfdetach", "-list", tmp_path / "r.pdf"], capture_output=True, text=True, check=True)
    except FileNotFoundError:
        return
    assert "1: record.json" in listed.stdout and not listed.stderr


def test_no_photo_in_a_zip_tells_where_it_was_taken(ctx: service.Context) -> None:
    """The photos are those that pages show: drawn anew, without what the camera wrote beside them."""
    from PIL import Image

    archive = zipfile.ZipFile(io.BytesIO(issued(ctx, "zip")))
    for name in archive.namelist()[4:]:
        assert not dict(Image.open(io.BytesIO(archive.read(name))).getexif())


def test_a_pdf_of_another_maker_is_refused_with_what_to_do() -> None:
    for data in (b"%PDF-1.4\nstartxref\n0\n%%EOF\n", b"PK\x03\x04rubbish", b"%PDF-"):
        with pytest.raises(ReceivingError) as refused:
            service.verify_file("other.pdf", data)
        assert "has no seal of this service" in str(refused.value.message)


def test_a_receipt_in_letters_that_no_font_here_has_is_a_zip_without_its_pdf(ctx: service.Context) -> None:
    scan(ctx, "]C100395200000000000012")
    shown = service.show_receipt(ctx, "S-1")
    answers = {
        "name": "मीरा",
        "role": "Manager",
        "with_exceptions": True,
        "missing": service.MissingAnswer(searched=True),
    }
    number = service.confirm(ctx, "S-1", shown.digest, **answers).number
    data = service.make_receipt_zip(ctx, "S-1", number)
    assert zipfile.ZipFile(io.BytesIO(data)).namelist() == ["record.json", "receipt.csv", "receipt.json"]
    assert service.verify_file("r.zip", data).sound
