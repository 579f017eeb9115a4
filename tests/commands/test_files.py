"""What is written with ``--out``: whole or not at all, and never over what it is made from."""

from pathlib import Path

import pytest

from receiving.cli import run
from receiving.commands.files import write_file
from receiving.errors import BadRequest
from tests.commands.test_commands import MANIFEST


@pytest.fixture
def manifest(tmp_path: Path) -> Path:
    path = tmp_path / "manifest.csv"
    path.write_text(MANIFEST)
    return path


def test_labels_never_take_the_place_of_their_manifest(manifest: Path, capsys: pytest.CaptureFixture[str]) -> None:
    link = manifest.with_name("labels.pdf")
    link.symlink_to(manifest)
    for out in (manifest, link, manifest.parent / "." / manifest.name):
        assert run(["labels", "--manifest", str(manifest), "--out", str(out)]) == 1
        assert "is what this is made from; nothing was written" in capsys.readouterr().err
    assert manifest.read_text() == MANIFEST


@pytest.mark.parametrize("out", ["receiving.sqlite", "receiving.sqlite-wal", "photos", "new.zip"])
def test_a_backup_does_not_lie_in_the_folder_that_it_copies(
    manifest: Path, capsys: pytest.CaptureFixture[str], out: str
) -> None:
    data = manifest.parent / "data"
    run(["import", str(manifest), "--data", str(data)])
    before = sorted((path, path.read_bytes()) for path in data.rglob("*") if path.is_file())
    assert run(["backup", "--data", str(data), "--out", str(data / out)]) == 1
    assert "is in the data folder that it is made from" in capsys.readouterr().err
    assert sorted((path, path.read_bytes()) for path in data.rglob("*") if path.is_file()) == before


@pytest.mark.parametrize(
    ("out", "words"),
    [("none/labels.pdf", "There is no folder"), (".", "is a folder"), ("manifest.csv/x.pdf", "no folder")],
)
def test_a_place_that_cannot_be_written_is_named(
    manifest: Path, capsys: pytest.CaptureFixture[str], out: str, words: str
) -> None:
    assert run(["labels", "--manifest", str(manifest), "--out", str(manifest.parent / out)]) == 1
    complaint = capsys.readouterr().err
    assert words in complaint
    assert "--out" in complaint


def test_a_file_is_replaced_whole_or_stays(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    out = tmp_path / "labels.pdf"
    write_file(out, b"first")
    write_file(out, b"second")
    assert out.read_bytes() == b"second"

    def full(self: Path, data: bytes) -> int:
        with self.open("wb") as file:
            file.write(data[:3])
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patched, pytest.raises(BadRequest, match="No space left on device"):
        patched.setattr(Path, "write_bytes", full)
        write_file(out, b"third")
    assert [path.name for path in tmp_path.iterdir()] == ["labels.pdf"]
    assert out.read_bytes() == b"second"


def test_a_device_is_written_to_and_stays_a_device() -> None:
    write_file(Path("/dev/null"), b"nothing")
    assert not Path("/dev/null").is_file()
