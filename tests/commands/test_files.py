"""What is written with ``--out``: whole or not at all, and never over what it is made from.

A file in the wrong place is answered with its right one; nothing is said of lines where there are none.
"""

from pathlib import Path

import pytest

from receiving.cli import run
from receiving.commands.files import FileKind, kind_of, write_file
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


PROJECT = Path(__file__).resolve().parents[2]

SAMPLES = PROJECT / "sample_images"

FILES = {
    "photo.jpg": b"\xff\xd8\xff\xe0",
    "clip.mp4": b"\x00\x00\x00\x18ftypmp42",
    "scans.csv": b"scan_id,scanned_at,raw\n",
    "scans.jsonl": b'{"scan_id": "x", "scanned_at": "y", "raw": "z"}\n',
    "layout.toml": b'# of the store\n[store]\nid = "0417"\n',
    "broken.toml": b'[store\nid = "0417"\n',
    "patterns.toml": b"[[pattern]]\nname =\n",
    "result.json": b'{\n  "expected": 3\n}\n',
    "kit.csv": b"item,section,column,row\nT-1,Harbor,1,1\n",
    "manifest.csv": b"shipment,store,carton,kind\nS-1,0417,01,tray\n",
    "notice.x12": b"ISA*00*",
    "paper.pdf": b"%PDF-1.7",
}

KINDS = [
    *("PHOTO", "PHOTO", "SCANS", "SCANS", "LAYOUT", "LAYOUT"),
    *("PATTERNS", "JSON", "KIT", "MANIFEST", "MANIFEST", "PDF"),
]


@pytest.mark.parametrize(("name", "kind"), [*zip(FILES, KINDS, strict=True)])
def test_a_kind_is_told_by_the_content(name: str, kind: str) -> None:
    assert kind_of(FILES[name]) is FileKind[kind]


def test_the_sample_and_shipped_files_are_told_too() -> None:
    shipped = PROJECT / "receiving" / "reading" / "default_patterns.toml"
    kinds = [kind_of(path.read_bytes()) for path in (SAMPLES / "layout.toml", SAMPLES / "manifest.csv", shipped)]
    assert kinds == [FileKind.LAYOUT, FileKind.MANIFEST, FileKind.PATTERNS]


@pytest.mark.parametrize(
    ("words", "answer"),
    [
        (["import", "photo.jpg"], "add it to a shipment with receiving add"),
        (["import", "scans.csv"], "receiving add SHIPMENT --scans FILE"),
        (["import", "result.json"], "Of JSON, only scan lists are read"),
        (["import", "paper.pdf"], "the photo that it was made from"),
        (["import", "patterns.toml"], "The label pattern file"),
        (["import", "broken.toml"], "The layout"),
        (["read", "layout.toml"], "name it with --layout"),
        (["reconcile", "--manifest", "photo.jpg"], "is a photo or video, not a manifest"),
        (["reconcile", "--manifest", "manifest.csv", "--layout", "patterns.toml"], "name it with --patterns"),
        (["labels", "--manifest", "layout.toml", "--out", "x.pdf"], "is a layout, not a manifest"),
    ],
)
def test_a_file_in_the_wrong_place_is_sent_to_its_right_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], words: list[str], answer: str
) -> None:
    monkeypatch.chdir(tmp_path)
    for name, data in FILES.items():
        (tmp_path / name).write_bytes(data)
    assert run(words) == 1
    captured = capsys.readouterr()
    assert answer in captured.out + captured.err


def test_no_lines_are_spoken_of_where_none_is_named(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "empty.csv").write_bytes(b"")
    assert run(["import", str(tmp_path / "empty.csv"), "--data", str(tmp_path / "data")]) == 1
    output = capsys.readouterr().err
    assert "choose the right file" in output
    assert "lines named" not in output


def test_a_kit_is_imported_and_a_preview_stores_nothing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "kit.csv").write_bytes(FILES["kit.csv"])
    data = ["--data", str(tmp_path / "data")]
    for more in (["--preview"], []):
        assert run(["import", str(tmp_path / "kit.csv"), *data, *more]) == 0
        assert capsys.readouterr().out == "file kit.csv, kind kit, places 1\n"
