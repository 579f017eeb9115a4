"""What is left to check is one number: on the shipment's page, in the coordinator's list, its CSV and its command."""

import csv
import io
import json
import re

import pytest

from receiving import service
from receiving.cli import run
from receiving.model import Place, Source
from tests.planned_reader import PlannedReader
from tests.web.conftest import Browser
from tests.web.page_text import read
from tests.web.scenario import SHIPMENT, picture, pile_reading, sscc
from tests.web.test_rep import ADDRESS


def everywhere(browser: Browser, ctx: service.Context, capsys: pytest.CaptureFixture[str]) -> set[int]:
    page = read(browser.get(ADDRESS).text)
    counts = [link.text for link in page.all("a") if link.attributes.get("href") == "#check"]
    on_page = int(re.findall(r"\d+", counts[0])[0]) if counts else 0
    in_list = next(row for row in service.list_shipments(ctx) if row.shipment == SHIPMENT).to_check
    rows = csv.DictReader(io.StringIO(service.make_overview_csv(ctx)))
    in_csv = next(int(row["to_check"]) for row in rows if row["shipment"] == SHIPMENT)
    shown = read(browser.get("/overview").text)
    line = next(row for row in shown.all("tr") if SHIPMENT in row.text)
    text = re.search(r"(\d+) to check", line.text)
    on_overview = int(text[1]) if text else 0
    run(["overview", "--data", str(ctx.data), "--json"])
    lines = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    by_command = next(line["to_check"] for line in lines if line["shipment"] == SHIPMENT)
    return {on_page, in_list, in_csv, on_overview, by_command}


def test_the_count_is_the_same_wherever_it_is_shown(
    browser: Browser, ctx: service.Context, reader: PlannedReader, capsys: pytest.CaptureFixture[str]
) -> None:
    assert everywhere(browser, ctx, capsys) == {0}
    reader.readings["pile.jpg"] = pile_reading()
    service.add_photo(ctx, SHIPMENT, "pile.jpg", picture(), place=Place.DOCK, by="Ada")
    service.finish_photos(ctx)
    assert everywhere(browser, ctx, capsys) == {2}  # one guided read, one photo with a label that was not read
    service.add_photo(ctx, SHIPMENT, "crash.jpg", picture("#000000"), place=Place.DOCK, by="Ada")
    service.finish_photos(ctx)
    service.add_note(ctx, SHIPMENT, "damage_noted", by="Ada", carton="12", reason="arrived_damaged", usable=True)
    assert everywhere(browser, ctx, capsys) == {4}
    guided = service.get_shipment(ctx, SHIPMENT).to_check.guided[0]
    service.add_note(ctx, SHIPMENT, "read_assigned", by="Ada", read_id=guided, carton="05")
    assert everywhere(browser, ctx, capsys) == {3}


def test_a_shipment_with_something_to_check_is_not_called_all_here(
    browser: Browser, ctx: service.Context, reader: PlannedReader
) -> None:
    for n in range(101, 105):
        service.add_scan(ctx, "S-2055", sscc(n), place=Place.DOCK, by="Ada", source=Source.SCANNER)
    service.add_photo(ctx, "S-2055", "crash.jpg", picture(), place=Place.DOCK, by="Ada")
    service.finish_photos(ctx)
    decided = next(row for row in service.get_overview(ctx) if row.row.shipment == "S-2055")
    assert decided.urgency is service.Urgency.TO_DECIDE
    assert "look at 1 to check" in str(service.advice_words(decided))
    assert "All here. To check: 1 photo that could not be read." in read(browser.get("/s/S-2055").text).text
