"""Commands that read photos wait for a busy machine."""

import pytest

from receiving import cli


@pytest.fixture(autouse=True)
def patience(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cli, "PHOTO_LIMIT_S", 1800.0)
