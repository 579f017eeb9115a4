"""What a phone holds back until the server has it: every way in which a record could be lost or counted twice."""

import contextlib
import os
import re
import signal
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from receiving import service
from receiving.model import Place, Role, Source
from tests.web.browser.conftest import ARGUMENTS, CHROMIUM
from tests.web.browser.test_phone import counts, eventually, wedge
from tests.web.scenario import SHIPMENT, picture, sscc
from web.access import SESSION_COOKIE

pytestmark = pytest.mark.browser
ADDRESS = "/s/S-2041~2FA"
WORDS = "four plain words here"
LOGIN = "<!doctype html><title>Sign in</title><h1 id=stranger>Sign in</h1><script>window.stranger = 1</script>"


def waits(phone, text: str) -> None:
    phone.locator("#signal", has_text=text).wait_for()


WAITING = """async () => {
    const app = document.querySelector('script[src$="/app.js"]');
    const { outbox } = await import(app.src.replace(/app[.]js$/, "outbox.js"));
    return Object.values((await outbox.counts()).waiting).reduce((sum, count) => sum + count, 0);
}"""


def waiting(phone) -> int:
    """How many actions wait on the phone; more than none while a page goes to another."""
    try:
        return phone.evaluate(WAITING)
    except Exception as fault:  # the browser's driver is not installed everywhere, so its errors have no name here
        if "context was destroyed" not in str(fault):
            raise
        return 1


def sent(phone) -> None:
    """Nothing waits on the phone any more; the line of what waits is hidden already while something is being sent."""
    eventually(phone, lambda: waiting(phone) == 0)
    phone.locator("#signal").wait_for(state="hidden")


def reads(ctx: service.Context) -> int:
    return len(service.get_shipment(ctx, SHIPMENT).reads)


def scan_without_signal(phone, *serials: int) -> None:
    phone.context.set_offline(True)
    for serial in serials:
        wedge(phone, f"]C100{sscc(serial)}")
    waits(phone, "No signal.")


def test_scans_outlive_a_token_that_was_gone_when_the_signal_came_back(phone, served) -> None:
    address, ctx = served
    phone.goto(address + ADDRESS)
    scan_without_signal(phone, 3, 4, 5)
    waits(phone, "3 scans")
    phone.context.clear_cookies(name="token")
    phone.context.set_offline(False)
    sent(phone)
    counts(phone, 3)
    assert reads(ctx) == 3


@pytest.mark.parametrize(
    ("status", "headers", "body", "words"),
    [
        (200, {"Content-Type": "text/html"}, LOGIN, "Sign in again. 1 scan waits"),
        (302, {"Location": "/login"}, "", "Sign in again. 1 scan waits"),
        (401, {"Content-Type": "text/html"}, LOGIN, "Sign in again. 1 scan waits"),
        (404, {"Content-Type": "text/html"}, LOGIN, "Something between this phone and the service"),
        (413, {"Content-Type": "text/html"}, "too large", "accepts nothing this large"),
        (200, {"Content-Type": "application/json"}, '{"state": "done"}', "Sign in again. 1 scan waits"),
        (502, {"Content-Type": "text/html"}, "bad gateway", "The service cannot accept it now. 1 scan waits"),
    ],
)
def test_only_our_own_answer_lets_a_scan_go(held_phone, served, status, headers, body, words) -> None:
    address, ctx = served
    phone = held_phone
    phone.goto(address + ADDRESS)
    phone.route("**/scans", lambda route: route.fulfill(status=status, headers=headers, body=body))
    wedge(phone, f"]C100{sscc(3)}")
    waits(phone, words)
    assert phone.locator("#stranger").count() == 0
    assert phone.evaluate("window.stranger") is None
    phone.unroute("**/scans")
    phone.reload()
    sent(phone)
    counts(phone, 1)
    assert reads(ctx) == 1


def test_a_login_page_never_gets_into_the_page_that_follows_along(held_phone, served) -> None:
    address, ctx = served
    phone = held_phone
    phone.goto(address + ADDRESS)
    phone.route("**/live*", lambda route: route.fulfill(status=200, content_type="text/html", body=LOGIN))
    with phone.expect_response("**/live*"):
        service.add_scan(ctx, SHIPMENT, f"]C100{sscc(3)}", place=Place.DOCK, by="Bo", source=Source.SCANNER)
    phone.wait_for_timeout(200)
    assert phone.locator("#stranger").count() == 0
    phone.unroute("**/live*")
    counts(phone, 1)


def test_what_the_server_refuses_stays_listed_until_a_person_deletes_it(phone, served) -> None:
    address, ctx = served
    phone.goto(address + ADDRESS)
    wedge(phone, "]C1")  # an AIM symbology identifier with nothing behind it
    waits(phone, "1 entry was refused")
    wedge(phone, f"]C100{sscc(3)}")
    counts(phone, 1)
    phone.click("#signal a")
    row = phone.locator("#refused .queue-row")
    row.wait_for()
    assert "Scan or type the label again." in row.inner_text()
    row.get_by_role("button", name=re.compile("^Delete")).click()
    row.get_by_role("button", name=re.compile("^Delete for good")).click()
    row.wait_for(state="detached")
    assert phone.locator("#done .queue-row").count() == 1
    assert reads(ctx) == 1


def test_notes_counts_places_and_damage_wait_for_a_signal_too(phone, served) -> None:
    address, ctx = served
    phone.goto(f"{address}{ADDRESS}/cartons/13")
    phone.evaluate("navigator.serviceWorker.ready.then(() => true)")
    phone.context.set_offline(True)
    phone.click("#place-of button:has-text('Back room')")
    waits(phone, "1 place")
    phone.fill("#contents input[name=qty]", "4")
    phone.click("#contents .line button")
    waits(phone, "1 count")
    phone.click("#note-damage summary")
    phone.check("#note-damage input[value=true]")
    phone.set_input_files("#photo_file", {"name": "corner.jpg", "mimeType": "image/jpeg", "buffer": picture("#333")})
    phone.click("#note-damage button")
    waits(phone, "1 damage")
    assert "stored on this phone" in phone.inner_text("#note-damage .form-said")
    assert service.get_shipment(ctx, SHIPMENT).notes == ()
    phone.context.set_offline(False)
    sent(phone)
    eventually(phone, lambda: len(service.get_shipment(ctx, SHIPMENT).notes) == 3)
    view = service.get_shipment(ctx, SHIPMENT)
    assert [type(note).__name__ for note in view.notes] == ["CartonPlace", "ContentCounted", "DamageNoted"]
    assert {note.by for note in view.notes} == {"Ada"}
    assert len(view.photos) == 1


def test_a_scan_without_signal_is_taken_back_without_signal(phone, served) -> None:
    """An undo names the scan by the id that the phone gave it, so both arrive in order."""
    address, _ = served
    phone.goto(address + ADDRESS)
    wedge(phone, f"]C100{sscc(3)}")
    phone.wait_for_selector("#answer button:has-text('Undo')")  # the service's answer: the phone's own has none
    phone.context.set_offline(True)
    phone.click("#answer button:has-text('Undo')")
    waits(phone, "1 undo")
    phone.context.set_offline(False)
    sent(phone)
    counts(phone, 0)


def test_a_shipment_that_fails_does_not_hold_up_another(held_phone, served) -> None:
    address, ctx = served
    phone = held_phone
    failing = "**/s/S-2041~2FA/scans"
    phone.goto(address + ADDRESS)
    phone.route(failing, lambda route: route.fulfill(status=503, body="no"))
    wedge(phone, f"]C100{sscc(3)}")
    waits(phone, "The service cannot accept it now.")
    phone.goto(f"{address}/s/S-2055")
    wedge(phone, f"]C100{sscc(101)}")
    counts(phone, 1)
    assert (reads(ctx), len(service.get_shipment(ctx, "S-2055").reads)) == (0, 1)
    phone.unroute(failing)
    phone.reload()
    sent(phone)
    assert reads(ctx) == 1


def test_two_tabs_send_each_scan_once_and_a_token_renewed_in_one_loses_none_of_the_other(phone, served) -> None:
    address, ctx = served
    phone.goto(address + ADDRESS)
    second = phone.context.new_page()
    second.goto(address + ADDRESS)
    scan_without_signal(phone, 3, 4)
    for serial in (5, 6):
        wedge(second, f"]C100{sscc(serial)}")
    waits(second, "4 scans")
    waits(phone, "4 scans")
    phone.context.clear_cookies(name="token")
    phone.context.set_offline(False)
    sent(phone)
    sent(second)
    counts(phone, 4)
    assert sorted(read.raw.raw for read in service.get_shipment(ctx, SHIPMENT).reads) == [
        f"00{sscc(n)}" for n in (3, 4, 5, 6)
    ]


def test_an_answer_lost_on_its_way_back_does_not_count_a_scan_twice(held_phone, served) -> None:
    address, ctx = served
    phone = held_phone
    phone.goto(address + ADDRESS)

    def lose(route) -> None:
        route.fetch()
        route.abort()

    phone.route("**/scans", lose)
    wedge(phone, f"]C100{sscc(3)}")
    waits(phone, "1 scan waits")
    assert reads(ctx) == 1
    phone.unroute("**/scans")
    phone.reload()
    sent(phone)
    assert reads(ctx) == 1


def test_a_scan_keeps_the_time_at_which_it_was_made_by_the_clock_of_the_server(phone, served) -> None:
    """The phone's clock is a day ahead; the scan waits an hour."""
    address, ctx = served
    phone.clock.install(time=ctx.now().timestamp() + 86400)
    phone.goto(address + ADDRESS)
    phone.evaluate("fetch('/signal').then(() => true)")
    scan_without_signal(phone, 3)
    made_at = ctx.now()
    later = made_at.replace(hour=made_at.hour + 1)
    ctx.now = lambda: later
    phone.clock.fast_forward("01:00:00")
    phone.context.set_offline(False)
    sent(phone)
    (read,) = service.get_shipment(ctx, SHIPMENT).reads
    assert abs((read.raw.read_at - made_at).total_seconds()) < 60


@pytest.mark.parametrize("hours", [3, -3])
def test_a_clock_that_is_changed_while_there_is_no_signal_moves_no_scan(phone, served, hours: int) -> None:
    address, ctx = served
    ctx.now = lambda: datetime.now(UTC)
    phone.goto(address + ADDRESS)
    phone.wait_for_timeout(1500)
    scan_without_signal(phone, 3)
    phone.evaluate("(ms) => { const real = Date.now; Date.now = () => real() + ms; }", hours * 3_600_000)
    before = datetime.now(UTC)
    wedge(phone, f"]C100{sscc(4)}")
    waits(phone, "2 scans")
    after = datetime.now(UTC)
    phone.wait_for_timeout(6000)
    phone.context.set_offline(False)
    sent(phone)
    eventually(phone, lambda: reads(ctx) == 2)
    first, second = (read.raw.read_at for read in service.get_shipment(ctx, SHIPMENT).reads)
    slack = timedelta(seconds=2)
    assert first < before + slack
    assert before - slack < second < after + slack


def test_a_repeated_scan_says_so_and_has_a_tone_of_its_own(phone, served) -> None:
    address, ctx = served
    service.add_scan(ctx, SHIPMENT, f"]C100{sscc(3)}", place=Place.DOCK, by="Bo", source=Source.SCANNER)
    phone.goto(address + ADDRESS)
    phone.evaluate("window.heard = []; addEventListener('sounded', (e) => heard.push(e.detail.kind))")
    for serial, kind in ((3, "already"), (1, "first"), (4, "here"), (101, "extra")):
        wedge(phone, f"]C100{sscc(serial)}")
        phone.wait_for_function(f"() => heard.at(-1) === '{kind}'")
        if kind == "already":
            phone.locator("#answer", has_text="Already seen by Bo, dock").wait_for()


def test_the_place_is_chosen_and_a_scan_list_loaded_without_a_signal(phone, served) -> None:
    address, ctx = served
    phone.goto(address + ADDRESS)
    phone.context.set_offline(True)
    phone.click("#place summary")
    phone.click("#place button:has-text('Overhead')")
    assert phone.inner_text("#place summary b") == "Overhead"
    assert "do not climb" in phone.inner_text("#dock .caution")
    wedge(phone, f"]C100{sscc(3)}")
    waits(phone, "1 scan")
    line = f"11111111-1111-4111-8111-111111111111,2026-03-05T08:00:00Z,00{sscc(4)},dock,Bo"
    scans = f"scan_id,scanned_at,raw,place,by\n{line}\n"
    phone.click("#place summary")
    phone.set_input_files("#list", {"name": "scans.csv", "mimeType": "text/csv", "buffer": scans.encode()})
    phone.click("#place button:has-text('Load')")
    waits(phone, "1 scan list")
    phone.context.set_offline(False)
    sent(phone)
    counts(phone, 2)
    places = {read.raw.raw[-2:]: read.raw.place for read in service.get_shipment(ctx, SHIPMENT).reads}
    assert places == {sscc(3)[-2:]: Place.OVERHEAD, sscc(4)[-2:]: Place.DOCK}


def test_who_is_receiving_is_said_without_a_signal(chromium, served) -> None:
    """A phone that opened the page once and lost the signal before its owner had said her name."""
    address, ctx = served
    context = chromium.new_context(viewport={"width": 360, "height": 740})
    phone = context.new_page()
    phone.set_default_timeout(120_000)
    phone.goto(address + ADDRESS)
    phone.evaluate("navigator.serviceWorker.ready.then(() => true)")
    context.set_offline(True)
    phone.fill("#person", "Ada")
    phone.click(".ask-who button")
    wedge(phone, f"]C100{sscc(3)}")
    waits(phone, "No signal.")
    assert reads(ctx) == 0
    context.set_offline(False)
    sent(phone)
    counts(phone, 1)
    assert [read.raw.by for read in service.get_shipment(ctx, SHIPMENT).reads] == ["Ada"]
    eventually(phone, lambda: any(cookie["name"] == "person" for cookie in context.cookies()))
    phone.reload()
    assert phone.locator(".ask-who").count() == 0
    context.close()


FULL = """(stores) => {
    window.room = IDBObjectStore.prototype.put;
    IDBObjectStore.prototype.put = function (value, key) {
        if (stores.includes(this.name)) throw new DOMException("no room", "QuotaExceededError");
        return window.room.call(this, value, key);
    };
}"""
"""As a browser says it when its quota is used up (Indexed Database API 3.0); the driver cannot make the quota small."""


def test_a_phone_that_is_full_says_so_and_loses_nothing(phone, served) -> None:
    """What is stored already is sent; what cannot be stored is told at once, and is not left half stored."""
    address, ctx = served
    phone.goto(address + ADDRESS)
    scan_without_signal(phone, 3)
    phone.evaluate(FULL, ["files"])
    phone.set_input_files("#shoot", {"name": "pile.jpg", "mimeType": "image/jpeg", "buffer": picture()})
    phone.locator("#answer", has_text="This phone is full").wait_for()
    assert waiting(phone) == 1
    phone.evaluate("void (IDBObjectStore.prototype.put = window.room)")
    phone.context.set_offline(False)
    sent(phone)
    eventually(phone, lambda: reads(ctx) == 1)
    assert service.get_shipment(ctx, SHIPMENT).photos == ()


def test_what_a_full_phone_cannot_mark_as_refused_holds_nothing_up_and_is_told_later(phone, served) -> None:
    address, ctx = served
    phone.goto(address + ADDRESS)
    phone.context.set_offline(True)
    wedge(phone, "]C1")  # an AIM symbology identifier with nothing behind it
    wedge(phone, f"]C100{sscc(3)}")
    wedge(phone, f"]C100{sscc(4)}")
    waits(phone, "3 scans")
    phone.evaluate(FULL, ["actions", "files", "meta"])
    posts = []
    phone.on("request", lambda request: posts.append(request.url) if request.method == "POST" else None)
    phone.context.set_offline(False)
    eventually(phone, lambda: reads(ctx) == 2 and waiting(phone) == 1)
    phone.wait_for_timeout(2500)
    assert 0 < len(posts) < 9  # sent again after a pause, and not as fast as the phone can
    assert reads(ctx) == 2
    phone.evaluate("void (IDBObjectStore.prototype.put = window.room)")
    waits(phone, "1 entry was refused")
    assert waiting(phone) == 0
    assert reads(ctx) == 2


def test_what_waits_outlives_a_browser_that_is_killed(chromium, served, tmp_path) -> None:
    """Its processes are ended without a word while records wait (SIGKILL), as by a phone that needs memory."""
    address, ctx = served
    profile = tmp_path / "profile"

    def opened() -> object:
        context = chromium.browser_type.launch_persistent_context(
            profile, executable_path=CHROMIUM, args=ARGUMENTS, viewport={"width": 360, "height": 740}
        )
        context.add_cookies([{"name": "person", "value": "Ada", "url": address}])
        context.set_default_timeout(120_000)
        return context

    context = opened()
    phone = context.new_page()
    phone.goto(address + ADDRESS)
    scan_without_signal(phone, 3, 4, 5)
    waits(phone, "3 scans")
    for process in processes_of(profile):
        os.kill(process, signal.SIGKILL)
    with contextlib.suppress(Exception):  # the driver notices in its own time
        context.close()
    for lock in profile.glob("Singleton*"):
        lock.unlink(missing_ok=True)
    context = opened()
    phone = context.new_page()
    phone.goto(address + ADDRESS)
    sent(phone)
    counts(phone, 3)
    assert reads(ctx) == 3
    context.close()


def processes_of(profile: Path) -> list[int]:
    """The browser that was started for this profile alone."""
    found = []
    for each in Path("/proc").glob("[0-9]*/cmdline"):
        with contextlib.suppress(OSError):
            if f"--user-data-dir={profile}".encode() in each.read_bytes().split(b"\0"):
                found.append(int(each.parent.name))
    return found


def test_what_one_person_scanned_waits_for_him_while_another_is_signed_in_at_the_phone(phone, served) -> None:
    address, ctx = served
    for name, role in (("Ada Lund", Role.COORDINATOR), ("Bo Reyes", Role.REP), ("Cem Ortiz", Role.REP)):
        service.add_person(ctx, name, role, WORDS)

    def come(name: str) -> None:
        given = service.sign_in(ctx, name, WORDS, address="127.0.0.1")
        phone.context.add_cookies([{"name": SESSION_COOKIE, "value": given.token, "url": address}])

    come("Bo Reyes")
    phone.goto(f"{address}{ADDRESS}")
    eventually(phone, lambda: waiting(phone) == 0)
    scan_without_signal(phone, 3)
    come("Cem Ortiz")
    phone.context.set_offline(False)
    waits(phone, "Somebody else made this on this phone.")
    assert reads(ctx) == 0
    listed = outbox_as_shown(phone, address)
    assert "Bo Reyes" in listed and "Somebody else made this on this phone." in listed
    assert sscc(3)[-6:] not in listed and "S-2041" not in listed, "what it is, and of which shipment, is not for him"
    phone.goto(f"{address}{ADDRESS}")
    wedge(phone, f"]C100{sscc(4)}")
    eventually(phone, lambda: reads(ctx) == 1)
    come("Bo Reyes")
    phone.reload()
    eventually(phone, lambda: reads(ctx) == 2)
    listed = outbox_as_shown(phone, address)
    assert "Scan · 03" in listed and "Scan · 04" not in listed, "his own alone"
    assert [read.raw.by for read in service.get_shipment(ctx, SHIPMENT).reads] == ["Cem Ortiz", "Bo Reyes"]


def outbox_as_shown(phone, address: str) -> str:
    """What the page of what this phone did shows, once its list is filled."""
    phone.goto(f"{address}/outbox")
    phone.locator(".queue-row").first.wait_for()
    return phone.locator("main").inner_text()
