"""The page and the command of webhooks."""

import json
from pathlib import Path

import pytest

from receiving import service
from receiving.cli import run
from receiving.model import DataScope
from receiving.service.webhook_sending import read_networks
from tests.web.conftest import Browser
from tests.web.page_text import read

OF = {"stores": "0417, 0422", "programmes": "Spring reset, Fall"}
SPRING = ["--programme", "Spring reset"]
ADDRESS = "https://192.0.43.8/told"


def test_a_webhook_is_made_tried_given_a_new_secret_and_ended_on_the_page(
    browser: Browser, ctx: service.Context
) -> None:
    made = read(browser.post("/webhooks", {"url": ADDRESS, "event": ["shipment_short"], **OF}).text)
    (secret,) = [e.text for e in made.all("p", class_="code")]
    (webhook,) = service.list_webhooks(ctx)
    assert webhook.secret == secret
    assert webhook.scope == DataScope(frozenset({"0417", "0422"}), frozenset({"Spring reset", "Fall"}))
    page = browser.get("/webhooks").text
    assert (secret in page, "of stores 0417, 0422 and programmes Fall, Spring reset alone" in read(page).text) == (
        False,
        True,
    )
    assert browser.post(f"/webhooks/{webhook.webhook_id}/try").status_code == 303
    assert "not tried yet" in read(browser.get("/webhooks").text).text
    again = read(browser.post(f"/webhooks/{webhook.webhook_id}/secret").text)
    assert [e.text for e in again.all("p", class_="code")] != [secret]
    assert "signed with the old secret too until" in again.text
    (delivery,) = service.list_webhook_deliveries(ctx)
    assert browser.post(f"/webhook-deliveries/{delivery.delivery_id}/again").status_code == 303
    assert browser.post(f"/webhooks/{webhook.webhook_id}/end").status_code == 303
    assert "Given up" in read(browser.get("/webhooks").text).text
    assert browser.post(f"/webhook-deliveries/{delivery.delivery_id}/again").status_code == 404
    assert browser.post("/webhooks", {"url": "https://10.0.0.1/", "event": ["shipment_short"]}).status_code == 400


def test_the_command_does_the_same(ctx: service.Context, capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    data = ["--data", str(ctx.data)]

    def output_of(*arguments: str, status: int = 0) -> str:
        assert run(["webhook", *arguments, *data]) == status
        return capsys.readouterr().out

    added = output_of(
        "add", ADDRESS, "--event", "shipment_short", "--event", "receipt_sealed", "--store", "0417", *SPRING
    )
    webhook = added.split("\n")[0]
    assert "whsec_" in added
    assert json.loads(output_of("list", "--json")) == {
        "webhook": webhook,
        "url": ADDRESS,
        "events": ["receipt_sealed", "shipment_short"],
        "stores": ["0417"],
        "programmes": ["Spring reset"],
    }
    output_of("try", webhook)
    sent = json.loads(output_of("deliveries", "--json"))
    assert (sent["event"], sent["tries"], sent["delivered_at"]) == ("trial", 0, None)
    assert "whsec_" in output_of("secret", webhook)
    output_of("again", str(sent["delivery"]))
    assert "stores 0417, programmes Spring reset" in output_of("list")
    output_of("end", webhook)
    assert "ended" in output_of("list")
    output_of("end", webhook, status=1)
    output_of("add", "http://127.0.0.1:9/", "--event", "shipment_short", status=1)
    output_of("add", "http://127.0.0.1:9/", "--event", "shipment_short", "--webhook-network", "127.0.0.1/32")
    assert read_networks(["127.0.0.1/32"])
