"""A rep with a phone, in Chromium: scans, photos, no signal, others' reads, and the width of the screen."""

import re
from collections.abc import Callable

import pytest

from receiving import service
from receiving.model import Place, Source
from tests.web.scenario import SHIPMENT, picture, sscc

pytestmark = pytest.mark.browser
ADDRESS = "/s/S-2041~2FA"


def eventually(phone, true: Callable[[], bool]) -> None:
    """Wait until the service has it: the phone answers first, and its line of what waits is hidden while it sends."""
    for _ in range(200):
        if true():
            return
        phone.wait_for_timeout(50)
    assert true()


def other_person_scans(ctx: service.Context, serial: int) -> None:
    service.add_scan(ctx, SHIPMENT, f"]C100{sscc(serial)}", place=Place.DOCK, by="Bo", source=Source.SCANNER)


SCANNER_CLOCK = """() => {
    let at = performance.now();
    window.scannerClock = (event) => Object.defineProperty(event, "timeStamp", { value: (at += 10) });
    window.addEventListener("keydown", window.scannerClock, true);
}"""
"""Keys come 10 ms apart, as from a scanner, however late a busy machine hands them on."""


def wedge(page, text: str) -> None:
    """Types as a keyboard-wedge scanner does: fast, Enter at the end."""
    page.evaluate(SCANNER_CLOCK)
    page.keyboard.type(text, delay=1)
    page.keyboard.press("Enter")
    page.evaluate("window.removeEventListener('keydown', window.scannerClock, true)")


def counts(page, here: int) -> None:
    """Waits until the page says that this many cartons are here."""
    page.locator("#count b", has_text=re.compile(f"^{here}$")).wait_for()


def test_a_wedge_scan_is_answered_in_large_words_and_the_field_is_ready_again(phone, served) -> None:
    address, ctx = served
    phone.goto(address + ADDRESS)
    wedge(phone, f"]C100{sscc(1)}")
    phone.wait_for_selector(".answer.here")
    assert "Here · 01" in phone.inner_text("#answer")
    assert "OPEN THIS ONE FIRST" in phone.inner_text("#answer").upper()
    assert phone.input_value("#text") == ""
    assert phone.evaluate("document.activeElement.id") == "text"
    assert [read.raw.source for read in service.get_shipment(ctx, SHIPMENT).reads] == [Source.SCANNER]
    counts(phone, 1)


def test_a_scan_says_at_once_that_it_is_being_checked(held_phone, served) -> None:
    address, _ = served
    phone = held_phone
    held: list[object] = []
    phone.goto(address + ADDRESS)
    phone.route("**/scans", lambda route: held.append(route))
    wedge(phone, f"<GS>00{sscc(3)}")  # what the phone leaves to the service
    phone.locator(".answer.plain", has_text="Checking").wait_for()
    while not held:
        phone.wait_for_timeout(10)
    held[0].continue_()
    phone.wait_for_selector(".answer.here")


def test_a_scan_while_a_button_has_the_focus_does_not_press_it(phone, served) -> None:
    address, ctx = served
    other_person_scans(ctx, 3)
    phone.goto(f"{address}{ADDRESS}/stage")
    phone.focus("#staging button")
    wedge(phone, f"]C100{sscc(4)}")
    phone.wait_for_selector(".answer.here")
    assert "Here · 04" in phone.inner_text("#answer")
    assert service.get_shipment(ctx, SHIPMENT).notes == ()


def test_what_is_typed_by_hand_is_kept_as_typed(phone, served) -> None:
    address, ctx = served
    phone.goto(address + ADDRESS)
    phone.keyboard.type(sscc(3), delay=50)
    phone.click("#scan button")
    phone.wait_for_selector(".answer.here")  # the phone's own answer, from the manifest that it has
    eventually(phone, lambda: bool(service.get_shipment(ctx, SHIPMENT).reads))
    assert [read.raw.source for read in service.get_shipment(ctx, SHIPMENT).reads] == [Source.TYPED]


def test_a_group_separator_sent_as_a_control_key_is_kept(phone, served) -> None:
    address, ctx = served
    phone.goto(address + ADDRESS)
    phone.keyboard.type("]C110LOT7", delay=1)
    phone.keyboard.press("Control+]")
    wedge(phone, f"00{sscc(3)}")
    phone.wait_for_selector(".answer.here")
    eventually(phone, lambda: bool(service.get_shipment(ctx, SHIPMENT).reads))
    assert service.get_shipment(ctx, SHIPMENT).reads[0].raw.raw == f"10LOT7\x1d00{sscc(3)}"


def test_another_persons_read_shows_by_itself_without_losing_what_is_typed(phone, served) -> None:
    address, ctx = served
    phone.goto(address + ADDRESS)
    phone.keyboard.type("half a la", delay=80)  # as a person types: a scanner's keys would be sent
    other_person_scans(ctx, 3)
    counts(phone, 1)
    assert phone.input_value("#text") == "half a la"
    assert phone.evaluate("document.activeElement.id") == "text"


def test_a_swap_keeps_the_focus_and_what_was_unfolded(phone, served) -> None:
    address, ctx = served
    other_person_scans(ctx, 3)
    phone.goto(address + ADDRESS)
    phone.click("#here-list summary")
    phone.focus("#missing li:nth-child(2) a")
    focused = phone.evaluate("document.activeElement.getAttribute('href')")
    other_person_scans(ctx, 9)
    counts(phone, 2)
    assert phone.evaluate("document.activeElement.getAttribute('href')") == focused
    assert phone.evaluate("document.querySelector('#here-list').open")


def test_a_page_that_is_sent_what_changed_shows_what_a_fresh_one_shows(phone, served) -> None:
    address, ctx = served
    phone.goto(address + ADDRESS)
    sent = []
    phone.on("response", lambda answer: sent.append(answer) if "/live" in answer.url else None)
    for here, serial in enumerate((3, 9, 5), 1):
        other_person_scans(ctx, serial)
        counts(phone, here)
    assert [answer.headers["content-type"].partition(";")[0] for answer in sent] == [
        "text/html",
        *["application/json"] * 2,
    ]
    shown = "[...document.querySelectorAll('#live > section')].map((part) => part.outerHTML).join()"
    followed = phone.evaluate(shown)
    phone.reload()
    assert phone.evaluate(shown) == followed

    phone.route(
        "**/live*",
        lambda route: route.fulfill(
            json={"mark": "", "pieces": [[0, 1]], "lines": 9}, headers={"X-Service": "receiving"}
        ),
    )
    other_person_scans(ctx, 6)
    with phone.expect_response("**/live*"):
        pass
    phone.unroute("**/live*")
    counts(phone, 4)  # what did not fit was asked for whole


def test_without_signal_scans_and_photos_wait_and_are_sent_once_when_it_is_back(phone, served) -> None:
    address, ctx = served
    phone.goto(address + ADDRESS)
    phone.context.set_offline(True)
    wedge(phone, f"]C100{sscc(3)}")
    wedge(phone, f"]C100{sscc(4)}")
    phone.set_input_files("#album", {"name": "pile.jpg", "mimeType": "image/jpeg", "buffer": picture()})
    phone.locator("#signal", has_text="2 scans and 1 photo").wait_for()
    assert "No signal." in phone.inner_text("#signal")
    assert service.get_shipment(ctx, SHIPMENT).reads == ()
    phone.context.set_offline(False)
    phone.locator("#signal").wait_for(state="hidden")
    counts(phone, 3)
    view = service.get_shipment(ctx, SHIPMENT)
    assert len([read for read in view.reads if not read.raw.photo]) == 2
    assert {read.raw.by for read in view.reads} == {"Ada"}
    assert [row.name for row in view.photos] == ["pile.jpg"]


def test_what_waits_survives_closing_the_page(held_phone, served) -> None:
    address, ctx = served
    phone = held_phone
    phone.goto(address + ADDRESS)
    phone.route("**/scans", lambda route: route.abort())
    wedge(phone, f"]C100{sscc(3)}")
    phone.locator("#signal", has_text="1 scan").wait_for()
    phone.unroute("**/scans")
    phone.goto(address + ADDRESS)
    counts(phone, 1)
    assert len(service.get_shipment(ctx, SHIPMENT).reads) == 1


def test_a_page_seen_before_opens_without_signal_and_takes_scans(phone, served) -> None:
    address, ctx = served
    phone.goto(address + ADDRESS)
    phone.evaluate("navigator.serviceWorker.ready.then(() => true)")
    phone.goto(address + ADDRESS)
    phone.context.set_offline(True)
    phone.goto(address + ADDRESS)
    assert phone.text_content("h1") == "0 of 16 here"
    wedge(phone, f"]C100{sscc(3)}")
    phone.locator("#signal", has_text="1 scan waits on this phone").wait_for()
    phone.goto(address + "/overview")
    assert "This page was not opened on this phone before." in phone.inner_text("body")
    phone.context.set_offline(False)
    phone.goto(address + ADDRESS)
    counts(phone, 1)
    assert len(service.get_shipment(ctx, SHIPMENT).reads) == 1


def test_a_photo_shows_up_and_its_labels_are_outlined(phone, served) -> None:
    address, _ = served
    phone.goto(address + ADDRESS)
    phone.set_input_files("#shoot", {"name": "pile.jpg", "mimeType": "image/jpeg", "buffer": picture()})
    counts(phone, 3)
    phone.click("#photos li a")
    phone.wait_for_selector("svg.photo")
    assert phone.locator("svg.photo .outline polygon:not(.under)").count() == 4


PAGES = (
    "/",
    "/overview",
    "/import",
    ADDRESS,
    f"{ADDRESS}/stage",
    f"{ADDRESS}/hand-over",
    f"{ADDRESS}/cartons/20",
    f"{ADDRESS}/receipt",
    f"{ADDRESS}/plan",
    f"{ADDRESS}/plan/change?carton=03&trip=1&bay=B7",
    f"{ADDRESS}/contents",
    f"{ADDRESS}/bay-sheets",
    "/stores/0417/request",
)


def test_no_page_is_wider_than_a_phone(phone, served) -> None:
    address, ctx = served
    for serial in (3, 20, 102):
        other_person_scans(ctx, serial)
    link = f"https://id.gs1.org/00/{sscc(103)}?21=A-VERY-LONG-SERIAL-NUMBER"
    service.add_scan(ctx, SHIPMENT, link, place=Place.DOCK, by="Bo", source=Source.SCANNER)
    for path in PAGES:
        phone.goto(address + path)
        assert phone.evaluate("document.documentElement.scrollWidth") <= 360, path


def test_everything_at_the_bottom_is_inside_the_screen(phone, served) -> None:
    """What is fixed to the screen does not widen the page; so it is measured by itself."""
    phone.goto(served[0] + ADDRESS)
    outside = """() => [...document.querySelectorAll("#dock *:not(.unseen)")]
        .filter((e) => e.getBoundingClientRect().right > innerWidth).map((e) => e.textContent.trim())"""
    assert phone.evaluate(outside) == []


def test_every_text_has_contrast_enough(phone, served) -> None:
    """WCAG 2.2, 1.4.3: 4.5:1, and 3:1 for large text; relative luminance as defined there."""
    address, ctx = served
    for serial in (3, 20, 102):
        other_person_scans(ctx, serial)
    for path in PAGES:
        phone.goto(address + path)
        assert faint_texts(phone) == [], path


def faint_texts(page) -> list[tuple[str, str]]:
    """The texts of an open page without contrast enough, with the colour scheme in which they are."""
    found = []
    for scheme in ("light", "dark"):
        page.emulate_media(color_scheme=scheme)
        found += [(scheme, text) for text in page.evaluate(CONTRAST)]
    return found


CONTRAST = """() => {
  const channel = (v) => (v /= 255) <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4;
  const light = ([r, g, b]) => 0.2126 * channel(r) + 0.7152 * channel(g) + 0.0722 * channel(b);
  const parse = (text) => text.match(/[\\d.]+/g).map(Number);
  const ground = (e) => {
    for (; e; e = e.parentElement) {
      const color = parse(getComputedStyle(e).backgroundColor);
      if (color.length === 3 || color[3] === 1) return color;
    }
    return [255, 255, 255];
  };
  const bad = new Set();
  for (const e of document.querySelectorAll("body *")) {
    if (e.closest("svg") || !e.offsetParent) continue;
    const own = [...e.childNodes].filter((n) => n.nodeType === 3).map((n) => n.textContent.trim()).join("");
    if (!own) continue;
    const style = getComputedStyle(e);
    const size = parseFloat(style.fontSize);
    const large = size >= 24 || (size >= 18.66 && style.fontWeight >= 700);
    const [a, b] = [light(parse(style.color)), light(ground(e))].sort((x, y) => y - x);
    const ratio = (a + 0.05) / (b + 0.05);
    if (ratio < (large ? 3 : 4.5)) bad.add(`${own.slice(0, 30)} ${ratio.toFixed(2)}`);
  }
  return [...bad];
}"""


def test_the_page_works_without_scripts(chromium, served) -> None:
    address, ctx = served
    context = chromium.new_context(java_script_enabled=False, viewport={"width": 360, "height": 740})
    page = context.new_page()
    page.goto(address + ADDRESS)
    page.fill("#person", "Ada")
    page.click("text=Start")
    page.fill("#text", f"]C100{sscc(3)}")
    page.press("#text", "Enter")
    assert "Here · 03" in page.inner_text("#answer")
    page.set_input_files("#shoot", {"name": "pile.jpg", "mimeType": "image/jpeg", "buffer": picture()})
    page.click("text=Send photos")
    assert "pile.jpg" in page.content()
    assert [row.by for row in service.get_shipment(ctx, SHIPMENT).photos] == ["Ada"]
    context.close()


def drag(page, carton: str, target: str, *, touch: bool = False) -> None:
    """Press the carton's row, move until the targets show, and let go over one of them."""
    row = page.locator(f"[data-carton='{carton}']")
    row.scroll_into_view_if_needed()
    box = row.locator(".grip").bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    finger = page.context.new_cdp_session(page) if touch else None

    def point(what: str, x: float, y: float) -> None:
        if finger:
            points = [] if what == "touchEnd" else [{"x": x, "y": y}]
            finger.send("Input.dispatchTouchEvent", {"type": what, "touchPoints": points})
        elif what == "touchMove":
            page.mouse.move(x, y, steps=3)
        else:
            page.mouse.move(x, y)
            (page.mouse.down if what == "touchStart" else page.mouse.up)()

    point("touchStart", x, y)
    point("touchMove", x + 20, y + 20)
    goal = page.locator(target).bounding_box()
    at = (goal["x"] + goal["width"] / 2, goal["y"] + goal["height"] / 2)
    point("touchMove", *at)
    page.locator(f"{target}.over").wait_for()
    point("touchEnd", *at)


def test_a_finger_drags_a_carton_to_another_trip_on_a_phone(phone, served) -> None:
    address, ctx = served
    for serial in (3, 4):
        other_person_scans(ctx, serial)
    phone.goto(f"{address}{ADDRESS}/plan")
    drag(phone, "04", ".targets [data-trip='2']", touch=True)
    phone.locator("[data-carton='04'] .costs", has_text="+1 trip").wait_for()
    assert service.get_shipment(ctx, SHIPMENT).notes == ()
    phone.tap("[data-carton='04'] .costs button")
    phone.locator("[data-carton='04'] .pinned").wait_for()
    assert [trip.cartons for trip in service.get_shipment(ctx, SHIPMENT).plan.trips] == [("03",), ("04",)]
    phone.tap("[data-carton='04'] .pinned button")
    phone.wait_for_function("() => !document.querySelector('.pinned')")
    assert len(service.get_shipment(ctx, SHIPMENT).plan.trips) == 1


def test_a_carton_dragged_to_another_bay_shows_its_cost_before_it_is_kept(chromium, served) -> None:
    address, ctx = served
    for serial in (3, 4):
        other_person_scans(ctx, serial)
    page = chromium.new_context(viewport={"width": 1280, "height": 900}).new_page()
    page.goto(f"{address}{ADDRESS}/plan")
    drag(page, "04", ".targets [data-bay='B1']")
    page.locator("[data-carton='04'] .costs", has_text="This change costs").wait_for()
    page.click("[data-carton='04'] .leave")
    assert not page.is_visible("[data-carton='04'] .costs")
    page.click("[data-carton='04'] summary")
    page.select_option("[data-carton='04'] [name=trip]", "2")
    page.click("[data-carton='04'] .check button")
    page.locator("[data-carton='04'] .costs", has_text="+1 trip").wait_for()
    assert service.get_shipment(ctx, SHIPMENT).notes == ()
    page.click("[data-carton='04'] .costs button")
    page.locator("[data-carton='04'] .pinned").wait_for()
    assert [trip.cartons for trip in service.get_shipment(ctx, SHIPMENT).plan.trips] == [("03",), ("04",)]
    page.context.close()
