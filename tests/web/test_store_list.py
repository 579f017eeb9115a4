"""The list of stores through page and command: zones and holidays of many stores, shown wherever a time is."""

import re
from io import BytesIO
from pathlib import Path

import pytest

from receiving import service
from receiving.cli import run
from receiving.model import Place, Source
from tests.web.conftest import Browser
from tests.web.page_text import read
from tests.web.scenario import SHIPMENT, sscc

LIST = b"store,name,time_zone,country,region,lead_days,order_cut_off\n0417,Harbor,Asia/Tokyo,JP,,2,16:00\n"


def sent(browser: Browser, data: bytes) -> str:
    fields = {"kind": "stores", "file": (BytesIO(data), "stores.csv")}
    return read(browser.post("/import", fields, content_type="multipart/form-data").text).text


def test_a_list_gives_stores_their_zone_holidays_and_lead_days(browser: Browser, ctx: service.Context) -> None:
    service.add_scan(ctx, SHIPMENT, f"]C100{sscc(3)}", place=Place.DOCK, by="A", source=Source.SCANNER)
    assert "1 store changed" in sent(browser, LIST)
    assert "changes nothing" in sent(browser, LIST)
    before = read(browser.get("/s/S-2041~2FA/before-the-visit").text).text
    assert "JP" in before and "16:00 JST" in before
    board = read(browser.get("/overview").text).text
    assert re.search(r"\d\d:\d\d JST", board), board
    assert service.make_stores_csv(ctx).splitlines()[1:] == ["0417,Harbor,Asia/Tokyo,JP,,2,16:00", "0422,,,,,,"]
    assert browser.get("/stores.csv").text == service.make_stores_csv(ctx)
    assert "expected an IANA time zone" in sent(browser, LIST.replace(b"Asia", b"Asja"))


def test_what_the_layout_says_counts_before_the_list(browser: Browser, ctx: service.Context) -> None:
    sent(browser, LIST)
    text = service.get_layout_text(ctx, "0417")
    assert "time_zone" not in text
    service.import_layout(ctx, "l.toml", text.replace("[store]", '[store]\ntime_zone = "America/Chicago"', 1).encode())
    row = service.get_overview(ctx)[0].row
    assert (row.terms.time_zone, row.terms.country, row.terms.lead_days) == ("America/Chicago", "JP", 2)


def test_the_command_takes_the_list_too(
    ctx: service.Context, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "stores.csv"
    file.write_bytes(LIST)
    assert run(["import", str(file), "--preview", "--data", str(ctx.data)]) == 0
    assert "stores 1" in capsys.readouterr().out
    assert run(["import", str(file), "--data", str(ctx.data)]) == 0
    assert "changed 1" in capsys.readouterr().out
    file.write_bytes(LIST.replace(b"JP", b"Japan"))
    assert run(["import", str(file), "--data", str(ctx.data)]) == 1
    assert "two letters of a country" in capsys.readouterr().err
