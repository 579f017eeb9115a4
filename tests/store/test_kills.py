"""The short form of `tests/bench/kill_service.py`, which kills a thousand times."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

BENCH = Path(__file__).resolve().parents[1] / "bench" / "kill_service.py"


@pytest.mark.skipif(not hasattr(os, "fork"), reason="processes are forked to be killed")
def test_what_was_acknowledged_before_a_kill_is_there_once() -> None:
    command = [sys.executable, str(BENCH), "--random", "6", "--boundaries", "30"]
    done = subprocess.run(command, capture_output=True, text=True, check=True, timeout=600)
    found = json.loads(done.stdout)
    assert found["kills"] == 36
    assert (found["lost"], found["doubled"], found["unasked"], found["photos_unread"]) == (0, 0, 0, 0)
    assert found["receipts_in_order"]
    assert found["damages"] == []
