"""A passkey in Chromium, held by the browser's own virtual authenticator (Web Authentication, level 3, section 11)."""

import re
from collections.abc import Iterator

import pytest

from receiving import service
from receiving.model import Role
from tests.web.test_access import WORDS

ACCOUNT = re.compile(r":\d+/account$")

pytestmark = pytest.mark.browser


@pytest.fixture
def person(chromium: object, served: tuple[str, service.Context]) -> Iterator[object]:
    """A phone that makes passkeys, at the name that the service is opened by."""
    address, ctx = served
    service.add_person(ctx, "Ada Lund", Role.COORDINATOR, WORDS)
    context = chromium.new_context(
        viewport={"width": 390, "height": 844},
        base_url=address.replace("127.0.0.1", "localhost"),
        service_workers="block",
    )
    page = context.new_page()
    page.set_default_timeout(120_000)
    devtools = context.new_cdp_session(page)
    devtools.send("WebAuthn.enable")
    options = {
        "protocol": "ctap2",
        "transport": "internal",
        "hasResidentKey": True,
        "hasUserVerification": True,
        "isUserVerified": True,
        "automaticPresenceSimulation": True,
    }
    made = devtools.send("WebAuthn.addVirtualAuthenticator", {"options": options})
    page.devtools, page.authenticator = devtools, made["authenticatorId"]
    yield page
    context.close()


def sign_in(page: object) -> None:
    page.goto("/sign-in?back=/account")
    page.fill("#name", "Ada Lund")
    page.fill("#password", WORDS)
    page.click("form[action='/sign-in'] button")
    page.wait_for_url(ACCOUNT)


def sign_out(page: object) -> None:
    page.click("form[action='/sign-out'] button")
    page.wait_for_url(re.compile(r":\d+/sign-in$"))


def add_passkey(page: object) -> None:
    page.fill("#label", "Work phone")
    page.click("form[action='/account/passkeys'] button")
    page.wait_for_selector("text=Work phone")


def test_a_phone_signs_in_by_its_passkey_and_not_after_it_was_removed(person: object) -> None:
    sign_in(person)
    add_passkey(person)
    sign_out(person)
    person.goto("/sign-in?back=/account")
    person.click("form[action='/sign-in/passkey'] button")
    person.wait_for_url(ACCOUNT)
    assert "used last" in person.inner_text("main")
    person.click("text=Remove")
    person.wait_for_selector("text=Work phone", state="detached")
    sign_out(person)
    person.click("form[action='/sign-in/passkey'] button")
    person.wait_for_selector("text=This passkey does not open an account here.")


def test_a_phone_that_does_not_know_its_holder_opens_nothing(person: object) -> None:
    sign_in(person)
    add_passkey(person)
    sign_out(person)
    known = {"authenticatorId": person.authenticator, "isUserVerified": False}
    person.devtools.send("WebAuthn.setUserVerified", known)
    person.click("form[action='/sign-in/passkey'] button")
    person.wait_for_selector("text=No passkey was given.")
    assert "/sign-in" in person.url


def test_a_copy_of_a_passkey_is_found_by_its_count(person: object, served: tuple[str, service.Context]) -> None:
    sign_in(person)
    add_passkey(person)
    held = person.devtools.send("WebAuthn.getCredentials", {"authenticatorId": person.authenticator})["credentials"]
    for _ in range(2):
        sign_out(person)
        person.click("form[action='/sign-in/passkey'] button")
        person.wait_for_url(re.compile(r":\d+/$"))
        person.goto("/account")
    sign_out(person)
    person.devtools.send("WebAuthn.clearCredentials", {"authenticatorId": person.authenticator})
    copy = {"authenticatorId": person.authenticator, "credential": {**held[0], "signCount": 1}}
    person.devtools.send("WebAuthn.addCredential", copy)
    person.click("form[action='/sign-in/passkey'] button")
    person.wait_for_selector("text=This passkey does not open an account here.")
