"""A sealed receipt proves itself: alone, against the store, and in a chain; every change is found and placed.

Messages out by a folder: each is written once and whole, read back by readers that are not ours.
"""

import errno
import json
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
import x12
from pydifact.segmentcollection import Interchange

from receiving import service
from receiving.cli import run
from receiving.errors import BadRequest, NotFound, StoreError
from receiving.model import Place, Receipt, Source
from receiving.service import Flaw, MessageFolder
from receiving.store.records import from_text
from tests.closing.test_receiving_advice import NO_DIRECTORY
from tests.receipts import confirm_with_shorts
from tests.service.conftest import picture

FIRST = Path(__file__).with_name("first_receipt")

SIGNED = json.dumps({"height": 300, "strokes": [[[10, 20], [400, 250]], [[500, 10]]]})


def confirm(ctx: service.Context, shipment: str = "S-1", **more: str) -> int:
    return confirm_with_shorts(ctx, shipment, name="Ida Berg", **more).number


def scan(ctx: service.Context, text: str) -> None:
    service.add_scan(ctx, "S-1", text, place=Place.DOCK, by="Ada", source=Source.SCANNER)


@pytest.fixture
def record(ctx: service.Context) -> bytes:
    """The record of a receipt with one carton here, a damage photo and a finger's signature."""
    scan(ctx, "]C100395200000000000012")
    photo = service.add_photo(ctx, "S-1", "bent.png", picture("red"), place=Place.DOCK, by="Ada").photo
    service.add_note(
        ctx, "S-1", "damage_noted", by="Ada", carton="02", reason="arrived_damaged", usable="false", photo=photo
    )
    return service.get_record_file(ctx, "S-1", confirm(ctx, signature=SIGNED)).encode()


def flaws(verdict: service.Verdict) -> set[Flaw]:
    return {finding.flaw for finding in verdict.findings}


def alter(ctx: service.Context, statement: str, *values: object) -> None:
    """Change a row by hand, as someone who holds the database file can."""
    with closing(sqlite3.connect(ctx.data / "receiving.sqlite")) as db, db:
        for (trigger,) in db.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
            db.execute(f"DROP TRIGGER {trigger}")
        assert db.execute(statement, values).rowcount == 1


def test_a_record_is_sound_alone_and_against_the_store(ctx: service.Context, record: bytes) -> None:
    assert service.verify_file("r.json", record).sound
    against = service.verify_against(ctx, "r.json", record)
    assert against.sound and against.against_store


def test_a_name_stands_in_a_record_as_it_was_written(ctx: service.Context) -> None:
    scan(ctx, "]C100395200000000000012")
    shown = service.show_receipt(ctx, "S-1")
    answers = {"name": "Zoë Łuczak", "role": "Führung", "with_exceptions": True}
    number = service.confirm(ctx, "S-1", shown.digest, missing=service.MissingAnswer(searched=True), **answers).number
    text = service.get_record_file(ctx, "S-1", number)
    assert "Zoë Łuczak" in text and "Führung" in text
    assert service.verify_file("r.json", text.encode()).sound


def test_every_changed_byte_is_found_and_placed(record: bytes) -> None:
    whole = json.loads(record)
    text = whole["receipt"]
    for place in range(0, len(text), 37):
        other = "~" if text[place] != "~" else "!"
        whole["receipt"] = text[:place] + other + text[place + 1 :]
        verdict = service.verify_file("r.json", json.dumps(whole).encode())
        (finding,) = verdict.findings
        at = len(text[:place].encode())
        assert finding.flaw is Flaw.TEXT_CHANGED
        assert finding.first is not None and finding.last is not None
        assert finding.first <= at <= finding.last and finding.last - finding.first < 256


@pytest.mark.parametrize("cut", [0, 1, -1])
def test_what_is_cut_off_or_added_is_found(record: bytes, cut: int) -> None:
    whole = json.loads(record)
    whole["receipt"] = {0: whole["receipt"] + " ", 1: whole["receipt"][1:], -1: whole["receipt"][:-1]}[cut]
    assert flaws(service.verify_file("r.json", json.dumps(whole).encode())) == {Flaw.TEXT_CHANGED}


def test_a_header_that_was_made_to_fit_is_found(record: bytes) -> None:
    whole = json.loads(record)
    whole["header"] = whole["header"].replace('"number":1', '"number":7')
    assert flaws(service.verify_file("r.json", json.dumps(whole).encode())) == {Flaw.HEADER_CHANGED}


def test_a_record_sealed_with_a_strangers_key_is_found_against_the_store(ctx: service.Context, record: bytes) -> None:
    from datetime import UTC, datetime

    from receiving.closing import make_key, seal, write_record
    from receiving.model import SealedRecord

    text = json.loads(record)["receipt"].replace("Ida Berg", "Eve Moss")
    _, private, _ = make_key()
    forged = seal(
        text,
        shipment="S-1",
        number=1,
        sealed_at=datetime(2026, 3, 2, tzinfo=UTC),
        previous="",
        evidence=(0, 0, ""),
        photos=(),
        private_hex=private,
    )
    data = write_record(SealedRecord("S-1", 1, text, forged)).encode()
    assert service.verify_file("r.json", data).sound, "alone it can only be compared with the key that is known"
    assert {Flaw.UNKNOWN_KEY, Flaw.NOT_AS_STORED} <= flaws(service.verify_against(ctx, "r.json", data))


def test_a_row_changed_by_hand_is_found(ctx: service.Context, record: bytes) -> None:
    alter(ctx, "UPDATE receipts SET receipt = replace(receipt, 'Ida Berg', 'Eve Moss')")
    verdict = service.verify_against(ctx, "r.json", record)
    (finding,) = verdict.findings
    assert finding.flaw is Flaw.NOT_AS_STORED
    assert finding.first is not None
    assert json.loads(record)["receipt"].encode()[finding.first :].startswith(b"Ida Berg")
    (stored,) = service.verify_shipment(ctx, "S-1")
    assert Flaw.TEXT_CHANGED in flaws(stored)


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE reads SET read = replace(read, 'Ada', 'Eve') WHERE seq = 1",
        "UPDATE notes SET note = replace(note, 'Ada', 'Eve') WHERE seq = 1",
        "DELETE FROM reads WHERE seq = 1",
    ],
)
def test_a_read_or_note_changed_by_hand_is_found(ctx: service.Context, record: bytes, statement: str) -> None:
    alter(ctx, statement)
    assert flaws(service.verify_against(ctx, "r.json", record)) == {Flaw.EVIDENCE_CHANGED}


def test_what_is_seen_later_does_not_touch_an_earlier_record(ctx: service.Context, record: bytes) -> None:
    scan(ctx, "]C100395200000000000029")
    second = service.get_record_file(ctx, "S-1", confirm(ctx)).encode()
    assert service.verify_against(ctx, "r.json", record).sound
    assert service.verify_against(ctx, "r2.json", second).sound


def test_a_receipt_taken_out_of_the_chain_is_found(ctx: service.Context, record: bytes) -> None:
    scan(ctx, "]C100395200000000000029")
    second = service.get_record_file(ctx, "S-1", confirm(ctx)).encode()
    alter(ctx, "DELETE FROM seals WHERE number = 1")
    assert flaws(service.verify_against(ctx, "r2.json", second)) == {Flaw.CHAIN_BROKEN}


def test_a_photo_that_is_gone_or_changed_is_found(ctx: service.Context, record: bytes) -> None:
    (photo,) = json.loads(json.loads(record)["header"])["photos"]
    path = ctx.data / "photos" / photo[:2] / photo
    path.write_bytes(path.read_bytes()[:-1] + b"x")
    assert flaws(service.verify_against(ctx, "r.json", record)) == {Flaw.PHOTO_CHANGED}


def test_a_new_key_seals_what_comes_and_the_old_one_proves_what_it_sealed(ctx: service.Context, record: bytes) -> None:
    fresh = service.rotate_key(ctx)
    scan(ctx, "]C100395200000000000029")
    second = service.get_record_file(ctx, "S-1", confirm(ctx)).encode()
    assert service.verify_against(ctx, "r2.json", second).key == fresh
    assert service.verify_against(ctx, "r.json", record).sound
    assert [key.private_key == "" for key in service.list_signing_keys(ctx)] == [False, True]


@pytest.mark.parametrize("data", [b"", b"{}", b"[1]", b"\xff", b'{"format": "receiving-record/1"}', b"null"])
def test_a_file_that_is_not_a_record_is_named(data: bytes) -> None:
    with pytest.raises(BadRequest, match="is not a record"):
        service.verify_file("r.json", data)


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("header", "[" * 100_000),
        ("header", '{"number": 1e400, "shipment": "S-1"}'),
        ("header", '{"number": 1, "shipment": "S-1"}'),
        ("receipt", "\ud800"),
        ("public_key", 7),
    ],
)
def test_a_record_with_a_part_that_cannot_be_read_is_not_a_record(record: bytes, field: str, value: object) -> None:
    whole = {**json.loads(record), field: value}
    with pytest.raises(BadRequest, match="is not a record"):
        service.verify_file("r.json", json.dumps(whole).encode())


def test_a_byte_that_is_not_text_is_named_by_its_place_in_the_file(record: bytes) -> None:
    at = record.rindex(b"S-1")
    with pytest.raises(BadRequest, match=rf"position {at}:"):
        service.verify_file("r.json", record[:at] + b"\xff" + record[at + 1 :])


@pytest.mark.parametrize("blocks", ["7", "null", '[1, "a"]', '{"a": 1}'])
def test_a_header_of_another_shape_is_not_a_record(record: bytes, blocks: str) -> None:
    whole = json.loads(record)
    start, _, rest = whole["header"].partition('"blocks":')
    whole["header"] = f'{start}"blocks":{blocks},{rest[rest.index("],") + 2 :]}'
    json.loads(whole["header"])
    with pytest.raises(BadRequest, match="is not a record"):
        service.verify_file("r.json", json.dumps(whole).encode())


@pytest.mark.parametrize("place", [0, 17, 63])
def test_a_changed_key_or_signature_is_found_also_where_it_is_not_hexadecimal_any_more(
    ctx: service.Context, record: bytes, place: int
) -> None:
    for field, expected in (
        ("public_key", {Flaw.HEADER_CHANGED, Flaw.UNKNOWN_KEY}),
        ("signature", {Flaw.HEADER_CHANGED}),
    ):
        whole = json.loads(record)
        whole[field] = whole[field][:place] + "x" + whole[field][place + 1 :]
        changed = json.dumps(whole).encode()
        assert flaws(service.verify_file("r.json", changed)) == expected
        assert expected <= flaws(service.verify_against(ctx, "r.json", changed))


def test_a_stored_header_that_cannot_be_read_any_more_is_found(ctx: service.Context, record: bytes) -> None:
    alter(ctx, "UPDATE seals SET header = replace(header, '\"blocks\"', '\"block\"')")
    (verdict,) = service.verify_shipment(ctx, "S-1")
    assert Flaw.HEADER_CHANGED in flaws(verdict) and not verdict.key


def test_a_record_saved_by_an_editor_with_a_mark_in_front_is_read(record: bytes) -> None:
    assert service.verify_file("r.json", b"\xef\xbb\xbf" + record).sound


def test_a_record_of_a_shipment_that_is_not_here_is_not_found(ctx: service.Context, record: bytes) -> None:
    elsewhere = json.loads(record)
    elsewhere["header"] = elsewhere["header"].replace('"S-1"', '"S-9"')
    with pytest.raises(NotFound):
        service.verify_against(ctx, "r.json", json.dumps(elsewhere).encode())


@pytest.mark.parametrize(
    "signature", ["x", "{}", '{"height": 300, "strokes": []}', '{"height": 300, "strokes": [[[2000, 1]]]}', "[1]"]
)
def test_a_signature_that_cannot_be_read_confirms_nothing(ctx: service.Context, signature: str) -> None:
    with pytest.raises(BadRequest, match="signature could not be read"):
        confirm(ctx, signature=signature)
    with pytest.raises(NotFound):
        service.get_receipt(ctx, "S-1", 1)


@pytest.mark.parametrize(
    ("kind", "start"), [("x12", "ISA*00*"), ("edi", "UNA:+.? 'UNB+UNOC:3+"), ("jsonld", '{\n "@context"')]
)
def test_a_receipt_goes_out_as_a_message_that_stays_the_same(ctx: service.Context, kind: str, start: str) -> None:
    scan(ctx, "]C100395200000000000012")
    number = confirm(ctx)
    first = service.make_standard_message(ctx, "S-1", number, kind, base="https://receiving.example.com")
    scan(ctx, "]C100395200000000000029")
    assert first.startswith(start)
    assert service.make_standard_message(ctx, "S-1", number, kind, base="https://receiving.example.com") == first


def test_there_is_no_other_message(ctx: service.Context) -> None:
    with pytest.raises(BadRequest, match="no message"):
        service.make_standard_message(ctx, "S-1", confirm(ctx), "fax")


def test_a_seal_that_is_gone_from_the_store_is_found_by_the_record(ctx: service.Context, record: bytes) -> None:
    alter(ctx, "DELETE FROM seals")
    assert flaws(service.verify_against(ctx, "r.json", record)) == {Flaw.SEAL_MISSING}


@pytest.mark.parametrize("now", ["''", "'00' || substr(private_key, 3)", "'not a key'"])
def test_nothing_is_sealed_with_a_key_that_was_changed_or_lost(ctx: service.Context, record: bytes, now: str) -> None:
    alter(ctx, f"UPDATE signing_keys SET private_key = {now}")
    scan(ctx, "]C100395200000000000029")
    with pytest.raises(StoreError, match="The key that seals receipts was changed or lost") as refused:
        confirm(ctx)
    assert "receiving keys --rotate" in str(refused.value.next_step)
    service.rotate_key(ctx)
    assert confirm(ctx) == 2
    assert all(verdict.sound for verdict in service.verify_shipment(ctx, "S-1"))
    assert service.verify_against(ctx, "r.json", record).sound


def test_a_receipt_that_the_first_version_sealed_is_read_and_proved_today() -> None:
    """Made by the commit that brought seals, with the key that `receiving keys` showed then."""
    key = "98598b7933f3a7ef462bac4ac93dd75e0e2ef0e514f3f8751d30cf83d6fdcc20"
    data = (FIRST / "record.json").read_bytes()
    verdict = service.verify_file("record.json", data, key=key)
    assert verdict.sound and (verdict.shipment, verdict.number, verdict.key) == ("S-1", 1, "33610a36dd4b80fe")
    assert flaws(service.verify_file("record.json", data, key="0" * 64)) == {Flaw.OTHER_KEY}
    changed = data.replace(b"Ida Berg", b"Ada Berg")
    assert changed != data and flaws(service.verify_file("record.json", changed, key=key)) == {Flaw.TEXT_CHANGED}


def test_receipts_of_the_first_version_are_read_and_no_field_or_column_of_theirs_is_gone(ctx: service.Context) -> None:
    old = json.loads((FIRST / "receipt.json").read_text())
    receipt = from_text(json.dumps(old), Receipt)
    assert (receipt.name, receipt.remarks, receipt.with_exceptions) == ("Ida Berg", "wet", True)
    scan(ctx, "]C100395200000000000012")
    now = json.loads(service.make_receipt_data(ctx, "S-1", confirm(ctx, signature=SIGNED), "json"))
    assert set(old) <= set(now) and set(old["shown"]) <= set(now["shown"])
    assert set(old["shown"]["lines"][0]) <= set(now["shown"]["lines"][0])
    columns = (FIRST / "receipt.csv").read_text().splitlines()[0].split(",")
    assert service.make_receipt_data(ctx, "S-1", 1, "csv").splitlines()[0].split(",")[: len(columns)] == columns


BASE = "https://receiving.example.com"


@pytest.fixture
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("out")


@NO_DIRECTORY
def test_each_message_is_written_once_whatever_the_other_program_takes(ctx: service.Context, folder: Path) -> None:
    scan(ctx, "]C100395200000000000012")
    confirm(ctx)
    done = service.write_messages(ctx, MessageFolder(folder, base=BASE))
    assert sorted(path.name for path in done.files) == [
        "receipt-S-1-1.edi",
        "receipt-S-1-1.jsonld",
        "receipt-S-1-1.x12",
    ]
    assert not done.faults
    assert [
        segment.tag for segment in Interchange.from_str((folder / "receipt-S-1-1.edi").read_text("latin-1")).segments
    ]
    document = x12.tokenize_x12((folder / "receipt-S-1-1.x12").read_bytes())
    assert len(x12.parse_x12_interchange(document).groups) == 1
    (folder / "receipt-S-1-1.x12").unlink()
    assert service.write_messages(ctx, MessageFolder(folder, base=BASE)).files == ()
    scan(ctx, "]C100395200000000000029")
    confirm(ctx)
    again = service.write_messages(ctx, MessageFolder(folder, ("x12",)))
    assert [path.name for path in again.files] == ["receipt-S-1-2.x12"]
    assert len(service.write_messages(ctx, MessageFolder(folder, base=BASE), again=True).files) == 6
    assert not [path for path in folder.iterdir() if path.name.startswith(".")]


def test_a_folder_that_is_not_there_or_a_kind_that_is_none_is_refused(ctx: service.Context, folder: Path) -> None:
    with pytest.raises(BadRequest, match="is not a folder"):
        service.write_messages(ctx, MessageFolder(folder / "none", ("x12",)))
    with pytest.raises(BadRequest, match="no message"):
        service.write_messages(ctx, MessageFolder(folder, ("fax",)))
    with pytest.raises(BadRequest, match="EPCIS names things by addresses"):
        service.write_messages(ctx, MessageFolder(folder))


def test_a_base_that_makes_no_names_is_refused_before_any_receipt(ctx: service.Context, folder: Path) -> None:
    # Not once for each receipt, and not while serving, where nobody would see it.
    wrong = MessageFolder(folder, base="https://receiving example.com")
    for write in (service.write_messages, service.keep_writing):
        with pytest.raises(BadRequest, match="is not an address that names can be under"):
            write(ctx, wrong)
    assert service.write_messages(ctx, MessageFolder(folder, ("x12",), base=wrong.base)).faults == ()


def test_the_command_writes_what_is_new(ctx: service.Context, folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    confirm(ctx)
    command = ["messages", "--out", str(folder), "--message", "edi", "--data", str(ctx.data)]
    assert run(command) == 0
    assert "1 message is written" in capsys.readouterr().out
    assert (folder / "receipt-S-1-1.edi").exists()


def test_a_service_writes_while_it_is_served(
    ctx: service.Context, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("receiving.service.records.EVERY_S", 0.05)
    service.keep_writing(ctx, MessageFolder(folder, ("x12",)))
    confirm(ctx)
    import time

    until = time.monotonic() + 30
    while not list(folder.glob("*.x12")) and time.monotonic() < until:
        time.sleep(0.05)
    assert [path.name for path in folder.glob("*.x12")] == ["receipt-S-1-1.x12"]


def test_a_full_disk_leaves_nothing_half_written_and_the_message_is_written_later(
    ctx: service.Context, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(_: int) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    confirm(ctx)
    with monkeypatch.context() as patch:
        patch.setattr("receiving.store.photos.os.fsync", full)
        done = service.write_messages(ctx, MessageFolder(folder, ("x12", "edi")))
    assert not done.files and len(done.faults) == 2 and "No space left" in str(done.faults[0])
    assert not list(folder.iterdir())
    assert len(service.write_messages(ctx, MessageFolder(folder, ("x12", "edi"))).files) == 2
