"""What was shown and not answered yet outlives the process: a file to import, and counts to confirm."""

import io
from pathlib import Path

from receiving import service
from receiving.store.pending import NEWEST, Purpose
from tests.planned_reader import PlannedReader
from tests.web.conftest import Browser
from tests.web.scenario import MANIFEST, SHIPMENT, open_desk
from web import create_app


def ticket_of(page: str) -> str:
    return page.split('action="/import/')[1].split('"')[0]


def test_a_file_that_was_previewed_is_imported_after_a_restart(tmp_path: Path) -> None:
    with open_desk(tmp_path, PlannedReader()) as ctx:
        browser = Browser(create_app(ctx).test_client())
        upload = (io.BytesIO(_one_shipment().encode()), "more.csv")
        page = browser.post("/import", {"file": upload}, content_type="multipart/form-data").get_data(as_text=True)
    with service.Context(ctx.data, PlannedReader(), now=ctx.now) as again:
        other = Browser(create_app(again).test_client())
        assert other.post(f"/import/{ticket_of(page)}").status_code == 200
        assert service.get_shipment(again, "S-3000").manifest.cartons


def _one_shipment() -> str:
    header, *_ = MANIFEST.splitlines()
    return f"{header}\nS-3000,0500,01,,,tray,Harbor Lane,1,1,no,TRAY-H11,tray,1,ea,6,60,40,30,2026-03-09"


def test_counts_that_changed_meanwhile_are_compared_after_a_restart(tmp_path: Path) -> None:
    with open_desk(tmp_path, PlannedReader()) as ctx:
        shown = service.show_receipt(ctx, SHIPMENT)
        service.save_shown_receipt(ctx, shown)
    with service.Context(ctx.data, PlannedReader(), now=ctx.now) as again:
        assert service.find_shown_receipt(again, shown.digest) == shown
        assert service.find_shown_receipt(again, "another") is None


def test_the_oldest_go_and_a_file_read_another_way_stays(tmp_path: Path) -> None:
    with open_desk(tmp_path, PlannedReader()) as ctx:
        most = NEWEST[Purpose.IMPORT]
        for number in range(most + 2):
            service.save_upload(ctx, f"t{number}", f"{number}.csv", b"x" * number)
        service.save_upload(ctx, "t5", "5.csv", b"x" * 5, shipper="Example Shipper")
        assert service.find_upload(ctx, "t0") is None and service.find_upload(ctx, "t1") is None
        assert service.find_upload(ctx, "t2") == ("", "2.csv", b"xx")
        assert service.find_upload(ctx, "t5") == ("Example Shipper", "5.csv", b"x" * 5)
