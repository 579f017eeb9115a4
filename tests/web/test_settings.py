"""Settings of the house: units on pages, labels with a sender and for a label printer, links that any phone opens."""

from flask.testing import FlaskClient

from receiving import service
from receiving.service import Settings, Units
from tests.web.conftest import Browser
from tests.web.page_text import read

MANIFEST = (
    "shipment,store,carton,kind,sscc,section,column,row,weight_kg,length_cm,width_cm,height_cm\n"
    "S-7,0417,07,tray,395200007770000013,Harbor,3,2,30,60,40,20\n"
)
SENT = {
    "units": "us", "sender": "Harbor Fixtures\n12 Quay Street", "dpi": "203", "right_mm": "1.5", "down_mm": "-2",
    "link_host": "https://boxes.example/",
}  # fmt: skip


def test_settings_are_saved_and_shown(ctx: service.Context, browser: Browser) -> None:
    assert browser.post("/office/settings", SENT).status_code == 303
    assert service.get_settings(ctx) == Settings(
        Units.US, ("Harbor Fixtures", "12 Quay Street"), "https://boxes.example", 203, (1.5, -2.0)
    )
    page = read(browser.client.get("/office/settings").text)
    assert "Settings" in page.text


def test_settings_that_cannot_be_are_refused_in_words(ctx: service.Context, browser: Browser) -> None:
    for change, words in (
        ({"link_host": "boxes"}, "'boxes' is not the start of a web address."),
        ({"dpi": "150"}, "There are no printers of 150 dots per inch here."),
        ({"right_mm": "40"}, "The labels cannot be moved by 40 and -2 mm."),
        ({"right_mm": "far"}, "'far' is not a number of millimetres."),
        ({"sender": "a\nb\nc\nd"}, "The sender is too long for a label."),
        ({"sender": "สม"}, "The label's fonts cannot print ส (U+0E2A), ม (U+0E21) of 'สม'."),
    ):
        answer = browser.post("/office/settings", {**SENT, **change})
        assert (answer.status_code, words in read(answer.text).text) == (422, True), words
    assert service.get_settings(ctx) == Settings()


def test_pages_show_the_units_that_are_set_and_cautions_both(ctx: service.Context, browser: Browser) -> None:
    service.import_manifest(ctx, "m.csv", MANIFEST.encode())
    metric = read(browser.client.get("/s/S-7/cartons/07").text).text
    assert "30 kg, 60 × 40 × 20 cm" in metric
    assert "30 kg (66.1 lb): not alone" in metric
    service.save_settings(ctx, Settings(Units.US))
    pounds = read(browser.client.get("/s/S-7/cartons/07").text).text
    assert "66.139 lb, 23.6 × 15.7 × 7.9 in" in pounds
    assert "66.1 lb (30 kg): not alone" in pounds


def test_labels_for_a_label_printer(ctx: service.Context, client: FlaskClient) -> None:
    service.import_manifest(ctx, "m.csv", MANIFEST.encode())
    file = client.get("/s/S-7/labels.pdf?which=all&as=printer&dpi=203")
    assert file.data.startswith(b"^XA^PW812^LL1218")
    assert "labels-S-7.zpl" in file.headers["Content-Disposition"]
    refused = client.get("/s/S-7/labels.pdf?which=all&as=printer&stock=a4-4up")
    assert "a label printer takes single labels" in refused.text
    assert "There is no printer of" in client.get("/s/S-7/labels.pdf?which=all&dpi=7").text


def test_a_printed_link_opens_its_carton(ctx: service.Context, client: FlaskClient) -> None:
    service.import_manifest(ctx, "m.csv", MANIFEST.encode())
    assert client.get("/00/395200007770000013").headers["Location"] == "/s/S-7/cartons/07"
    assert client.get("/00/395200007770000020").status_code == 404
    assert client.get("/00/395200007770000014").status_code == 400
    wrong = MANIFEST.replace("S-7", "S-8").replace("sscc", "barcode").replace("0000013", "0000014")
    service.import_manifest(ctx, "wrong.csv", wrong.encode())
    assert client.get("/00/395200007770000014").headers["Location"] == "/s/S-8/cartons/07"
