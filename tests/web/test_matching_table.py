"""The table of scans that a phone may answer by itself, run against the service; the browser's tests run it there."""

import json
import uuid
from pathlib import Path

import pytest

from receiving import service
from receiving.errors import BadRequest
from receiving.model import Outcome, Place, Source

TABLE = json.loads((Path(__file__).parent / "matching_cases.json").read_text())


@pytest.mark.parametrize("case", TABLE["cases"], ids=lambda case: case["what"])
def test_the_service_names_the_carton_of_the_table(desk: service.Desk, case: dict[str, str]) -> None:
    service.import_manifest(desk, "table.csv", "\n".join(TABLE["manifest"]).encode())
    assert service.phone_sheet(desk, "S-77").codes
    try:
        answer = service.add_scan(
            desk, "S-77", case["text"], place=Place.DOCK, by="Ada", source=Source.SCANNER, scan_id=str(uuid.uuid4())
        )
    except BadRequest:
        assert case["carton"] is None
        return
    assert (answer.carton if answer.outcome is Outcome.MATCHED else None) == case["carton"]


def test_a_code_that_two_cartons_carry_is_not_on_the_sheet(desk: service.Desk) -> None:
    service.import_manifest(desk, "table.csv", "\n".join(TABLE["manifest"]).encode())
    codes = service.phone_sheet(desk, "S-77").codes
    assert "KX-0148" not in codes
    assert codes["KX-0147"] == "31"
    assert codes["00036000291452"] == "32"
