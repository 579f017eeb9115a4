"""People in Chromium: the company's sign-on on another site, and a PIN in place of a signature."""

import re
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from receiving import service
from receiving.model import Place, Role, Source
from receiving.service import CompanySignOn
from tests.planned_reader import PlannedReader
from tests.web.browser.layout import FAULTS
from tests.web.provider import CLIENT, SECRET, Provider, provider_here
from tests.web.scenario import NOW, SHIPMENT, open_context, sscc
from tests.web.test_access import WORDS
from web.serve import make_server

pytestmark = pytest.mark.browser
ADDRESS = "/s/S-2041~2FA"
PIN, PASSWORD = "730518", "a word of the provider"


@pytest.fixture
def provider() -> Iterator[Provider]:
    with provider_here() as found:
        found.now_s, found.asks = int(NOW.timestamp()), PASSWORD
        # The name localhost is another site than the address 127.0.0.1, as a company's provider is.
        found.issuer = found.issuer.replace("127.0.0.1", "localhost")
        yield found


@pytest.fixture
def company(tmp_path: Path, provider: Provider) -> Iterator[tuple[str, service.Context]]:
    """The service with a rep and a store manager, who sign on at the company."""
    with open_context(tmp_path, PlannedReader()) as ctx:
        service.add_person(ctx, "Ada Lund", Role.COORDINATOR, WORDS)
        rep = service.add_person(ctx, "Bo Reyes", Role.REP, WORDS, stores=["0417"])
        service.add_person(ctx, "Cem Ortiz", Role.STORE_MANAGER, WORDS, stores=["0417"])
        service.set_subject(ctx, rep.person_id, provider.person)
        offered = CompanySignOn(provider.issuer, CLIENT, SECRET, "sub", "Sign in with Lumovane")
        server = make_server(ctx, host="127.0.0.1", port=0, company=offered)
        thread = threading.Thread(target=server.run, daemon=True)
        thread.start()
        yield f"http://127.0.0.1:{server.effective_port}", ctx
        server.close()
        thread.join(timeout=60)


@pytest.fixture
def browser_page(chromium: object, company: tuple[str, service.Context]) -> Iterator[object]:
    context = chromium.new_context(viewport={"width": 390, "height": 844}, base_url=company[0], service_workers="block")
    page = context.new_page()
    page.set_default_timeout(120_000)
    refused: list[str] = []
    page.on("console", lambda m: refused.append(m.text) if "Content Security Policy" in m.text else None)
    yield page
    context.close()
    assert refused == []


def sign_on(page: object) -> None:
    page.click("text=Sign in with Lumovane")
    page.wait_for_selector("text=Sign on to Lumovane")
    page.fill("[name=password]", PASSWORD)
    page.click("button")


def test_who_signs_on_at_another_site_comes_back_signed_in_to_where_he_wanted(
    browser_page: object, company: tuple[str, service.Context], provider: Provider
) -> None:
    browser_page.goto(ADDRESS)
    assert "/sign-in" in browser_page.url
    sign_on(browser_page)
    browser_page.wait_for_url(re.compile(rf"{re.escape(company[0])}{ADDRESS}$"))
    browser_page.goto("/account")
    assert "Bo Reyes" in browser_page.inner_text("main")
    assert not provider.refused
    kept = {each["name"]: each for each in browser_page.context.cookies() if "session" in each["name"]}
    assert kept and all(each["httpOnly"] and each["sameSite"] in ("Lax", "Strict") for each in kept.values())
    assert "code=" not in browser_page.url
    browser_page.click("form[action='/sign-out'] button")
    browser_page.wait_for_url(re.compile(r"/sign-in$"))
    browser_page.goto(ADDRESS)
    assert "/sign-in" in browser_page.url


def test_whom_the_company_knows_and_no_account_names_stays_outside(browser_page: object, provider: Provider) -> None:
    provider.person = "a stranger"
    browser_page.goto("/sign-in")
    sign_on(browser_page)
    browser_page.wait_for_url(re.compile(r"/sign-in"))
    assert "account" in browser_page.inner_text("main")
    browser_page.goto(ADDRESS)
    assert "/sign-in" in browser_page.url


def test_a_store_manager_gives_a_pin_on_the_reps_phone(
    browser_page: object, company: tuple[str, service.Context]
) -> None:
    ctx, page = company[1], browser_page
    page.goto("/sign-in?back=/account")
    page.fill("#name", "Cem Ortiz")
    page.fill("#password", WORDS)
    page.click("form[action='/sign-in'] button")
    page.wait_for_url(re.compile(r"/account$"))
    page.fill("#pin", PIN)
    pin_form = page.locator("form", has=page.locator("#pin"))
    if pin_form.locator("#pin_password, [name=password]").count():
        pin_form.locator("#pin_password, [name=password]").fill(WORDS)
    pin_form.locator("button").click()
    page.wait_for_load_state()
    page.click("form[action='/sign-out'] button")
    page.wait_for_url(re.compile(r"/sign-in$"))
    service.add_scan(ctx, SHIPMENT, f"]C100{sscc(3)}", place=Place.DOCK, by="Bo", source=Source.SCANNER)
    page.goto(ADDRESS)
    sign_on(page)
    page.wait_for_url(re.compile(rf"{ADDRESS}$"))
    page.goto(f"{ADDRESS}/receipt")
    give(page, "000000")
    page.wait_for_selector("[role=alert], .trouble")
    assert service.get_shipment(ctx, SHIPMENT).receipts == ()
    give(page, PIN)
    page.locator("h1", has_text="Receipt 1").wait_for()
    assert "Confirmed by the PIN of Cem Ortiz" in page.inner_text("main")
    assert "Signed on the phone of Bo Reyes" in page.inner_text("main")
    (receipt,) = service.get_shipment(ctx, SHIPMENT).receipts
    assert (receipt.name, receipt.role, receipt.by_pin) == ("Cem Ortiz", "Store manager", True)
    assert (receipt.taken_by, receipt.signature) == ("Bo Reyes", None)
    assert all(each.sound for each in service.verify_shipment(ctx, SHIPMENT))


def give(page: object, pin: str) -> None:
    page.fill("#name", "Cem Ortiz")
    if not page.locator("#pin").is_visible():
        page.click("details.pin summary")
    page.fill("#pin", pin)
    page.check("#short")
    page.fill("#remarks", "הקופסה רטובה")
    page.click("button[name=how]")


@pytest.mark.parametrize("wide_px", [390, 1280])
def test_the_audit_log_fits_the_screen(browser_page: object, wide_px: int) -> None:
    page = browser_page
    page.set_viewport_size({"width": wide_px, "height": 844})
    page.goto("/sign-in")
    page.get_by_label("Name").fill("Ada Lund")
    page.get_by_label("Password").fill(WORDS)
    page.get_by_role("button", name="Sign in", exact=True).click()
    page.wait_for_url(lambda address: "/sign-in" not in address)
    page.goto("/people/audit?kind=sign_ins")
    assert page.get_by_role("region", name="Who saw and did what").get_by_role("row").count() == 2
    assert page.evaluate(FAULTS) == []
