"""One shipment's result as files from the page."""

import io
import zipfile

from receiving import service
from tests.web.conftest import Browser
from tests.web.scenario import SHIPMENT


def test_the_page_gives_the_same_files(browser: Browser, ctx: service.Context) -> None:
    address = "/s/S-2041~2FA"
    links = browser.get(f"{address}/manifest").text
    for kind, make in (("csv", service.make_result_csv), ("json", service.make_result_json)):
        response = browser.get(f"{address}/result.{kind}")
        assert response.get_data(as_text=True) == make(ctx, SHIPMENT)
        assert f"{address}/result.{kind}" in links
    with zipfile.ZipFile(io.BytesIO(browser.get(f"{address}/result.xlsx").data)) as book:
        assert "xl/workbook.xml" in book.namelist()
