"""The lines that the README shows are those that the demo prints, and its first own shipment works as written."""

import re
import shlex
from datetime import UTC, datetime
from pathlib import Path

import pytest

from receiving import service
from receiving.cli import run
from receiving.commands.in_words import reconciliation_in_words
from receiving.commands.serve import load_scenario
from receiving.model import Place
from receiving.reading import PhotoPool
from tests.commands.test_commands import label_photo
from tests.commands.test_template import filled_layout, filled_manifest

PROJECT = Path(__file__).resolve().parents[2]
SAMPLES = PROJECT / "sample_images"
README = (PROJECT / "README.md").read_text()


def test_the_lines_of_the_demo_are_its_own(tmp_path: Path) -> None:
    shown = README.split("stop it with Ctrl+C:\n\n```\n", 1)[1].split("\n```", 1)[0].splitlines()
    pool = PhotoPool(workers=2, limit_s=1800)
    now = datetime(2026, 11, 27, 8, 0, tzinfo=UTC)  # the day on which the lines were taken
    with service.Context(tmp_path, pool, now=lambda: now) as ctx:
        shipment = load_scenario(ctx)
        for photo in sorted(SAMPLES.glob("*.jpg")):
            service.add_photo(ctx, shipment, photo.name, photo.read_bytes(), place=Place.BACK_ROOM, by="Demo")
        service.finish_photos(ctx)
        view = service.get_shipment(ctx, shipment)
        names = {photo.photo: photo.name for photo in view.photos}
        words = reconciliation_in_words(view.reconciliation, view.plan, view.manifest, view.to_check.count, names)
    printed = [line for line in str(words).splitlines() if line]
    for line, wanted in zip(printed, shown, strict=False):
        assert line == wanted if not wanted.endswith(" …") else line.startswith(wanted.removesuffix(" …"))
    assert len(shown) == 10


def test_the_first_own_shipment_is_five_lines_that_work(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    block = README.split("## Your first own shipment\n\n```\n", 1)[1].split("\n```", 1)[0]
    commands = [line.split("#")[0] for line in block.splitlines()]
    assert [int(n) for n in re.findall(r"# (\d)\.", block)] == [1, 2, 3, 4, 5]
    words = {command[3]: command[3:] for line in commands if (command := shlex.split(line))}
    assert list(words) == ["template", "import", "serve", "add"]
    assert run(words["template"]) == 0
    (tmp_path / "mine" / "manifest.csv").write_bytes(filled_manifest())
    (tmp_path / "mine" / "layout.toml").write_bytes(filled_layout())
    assert run(words["import"]) == 0
    (tmp_path / "photos").mkdir()
    label_photo(tmp_path / "photos" / "a.png", "395200000000000012")
    assert run([word.replace("SHIPMENT", "S-1") for word in words["add"]]) == 0
    with service.Context.at(tmp_path / "data") as ctx:
        shown = service.show_receipt(ctx, "S-1")
        receipt = service.confirm(ctx, "S-1", shown.digest, name="Mo", role="store manager")
    assert receipt.number == 1
