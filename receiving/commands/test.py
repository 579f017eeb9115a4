"""``receiving test``: the project's tests."""

import argparse
import os

from receiving.cli import DONE, FAILED
from receiving.setup import NO_TESTS_HERE, PROJECT, is_checkout, say

MOST_WORKERS = 8
"""Each holds the libraries once more, about 300 MB."""

_CHOSEN = frozenset({"--numprocesses", "--pdb", "--collect-only", "--co"})
"""Options that say how many processes there are, or that need a single one."""


def run_test(options: argparse.Namespace) -> int:
    """Run pytest with the project's settings; further arguments are handed to it."""
    if not is_checkout():
        say(NO_TESTS_HERE)
        return FAILED
    import pytest

    settings = ["--rootdir", str(PROJECT), "-c", str(PROJECT / "pyproject.toml")]
    status = pytest.main([*settings, *side_by_side(options.rest), *options.rest])
    return DONE if status == pytest.ExitCode.OK else FAILED


def side_by_side(given: list[str]) -> list[str]:
    """The options that run tests on all cores, unless the person chose; one core needs no second process."""
    # Whole words: many other options begin with --co.
    chosen = any(word.startswith("-n") or word.partition("=")[0] in _CHOSEN for word in given)
    count = min(_cores(), MOST_WORKERS)
    return [] if chosen or count == 1 else ["-n", str(count), "--dist", "worksteal"]


def _cores() -> int:
    """The cores that this process may use, which a container makes fewer than the machine's."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
