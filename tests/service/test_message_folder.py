"""Messages out by a folder: each is written once and whole, read back by readers that are not ours."""

import errno
from pathlib import Path

import pytest
import x12
from pydifact.segmentcollection import Interchange

from receiving import service
from receiving.cli import run
from receiving.errors import BadRequest
from receiving.service import MessageFolder
from tests.closing.test_receiving_advice import NO_DIRECTORY
from tests.service.test_records import confirm, scan

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
        with pytest.raises(BadRequest, match="is not an address that names can stand under"):
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
