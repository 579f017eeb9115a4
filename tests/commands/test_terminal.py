"""What reaches the terminal: no code on a label steers it, and results stand alone on their lines."""

import io
import json
import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest
import zxingcpp
from PIL import Image

from receiving.cli import run
from receiving.commands import imports, terminal

PROJECT = Path(__file__).resolve().parents[2]
CLEAR_SCREEN = "\x1b[2J\x1b]0;owned\x07\x9b31mred"


def label(path: Path, text: str) -> Path:
    code = zxingcpp.create_barcode(text, zxingcpp.BarcodeFormat.QRCode)
    Image.fromarray(zxingcpp.write_barcode_to_image(code, scale=6)).resize((500, 500)).save(path)
    return path


def test_control_characters_are_written_out_and_a_gs_as_elsewhere() -> None:
    assert terminal.visible("a\x1b[2Jb\x1dc\x9bd\u202ee\n\tf\x7f") == "a\\x1b[2Jb<GS>c\\x9bd\\u202ee\n\tf\\x7f"


def test_a_label_cannot_steer_the_terminal(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    photo = label(tmp_path / "a.png", CLEAR_SCREEN)
    assert run(["read", str(photo)]) == 0
    output = capsys.readouterr().out
    assert "\\x1b[2J" in output
    assert not {"\x1b", "\x07", "\x9b"} & set(output)


def test_json_stays_json_and_holds_no_control_character(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    photo = label(tmp_path / "a.png", CLEAR_SCREEN)
    assert run(["read", "--json", str(photo)]) == 0
    output = capsys.readouterr().out
    assert not {"\x1b", "\x07", "\x9b"} & set(output)
    assert json.loads(output)["symbols"][0]["raw"] == CLEAR_SCREEN


def test_faults_are_shown_through_the_same_door(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["import", str(tmp_path / "a\x1b[2J.csv"), "--data", str(tmp_path / "data")]) == 1
    assert "\x1b" not in capsys.readouterr().err


def test_a_result_does_not_follow_progress_on_its_line(monkeypatch: pytest.MonkeyPatch) -> None:
    class Screen(io.StringIO):
        def isatty(self) -> bool:
            return True

    screen = Screen()
    monkeypatch.setattr(sys, "stdout", screen)
    monkeypatch.setattr(sys, "stderr", screen)
    terminal.show_photo_progress(1, 2)
    terminal.show("a.jpg: 1 symbol")
    terminal.show_photo_progress(2, 2)
    terminal.show("b.jpg: 2 symbols")
    shown = [line.rpartition("\x1b[K")[2] for line in screen.getvalue().split("\n")[:-1]]
    assert shown == ["a.jpg: 1 symbol", "b.jpg: 2 symbols"]


@pytest.mark.skipif(os.name != "posix", reason="sends the signal as a POSIX terminal does")
def test_ctrl_c_while_photos_are_read_ends_in_one_word(tmp_path: Path) -> None:
    photo = label(tmp_path / "000.png", "CARTON-07")
    for number in range(1, 100):  # too many to be done before the signal comes
        (tmp_path / f"{number:03d}.png").hardlink_to(photo)
    command = [sys.executable, "-m", "receiving", "read", str(tmp_path)]
    started = subprocess.Popen(
        command,
        cwd=PROJECT,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),  # a shell's background job is deaf to it
    )
    assert started.stdout is not None
    assert "CARTON-07" in started.stdout.readline() + started.stdout.readline()
    os.killpg(started.pid, signal.SIGINT)
    _, output = started.communicate()
    assert (output, started.returncode) == ("Stopped.\n", 1)


@pytest.mark.parametrize(
    "words",
    [
        ["demo", "--workers", "0"],
        ["demo", "--workers", "x"],
        ["serve", "--port", "99999"],
        ["serve", "--port", "-1"],
        ["read", "a.jpg", "--limit-s", "nan"],
        ["read", "a.jpg", "--limit-s", "0"],
        ["read", "a.jpg", "--limit-s", "inf"],
        ["overview", "--days", "-3"],
    ],
)
def test_a_number_out_of_range_is_wrong_usage(words: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        run(words)
    assert ended.value.code == 2
    assert "is not a" in capsys.readouterr().err


@pytest.mark.parametrize("options", [[], ["--preview"]], ids=["import", "preview"])
def test_a_long_table_says_that_it_is_being_read(
    options: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    table = tmp_path / "m.csv"
    table.write_text("shipment,store,carton,kind\nS-1,0417,01,tray\n")
    monkeypatch.setattr(imports, "SAY_AFTER_S", 0.001)  # reading in a process of its own takes longer
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True, raising=False)
    assert run(["import", *options, "--data", str(tmp_path / "data"), str(table)]) == 0
    assert "m.csv: reading, 0 s" in capsys.readouterr().err
