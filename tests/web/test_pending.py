"""What was shown and not answered yet outlives the process: a file to import, and counts to confirm."""

import io
from pathlib import Path

import pytest

from receiving import service
from receiving.errors import Conflict
from receiving.store import Store
from receiving.store.actions import NEWEST, Purpose
from tests.planned_reader import PlannedReader
from tests.web.conftest import Browser
from tests.web.scenario import MANIFEST, SHIPMENT, open_context
from web import create_app


def ticket_of(page: str) -> str:
    return page.split('action="/import/')[1].split('"')[0]


def test_a_file_that_was_previewed_is_imported_after_a_restart(tmp_path: Path) -> None:
    with open_context(tmp_path, PlannedReader()) as ctx:
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
    with open_context(tmp_path, PlannedReader()) as ctx:
        shown = service.get_receipt_to_confirm(ctx, SHIPMENT).shown
    with service.Context(ctx.data, PlannedReader(), now=ctx.now) as again:
        assert service.get_receipt_to_confirm(again, SHIPMENT, before=shown.digest).before == shown
        assert service.get_receipt_to_confirm(again, SHIPMENT, before="another").before is None


def test_the_oldest_go_and_a_file_read_another_way_stays(tmp_path: Path) -> None:
    with open_context(tmp_path, PlannedReader()) as ctx:
        most = NEWEST[Purpose.IMPORT]
        with ctx.store() as store:
            for number in range(most + 2):
                keep(store, f"t{number}", b"x" * number, "", ctx)
            keep(store, "t5", b"x" * 5, "Example Shipper", ctx)
            kept = {ticket: store.pending(Purpose.IMPORT, ticket) for ticket in ("t0", "t1", "t2", "t5")}
        assert kept["t0"] is None and kept["t1"] is None
        assert [(each.detail, each.body) for each in (kept["t2"], kept["t5"]) if each] == [
            ("", b"xx"),
            ("Example Shipper", b"x" * 5),
        ]
        for gone in (service.preview_again, service.take_upload):
            with pytest.raises(Conflict, match="too old"):
                gone(ctx, "t0", restore_zeros=False)


def keep(store: Store, ticket: str, body: bytes, shipper: str, ctx: service.Context) -> None:
    store.add_pending(Purpose.IMPORT, ticket, body, shown_at=ctx.now(), name=f"{ticket}.csv", detail=shipper)
