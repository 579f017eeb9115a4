"""The table of scans that a phone may answer by itself, run against the service; the browser's tests run it there."""

import json
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any

import pytest

from receiving import service
from receiving.errors import BadRequest
from receiving.model import Outcome, Place, Source
from receiving.service import ScannerProfile
from tests.planned_reader import PlannedReader
from tests.web.conftest import Browser
from tests.web.page_text import read
from tests.web.scenario import open_context

TABLE = json.loads((Path(__file__).parent / "matching_cases.json").read_text())


@pytest.fixture(scope="module")
def answers(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Any]:
    """Asks the service which carton a text is, each text in a shipment of its own."""
    head, *rows = TABLE["manifest"]
    with open_context(tmp_path_factory.mktemp("table"), PlannedReader()) as ctx:

        def carton_of(number: int, text: str, source: Source) -> str | None:
            own = "\n".join([head, *(row.replace("S-77", f"S-{number}", 1) for row in rows)])
            service.import_manifest(ctx, "table.csv", own.encode())
            answer = None
            with suppress(BadRequest):
                answer = service.add_scan(ctx, f"S-{number}", text, place=Place.DOCK, by="Ada", source=source)
            service.void_shipment(ctx, f"S-{number}", by="Ada")
            return answer.carton if answer and answer.outcome is Outcome.MATCHED else None

        yield carton_of


@pytest.mark.parametrize(
    ("number", "case"), list(enumerate(TABLE["cases"])), ids=[case["what"] for case in TABLE["cases"]]
)
def test_the_service_names_the_carton_of_the_table(answers: Any, number: int, case: dict[str, Any]) -> None:
    assert answers(number, case["text"], Source(case.get("source", "scanner"))) == case["carton"]


@pytest.mark.parametrize(
    ("number", "case"), list(enumerate(TABLE["scanners"], 500)), ids=[case["what"] for case in TABLE["scanners"]]
)
def test_a_scanner_that_was_set_up_is_understood(answers: Any, number: int, case: dict[str, Any]) -> None:
    text = ScannerProfile(**case["profile"]).text_of(case["text"])
    assert answers(number, text, Source.SCANNER) == case["carton"]


@pytest.fixture
def sheet(ctx: service.Context) -> service.PhoneSheet:
    service.import_manifest(ctx, "table.csv", "\n".join(TABLE["manifest"]).encode())
    return service.get_phone_sheet(ctx, "S-77")


def test_a_code_that_two_cartons_carry_names_none_on_the_sheet(sheet: service.PhoneSheet) -> None:
    assert sheet.codes["KX-0148"] == ""
    assert sheet.codes["KX-0147"] == "31"
    assert sheet.codes["00036000291452"] == "32"


def test_what_may_be_typed_is_on_the_sheet_where_it_means_one_carton(sheet: service.PhoneSheet) -> None:
    assert (sheet.typed["13"], sheet.typed["3"], sheet.typed["03"], sheet.typed["a7"]) == ("13", "03", "03", "A7")
    assert (sheet.typed["1-1"], "3-1" in sheet.typed) == ("03", False)


def test_the_sheet_has_what_this_browsers_scanner_does(ctx: service.Context, browser: Browser) -> None:
    service.import_manifest(ctx, "table.csv", "\n".join(TABLE["manifest"]).encode())
    assert set(browser.get("/s/S-77/sheet").get_json()["scanner"].values()) == {""}
    browser.post("/scanner", {"gs1": "<10TEST7~21A5>", "matrix": "<[)>|06~1JUN999999999TEST7~Q5|!>"})
    scanner = browser.get("/s/S-77/sheet").get_json()["scanner"]
    assert (scanner["prefix"], scanner["suffix"], scanner["gs"], scanner["rs"]) == ("<", ">", "~", "|")


@pytest.mark.parametrize(("source", "found"), [("scanner", True), ("camera", False), ("typed", False)])
def test_only_the_scanners_own_lines_are_put_right(
    ctx: service.Context, browser: Browser, source: str, found: bool
) -> None:
    service.import_manifest(ctx, "table.csv", "\n".join(TABLE["manifest"]).encode())
    browser.post("/scanner", {"gs1": "<10TEST7~21A5>", "matrix": ""})
    browser.post("/s/S-77/scans", {"text": "<KX-0147>", "source": source, "place": "dock", "by": "Ada"})
    assert ("1 of 15" in read(browser.get("/s/S-77").text).text) is found
