"""A second reader for what we print."""

from types import ModuleType

import pytest


@pytest.fixture
def zbar() -> ModuleType:
    """ZBar's Python module; the test is skipped, in words, where ZBar's system library is not installed."""
    module: ModuleType = pytest.importorskip(
        "pyzbar.pyzbar",
        reason="ZBar's system library is not installed (receiving doctor says how)",
        exc_type=ImportError,
    )
    return module
