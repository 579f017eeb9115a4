"""What OWASP ASVS 5.0 asks for and no other test here holds: one test for each requirement (docs/asvs.md names it)."""

import re
from io import BytesIO
from pathlib import Path
from zipfile import ZipFile

import openpyxl
import pytest
from flask import Flask
from PIL import Image

from receiving import service
from receiving.model import Place, Role
from tests.planned_reader import PlannedReader
from tests.web.conftest import Browser
from tests.web.page_text import read
from tests.web.scenario import SHIPMENT, picture, pile_reading
from tests.web.test_access import path_of, rules

PROJECT = Path(__file__).resolve().parents[2]
MARK = b"OUR-OWN-HARMLESS-MARK-OF-A-BAD-FILE-7f3a"
"""Stands for what a scanner would find; the file of EICAR for that would be found by scanners in our own source."""


def test_no_uploaded_file_is_given_to_anybody_as_it_came(
    browser: Browser, app: Flask, ctx: service.Context, reader: PlannedReader
) -> None:
    """V5.4.3: nothing from outside is served, so there is nothing that a scanner could find in what is served."""
    photo = picture()
    marked = photo[:2] + b"\xff\xfe" + (len(MARK) + 2).to_bytes(2, "big") + MARK + photo[2:] + MARK
    reader.readings["pile.jpg"] = pile_reading()
    row = service.add_photo(ctx, SHIPMENT, "pile.jpg", marked, place=Place.DOCK, by="Ada")
    ctx.wait()
    sheet, file = openpyxl.Workbook(), BytesIO()
    sheet.active.append(["shipment", "store", "carton", "kind"])
    sheet.active.append(["S-9", "0417", "01", "tray"])
    sheet.save(file)
    with ZipFile(file, "a") as packed:
        packed.writestr("xl/vbaProject.bin", MARK)
    sent = browser.post(
        "/import/preview", {"kind": "manifest", "file": (BytesIO(file.getvalue()), "m.xlsx")}, content_type=FORM
    )
    assert sent.status_code < 500
    service.import_manifest(ctx, "m.xlsx", file.getvalue())
    shown = service.show_receipt(ctx, SHIPMENT)
    missing = service.MissingAnswer(searched=True)
    service.confirm(ctx, SHIPMENT, shown.digest, name="Bo", role="Manager", with_exceptions=True, missing=missing)
    assert any(MARK in path.read_bytes() for path in ctx.data.rglob("*") if path.is_file()), "it is kept as it came"
    asked = 0
    for rule, method in rules(app):
        if method != "GET":
            continue
        path = path_of(app, rule)
        for shipment in ("S-2041~2FA", "S-9"):
            answer = browser.get(path.replace("S-2041~2FA", shipment).replace("0" * 64, row.photo))
            asked += answer.status_code == 200
            assert MARK not in answer.get_data(), path
            answer.close()
    assert asked > 60
    assert browser.get(f"/s/S-2041~2FA/photos/{row.photo}/480.jpg").status_code == 200


FORM = "multipart/form-data"


def test_an_image_that_is_shown_was_made_here_and_holds_no_metadata(
    browser: Browser, ctx: service.Context, reader: PlannedReader
) -> None:
    """V5.2.2, V14.2.8: what is shown is drawn anew from the pixels."""
    reader.readings["pile.jpg"] = pile_reading()
    row = service.add_photo(ctx, SHIPMENT, "pile.jpg", picture(), place=Place.DOCK, by="Ada")
    ctx.wait()
    shown = Image.open(BytesIO(browser.get(f"/s/S-2041~2FA/photos/{row.photo}/480.jpg").get_data()))
    assert not dict(shown.getexif()) and "comment" not in shown.info


def test_every_answer_says_its_type_and_text_its_letters(browser: Browser, app: Flask) -> None:
    """V4.1.1, and V3.4.2 with V3.4.4: nothing lets another origin read, and no browser guesses a type."""
    for rule, method in rules(app):
        if method != "GET":
            continue
        answer = browser.get(path_of(app, rule), headers={"Origin": "https://elsewhere.example"})
        kind = answer.headers.get("Content-Type", "")
        assert not answer.get_data() or kind, rule.rule
        assert not kind.startswith("text/") or "charset=utf-8" in kind.lower(), (rule.rule, kind)
        assert "Access-Control-Allow-Origin" not in answer.headers
        assert answer.headers["X-Content-Type-Options"] == "nosniff"
        answer.close()


@pytest.mark.parametrize(
    "path", ["/.git/config", "/.env", "/web/access.py", "/static/../access.py", "/static/", "/data"]
)
def test_nothing_but_the_pages_own_files_is_served(browser: Browser, path: str) -> None:
    """V13.4.1."""
    assert browser.get(path).status_code == 404


def test_scripts_write_no_text_as_markup() -> None:
    """V3.2.2: what becomes markup is a part of a page that the service rendered and escaped, in these four places."""
    writes = re.compile(r"(\w+(?:\.\w+)*)\.(?:innerHTML|outerHTML)\s*=|insertAdjacentHTML|document\.write")
    found = {
        f"{path.name} {match[1]}"
        for path in (PROJECT / "web" / "static").glob("*.js")
        for match in writes.finditer(path.read_text())
    }
    assert found == {"follow.js fresh", "plan.js costs", "shipment.js answer"}


def test_a_password_is_masked_and_may_be_pasted_and_filled_in(browser: Browser, ctx: service.Context) -> None:
    """V6.2.6, V6.2.7; and V6.4.2: nothing asks for a secret question."""
    pages = (browser.get("/sign-in").text, browser.get("/people").text)
    fields = [e for page in pages for e in read(page).all("input") if "password" in e.attributes["name"]]
    assert len(fields) == 2
    for field in fields:
        assert field.attributes["type"] == "password"
        assert field.attributes["autocomplete"] in ("current-password", "new-password")
    scripts = " ".join(path.read_text() for path in (PROJECT / "web" / "static").glob("*.js"))
    assert "onpaste" not in " ".join(pages) and not re.search(r"""['"]paste['"]""", scripts)
    assert not [page for page in pages if re.search(r"secret question|hint for your password", page, re.IGNORECASE)]


@pytest.mark.parametrize(
    "password", ["only lower letters", "123456098765", "ÄÖÜ ñandú 箱子 дом", "x y z   spaces  kept "]
)
def test_a_password_may_be_made_of_anything_and_is_taken_as_it_is(ctx: service.Context, password: str) -> None:
    """V6.2.5, V6.2.8."""
    service.add_person(ctx, "Ada Lund", Role.COORDINATOR, password)
    assert service.sign_in(ctx, "Ada Lund", password, address="192.0.2.7").token
    for other in (password.strip() + "x", password.upper() if password.upper() != password else password + " "):
        with pytest.raises(service.SignInRefused):
            service.sign_in(ctx, "Ada Lund", other, address="192.0.2.7")


def test_only_approved_hashes_are_used() -> None:
    """V11.4.1; and V11.3.1, V11.3.2: nothing is encrypted here, so there is no mode or cipher to choose."""
    source = " ".join(path.read_text() for room in ("receiving", "web") for path in (PROJECT / room).rglob("*.py"))
    assert not re.findall(r"hashlib\.(?:md5|sha1)|hashes\.(?:MD5|SHA1)\(|usedforsecurity", source)
    assert not re.findall(r"\b(?:Cipher|AESGCM|Fernet|algorithms\.|modes\.)\b", source)


def test_the_numbers_of_signing_in_are_those_of_the_code() -> None:
    """V6.1.1, V7.1.1, V7.1.2, V2.1.3."""
    from receiving.service import accounts, passwords
    from receiving.service.own_account import FRESH

    text = " ".join(
        (PROJECT / "docs" / "operations.md").read_text().split("## Signing in", 1)[1].split("\n## ")[0].split()
    )
    five, sixty = accounts.FREE_TRIES, accounts.ADDRESS_TRIES
    assert (five, sixty, accounts.LONGEST_WAIT_S, passwords.FIRST_LIFE.days) == (5, 60, 60, 3)
    assert "five wrong passwords or PINs are free" in text and "waits a minute after sixty" in text
    assert f"after {accounts.IDLE_LIFE.days} days without use, after {accounts.SESSION_LIFE.days} days" in text
    assert f"a password is {passwords.LEAST_PASSWORD} characters or more" in text
    assert "within three days" in text and FRESH.seconds == 300 and "has five minutes" in text
    assert "may have any number of them" in text


def test_who_may_do_what_is_written_down() -> None:
    """V8.1.1: the table of the papers is that of the code."""
    from receiving.model import RIGHTS, Right, Role

    text = (PROJECT / "docs" / "operations.md").read_text().split("## Who may do what", 1)[1].split("\n## ")[0]
    rows = [[cell.strip() for cell in line.strip("|").split("|")] for line in text.splitlines() if line.startswith("|")]
    roles = [Role(name.lower().replace(" ", "_")) for name in rows[0][1:]]
    assert set(roles) == set(Role)
    found = {role: {Right(row[0].strip("`")) for row in rows[2:] if row[n]} for n, role in enumerate(roles, 1)}
    assert found == {role: set(rights) for role, rights in RIGHTS.items()}
