"""Hours without a signal: what is on the phone, what it says of a scan, and that it says no more than the service."""

import json
from pathlib import Path

import pytest

from receiving import service
from receiving.model import Role
from tests.web.browser.test_outbox import reads, sent, waits
from tests.web.browser.test_phone import counts, eventually, wedge
from tests.web.scenario import SHIPMENT, sscc
from tests.web.test_access import WORDS
from web.access import SESSION_COOKIE

pytestmark = pytest.mark.browser
ADDRESS = "/s/S-2041~2FA"
TABLE = json.loads((Path(__file__).parents[1] / "matching_cases.json").read_text())
MODULE = "document.querySelector('script[src*=\"app.js\"]').src.replace('app.js', '{}.js')"


def test_the_phone_matches_as_the_table_says(phone, served) -> None:
    address, ctx = served
    service.import_manifest(ctx, "table.csv", "\n".join(TABLE["manifest"]).encode())
    phone.goto(f"{address}/s/S-77")
    named = phone.evaluate(
        f"""async (texts) => {{
          const {{ matchOnPhone }} = await import({MODULE.format("matching")});
          const sheet = await (await fetch("/s/S-77/sheet")).json();
          return texts.map(([text, source]) => matchOnPhone(text, sheet, source)?.carton ?? null);
        }}""",
        [(case["text"], case.get("source", "scanner")) for case in TABLE["cases"]],
    )
    wanted = [case["carton"] if case["phone"] else None for case in TABLE["cases"]]
    assert dict(zip([case["what"] for case in TABLE["cases"]], named, strict=True)) == dict(
        zip([case["what"] for case in TABLE["cases"]], wanted, strict=True)
    )


def test_the_phone_understands_a_scanner_that_was_set_up_as_the_table_says(phone, served) -> None:
    address, ctx = served
    service.import_manifest(ctx, "table.csv", "\n".join(TABLE["manifest"]).encode())
    phone.goto(f"{address}/s/S-77")
    named = phone.evaluate(
        f"""async (cases) => {{
          const {{ matchOnPhone }} = await import({MODULE.format("matching")});
          const sheet = await (await fetch("/s/S-77/sheet")).json();
          return cases.map(({{ text, profile }}) =>
            matchOnPhone(text, {{ ...sheet, scanner: profile }}, "scanner")?.carton ?? null);
        }}""",
        TABLE["scanners"],
    )
    assert named == [case["carton"] for case in TABLE["scanners"]]


def prepared(phone, address: str) -> None:
    """Opened once with a signal, until everything is on the phone."""
    phone.goto(address + ADDRESS)
    phone.evaluate("navigator.serviceWorker.ready.then(() => true)")
    kept = "caches.open('pages').then((c) => c.keys()).then((all) => all.some((k) => k.url.endsWith('/cartons/22')))"
    shell = "caches.open('assets').then((c) => c.keys()).then((all) => all.some((k) => k.url.endsWith('/words.js')))"
    while not (phone.evaluate(kept) and phone.evaluate(shell)):
        phone.wait_for_timeout(100)


def test_pages_that_were_never_opened_open_without_a_signal(phone, served) -> None:
    address, _ = served
    prepared(phone, address)
    phone.context.set_offline(True)
    for path, words in (
        (f"{ADDRESS}/cartons/22", "22"),
        (f"{ADDRESS}/stage", "Staging"),
        (f"{ADDRESS}/hand-over", "Hand over"),
        (f"{ADDRESS}/contents", "Contents"),
        ("/outbox", "On this phone"),
        ("/", "Shipments"),
    ):
        phone.goto(address + path)
        assert words in phone.inner_text("main"), path


def test_a_scan_is_answered_without_a_signal_and_a_second_one_is_told(phone, served) -> None:
    address, ctx = served
    prepared(phone, address)
    phone.context.set_offline(True)
    phone.goto(address + ADDRESS)
    phone.evaluate("window.heard = []; addEventListener('sounded', (e) => heard.push(e.detail.kind))")
    for serial, words, kind in ((3, "Here · 03", "here"), (1, "Here · 01", "first"), (3, "Already seen", "already")):
        wedge(phone, f"]C100{sscc(serial)}")
        phone.locator("#answer", has_text=words).wait_for()
        assert phone.evaluate("heard.at(-1)") == kind
    wedge(phone, f"]C100{sscc(102)}")
    phone.locator("#answer", has_text="It is sent when the signal is back.").wait_for()
    waits(phone, "4 scans")
    assert phone.inner_text("#made") == "4 on this phone, 4 waiting"
    phone.context.set_offline(False)
    sent(phone)
    counts(phone, 2)
    assert reads(ctx) == 4
    phone.goto(address + "/outbox")
    phone.locator("#done .queue-row").nth(3).wait_for()
    assert "Already seen" in phone.inner_text("#done") or "Here · 03" in phone.inner_text("#done")


def test_a_manifest_revised_meanwhile_wins_and_the_difference_is_told(phone, served) -> None:
    from tests.web.scenario import MANIFEST

    address, ctx = served
    prepared(phone, address)
    phone.context.set_offline(True)
    phone.goto(address + ADDRESS)
    wedge(phone, f"]C100{sscc(3)}")
    phone.locator("#answer", has_text="Here · 03").wait_for()
    swapped = MANIFEST.replace(sscc(3), "X").replace(sscc(4), sscc(3)).replace("X", sscc(4))
    service.import_manifest(ctx, "swapped.csv", swapped.encode())
    phone.context.set_offline(False)
    sent(phone)
    phone.goto(address + "/outbox")
    phone.locator("#done .queue-row").wait_for()
    assert "This phone took it for carton 03; the service says: 04." in phone.inner_text("#done")
    assert [f.carton.carton for f in service.get_shipment(ctx, SHIPMENT).reconciliation.received] == ["04"]


def test_a_whole_visit_is_confirmed_without_a_signal(phone, served) -> None:
    """Scans, damage, a search and the store's confirmation wait; the receipt is of what the manager was told."""
    address, ctx = served
    prepared(phone, address)
    phone.context.set_offline(True)
    phone.goto(address + ADDRESS)
    for serial in (3, 4):
        wedge(phone, f"]C100{sscc(serial)}")
        phone.locator("#answer", has_text=f"Here · {serial:02d}").wait_for()
    phone.goto(f"{address}{ADDRESS}/cartons/04")
    phone.click("#note-damage > summary")
    phone.check("#note-damage [name=usable][value=false]")
    phone.click("text=Note it")
    waits(phone, "1 damage")
    phone.goto(f"{address}{ADDRESS}/receipt")
    phone.locator("#since li").nth(2).wait_for()
    assert [each.inner_text() for each in phone.locator("#since li").all()] == ["Scan · 03", "Scan · 04", "Damage · 04"]
    phone.fill("#name", "Grace")
    phone.fill("#role", "Store manager")
    phone.check("[name=short][value=reason]")
    phone.fill("#short_reason", "the van left before all was unloaded")
    phone.click("button[name=how]")
    phone.locator(".form-said", has_text="stored on this phone").wait_for()
    phone.context.set_offline(False)
    sent(phone)
    eventually(phone, lambda: len(service.get_shipment(ctx, SHIPMENT).receipts) == 1)
    receipt = service.get_receipt(ctx, SHIPMENT, 1)
    assert (receipt.name, receipt.shown.received) == ("Grace", 2)
    assert [line.carton for line in receipt.shown.lines if line.state == "damaged"] == ["04"]


def test_it_can_be_put_on_the_home_screen(phone, served) -> None:
    """What Chromium asks for: a manifest with a name, a start, a display mode, and icons of 192 and 512 px."""
    address, _ = served
    phone.goto(address + ADDRESS)
    session = phone.context.new_cdp_session(phone)
    errors = {each["errorId"] for each in session.send("Page.getInstallabilityErrors")["installabilityErrors"]}
    assert errors <= {"in-incognito"}  # a test's browser keeps nothing
    parsed = session.send("Page.getAppManifest")
    assert parsed["errors"] == []


def test_who_signs_out_leaves_no_page_on_the_phone(phone, served) -> None:
    address, ctx = served
    service.add_person(ctx, "Ada Lund", Role.COORDINATOR, WORDS)
    given = service.sign_in(ctx, "Ada Lund", WORDS, address="127.0.0.1")
    phone.context.add_cookies([{"name": SESSION_COOKIE, "value": given.token, "url": address}])
    prepared(phone, address)
    phone.click("footer.who button")
    phone.locator("input[name=password]").wait_for()
    kept = "caches.open('pages').then((c) => c.keys()).then((all) => all.map((k) => new URL(k.url).pathname))"
    # What the sign-in page keeps anew tells of no shipment: what waits on this phone, and that there is no signal.
    assert set(phone.evaluate(kept)) <= {"/outbox", "/no-signal"}


def test_a_session_that_was_ended_elsewhere_leaves_no_page_on_the_phone_once_it_is_told(phone, served) -> None:
    address, ctx = served
    service.add_person(ctx, "Ada Lund", Role.COORDINATOR, WORDS)
    rui = service.add_person(ctx, "Rui Paz", Role.REP, WORDS)
    given = service.sign_in(ctx, "Rui Paz", WORDS, address="127.0.0.1")
    phone.context.add_cookies([{"name": SESSION_COOKIE, "value": given.token, "url": address}])
    prepared(phone, address)
    service.close_account(ctx, rui.person_id)
    phone.goto(address + ADDRESS)
    phone.locator("input[name=password]").wait_for()
    kept = "caches.open('pages').then((c) => c.keys()).then((all) => all.map((k) => new URL(k.url).pathname))"
    eventually(phone, lambda: set(phone.evaluate(kept)) <= {"/outbox", "/no-signal"})


KEPT = "caches.open('pages').then((c) => c.keys()).then((all) => all.map((k) => new URL(k.url).pathname))"


def sheets(phone) -> list[str]:
    """The shipments whose codes the phone holds."""
    return phone.evaluate(
        """() => new Promise((resolve) => {
          const asked = indexedDB.open("receiving-outbox");
          asked.onsuccess = () => {
            const keys = asked.result.transaction("meta").objectStore("meta").getAllKeys();
            keys.onsuccess = () => {
              asked.result.close();
              resolve(keys.result.filter((key) => String(key).startsWith("sheet ")));
            };
          };
        })"""
    )


@pytest.mark.parametrize("comes", ["by a password", "by a cookie", "by a link"])
def test_who_comes_next_on_a_phone_sees_nothing_that_was_kept_for_the_one_before(phone, served, comes: str) -> None:
    """The first one neither signed out nor was told that his session is over; then the signal goes."""
    address, ctx = served
    service.add_person(ctx, "Ada Lund", Role.COORDINATOR, WORDS)
    service.add_person(ctx, "Rui Paz", Role.REP, WORDS)
    service.add_person(ctx, "Eva Lind", Role.REP, WORDS, stores=["0422"])
    given = service.sign_in(ctx, "Rui Paz", WORDS, address="127.0.0.1")
    phone.context.add_cookies([{"name": SESSION_COOKIE, "value": given.token, "url": address}])
    prepared(phone, address)
    assert sheets(phone)
    if comes == "by a password":
        phone.goto(f"{address}/sign-in")
        phone.fill("input[name=name]", "Eva Lind")
        phone.fill("input[name=password]", WORDS)
        phone.press("input[name=password]", "Enter")
    elif comes == "by a cookie":  # as after a passkey, or from the company's own sign-on
        given = service.sign_in(ctx, "Eva Lind", WORDS, address="127.0.0.1")
        phone.context.add_cookies([{"name": SESSION_COOKIE, "value": given.token, "url": address}])
        phone.goto(address)
    else:
        _, secret = service.make_link(ctx, "S-2055", "Dock team", days=3, by="Ada Lund")
        phone.goto(f"{address}/come#{secret}")
        phone.locator("[data-come] button").click()
    phone.locator("body[data-account]:not([data-account='Rui Paz'])").wait_for()
    eventually(phone, lambda: not [path for path in phone.evaluate(KEPT) if "S-2041" in path])
    eventually(phone, lambda: not [key for key in sheets(phone) if "S-2041" in key])
    phone.context.set_offline(True)
    phone.goto(address + ADDRESS)
    assert "S-2041" not in phone.locator("body").inner_text()
    assert "No signal" in phone.locator("h1").inner_text()


def test_who_signs_in_again_has_his_pages_on_the_phone_again(phone, served) -> None:
    address, ctx = served
    service.add_person(ctx, "Ada Lund", Role.COORDINATOR, WORDS)
    for _ in range(2):
        given = service.sign_in(ctx, "Ada Lund", WORDS, address="127.0.0.1")
        phone.context.add_cookies([{"name": SESSION_COOKIE, "value": given.token, "url": address}])
        prepared(phone, address)
        phone.click("footer.who button")
        phone.locator("input[name=password]").wait_for()
        assert not sheets(phone)
