"""``receiving test``: the project's tests."""

import argparse

from receiving.cli import DONE, FAILED
from receiving.setup import PROJECT


def run(options: argparse.Namespace) -> int:
    """Run pytest with the project's settings; further arguments are handed to it."""
    import pytest

    status = pytest.main(["--rootdir", str(PROJECT), "-c", str(PROJECT / "pyproject.toml"), *options.rest])
    return DONE if status == pytest.ExitCode.OK else FAILED
