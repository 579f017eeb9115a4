"""The office on a phone, in Chromium: pages fit, a fault leads to its line, and nothing needs a script."""

import pytest

from receiving import service
from tests.web.browser.test_phone import faint_texts
from tests.web.scenario import SHIPMENT

pytestmark = pytest.mark.browser
ADDRESS = "/s/S-2041~2FA"
PAGES = (
    "/office",
    "/office/patterns",
    "/office/layouts/0417",
    "/office/layouts/0422",
    "/office/kit",
    "/office/kit/moves",
    "/office/parts",
    f"{ADDRESS}/manifest",
    f"{ADDRESS}/planogram",
    f"{ADDRESS}/planogram/03",
    f"{ADDRESS}/labels?carton=12",
)


def test_no_page_is_wider_than_the_phone(phone, served) -> None:
    address, ctx = served
    service.save_text(
        ctx, service.KIT, "kit", "item,section,column,row\nA-VERY-LONG-ITEM-NUMBER,Harbor Lane,1,1\n", follows=0
    )
    for path in PAGES:
        phone.goto(address + path)
        assert phone.evaluate("document.documentElement.scrollWidth") <= 360, path


def test_a_fault_leads_to_its_line_in_the_editor(phone, served) -> None:
    address, _ = served
    phone.goto(address + "/office/layouts/0417")
    phone.fill("#text", phone.input_value("#text").replace("[4, 5, 6]", "[3, 4]"))
    phone.click("button[value=save]")
    phone.wait_for_selector("a[data-line]")
    phone.wait_for_load_state()  # the page's script runs before it is loaded
    phone.click("a[data-line]")
    selected = "(t => t.value.slice(t.selectionStart, t.selectionEnd))(document.getElementById('text'))"
    assert phone.evaluate(selected) == "columns = [3, 4]"
    assert phone.evaluate("document.activeElement.id") == "text"


def test_without_scripts_a_carton_is_moved_and_the_move_is_undone(chromium, served) -> None:
    address, ctx = served
    context = chromium.new_context(viewport={"width": 360, "height": 740}, java_script_enabled=False)
    page = context.new_page()
    page.goto(address + f"{ADDRESS}/planogram/03")
    page.fill("#column-1", "5")
    page.click("button[value=check]")
    page.click("button[value=save]")
    page.click("text=Manifest")
    page.click("text=Go back to it")
    page.click("text=Restore it")
    page.wait_for_url("**/manifest?restored=3")
    context.close()
    manifest, revision = service.get_manifest(ctx, SHIPMENT)
    assert (revision, manifest) == (3, service.list_revisions(ctx, SHIPMENT)[0].manifest)


def test_every_text_of_the_office_has_contrast_enough(phone, served) -> None:
    """WCAG 2.2, 1.4.3, measured as on the rep's pages; also what a check and a fault show."""
    address, _ = served
    for path in PAGES:
        phone.goto(address + path)
        assert faint_texts(phone) == [], path
    phone.goto(address + "/office/layouts/0417")
    for old, new, shown in (("[4, 5, 6]", "[4, 5]", ".differences"), ("[4, 5]", "[3, 4]", ".office-faults")):
        phone.fill("#text", phone.input_value("#text").replace(old, new))
        phone.click("button[value=check]")
        phone.wait_for_selector(shown)
        assert faint_texts(phone) == [], shown


def test_a_long_import_says_that_it_is_being_read(phone, served) -> None:
    address, _ = served
    phone.goto(f"{address}/import")
    phone.evaluate("window.addEventListener('submit', (event) => event.preventDefault())")  # behind the page's own
    rows = b"shipment,store,carton,kind\n" + b"".join(b"W%d,0417,1,tray\n" % n for n in range(8000))
    phone.set_input_files("#manifest", {"name": "long.csv", "mimeType": "text/csv", "buffer": rows})
    phone.click("text=Check the file")  # which takes for ever
    phone.locator("[data-reading]", has_text="Sending and reading the file (0.1 MB): 3 s").wait_for()


def test_a_form_tapped_twice_or_sent_again_after_back_is_done_once(phone, served) -> None:
    address, ctx = served
    form = "document.querySelector('form:has(#deliver_to)')"

    def open_form() -> None:
        phone.goto(address + "/stores/0417/request")
        phone.wait_for_load_state("networkidle")

    def send(taps: int = 1) -> None:
        phone.fill("#deliver_to", "back door")
        phone.fill("#contact", "Cem")
        phone.evaluate(f"{form}.requestSubmit();" * taps)
        phone.wait_for_url("**/requests/*")

    open_form()
    send(taps=2)
    assert len(service.list_requests(ctx, "0417")) == 1
    where = phone.url
    phone.go_back()
    phone.wait_for_load_state("networkidle")
    send()
    assert len(service.list_requests(ctx, "0417")) == 1, "this entry of the history is the one from which it was sent"
    assert phone.url == where
    open_form()
    field = phone.evaluate(f"[...new FormData({form}).keys()].includes('action_id')")
    assert not field, "a page that was opened anew says something new"
