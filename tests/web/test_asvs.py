"""What OWASP ASVS 5.0 asks for and no other test here holds: one test for each requirement (docs/asvs.md names it)."""

import base64
import functools
import operator
import random
import re
import sqlite3
from contextlib import closing
from io import BytesIO
from pathlib import Path
from zipfile import ZipFile

import openpyxl
import pytest
from flask import Flask
from PIL import Image

from receiving import service
from receiving.errors import ManifestFaults
from receiving.expected import read_manifests
from receiving.model import Place, Role
from tests.planned_reader import PlannedReader
from tests.receipts import confirm_with_shorts
from tests.web.conftest import Browser
from tests.web.page_text import read
from tests.web.scenario import SHIPMENT, picture, pile_reading
from tests.web.test_access import WORDS, Person, path_of, rules
from web.access import PUBLIC
from web.downloads import download

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
    confirm_with_shorts(ctx, SHIPMENT, name="Bo")
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
    from receiving.service import signing_in
    from receiving.service.signing_in import FRESH

    text = " ".join(
        (PROJECT / "docs" / "operations.md").read_text().split("## Signing in", 1)[1].split("\n## ")[0].split()
    )
    five, sixty = signing_in.FREE_TRIES, signing_in.ADDRESS_TRIES
    assert (five, sixty, signing_in.LONGEST_WAIT_S, signing_in.FIRST_LIFE.days) == (5, 60, 60, 3)
    assert "after five wrong passwords or PINs 2 s" in text and "has tried sixty names waits a minute" in text
    assert f"after {signing_in.IDLE_LIFE.days} days without use, after {signing_in.SESSION_LIFE.days} days" in text
    assert f"a password is {signing_in.LEAST_PASSWORD} characters or more" in text
    assert "within three days" in text and FRESH.seconds == 300 and "not more than five minutes before" in text
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


def test_a_session_is_named_by_256_random_bits_that_come_from_no_seed(ctx: service.Context) -> None:
    """V7.2.1 to V7.2.3: reference tokens, made for each session, of a CSPRNG; none but those opens anything."""
    service.add_person(ctx, "Ada Lund", Role.COORDINATOR, "four plain words here")
    tokens = []
    for _ in range(40):
        random.seed(7)  # a token of Python's Mersenne Twister would be the same each time
        tokens.append(service.sign_in(ctx, "Ada Lund", "four plain words here", address="192.0.2.7").token)
    values = [base64.urlsafe_b64decode(token + "=") for token in tokens]
    assert {len(value) for value in values} == {32} and len(set(values)) == 40
    as_bits = [int.from_bytes(value) for value in values]
    always, ever = functools.reduce(operator.and_, as_bits), functools.reduce(operator.or_, as_bits)
    assert always == 0 and ever == 2**256 - 1, "no bit has the same value in all (by chance: 1 in 2 × 10⁹)"
    assert service.find_access(ctx, tokens[0]) is not None
    made_up = base64.urlsafe_b64encode(bytes(32)).decode().rstrip("=")
    for other in ("", "x" * 43, tokens[0][:-1], tokens[0].swapcase(), made_up):
        assert service.find_access(ctx, other) is None


def test_no_request_by_get_changes_what_is_recorded(browser: Browser, app: Flask, ctx: service.Context) -> None:
    """V3.5.3: what a GET leaves behind is what was shown, or worked out anew, and never a fact."""
    worked_out = {
        "pending",
        "list_rows",
        "list_sections",
        "stale_rows",
        "list_version",
        "row_days",
        "audit",
        "refusals",
        "row_counts",
    }
    ctx.wait()
    before, asked = recorded(ctx, worked_out), 0
    for rule, method in rules(app):
        if method == "GET":
            answer = browser.get(path_of(app, rule))
            asked += answer.status_code == 200
            answer.close()
    ctx.wait()
    after = recorded(ctx, worked_out)
    assert asked > 60 and len(before) > 15
    assert {table for table in after if after[table] != before[table]} == set()


def recorded(ctx: service.Context, without: set[str]) -> dict[str, list[tuple[object, ...]]]:
    """All rows of all tables of the data folder but these."""
    with closing(sqlite3.connect(f"file:{ctx.data / 'receiving.sqlite'}?mode=ro", uri=True)) as db:
        names = [name for (name,) in db.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
        return {name: db.execute(f"SELECT * FROM {name}").fetchall() for name in names if name not in without}


def test_whoever_is_signed_in_can_sign_out_on_every_page(app: Flask, ctx: service.Context) -> None:
    """V7.4.4."""
    service.add_person(ctx, "Ada Lund", Role.COORDINATOR, WORDS)
    person, pages, without = Person(app), 0, []
    assert person.sign_in("Ada Lund").status_code == 303
    for rule, method in rules(app):
        if method != "GET" or rule.endpoint in PUBLIC:
            continue
        answer = person.client.get(path_of(app, rule))
        if answer.status_code == 200 and answer.mimetype == "text/html" and "<html" in answer.text:
            pages += 1
            ways = [form for form in read(answer.text).all("form") if form.attributes.get("action") == "/sign-out"]
            without += [] if ways else [rule.rule]
        answer.close()
    assert pages > 25 and not without


def test_names_of_downloads_are_made_here_whatever_an_address_says(browser: Browser, app: Flask) -> None:
    """V5.4.1, V5.4.2."""
    plain, found = re.compile(r'(?:inline|attachment); filename="?[A-Za-z0-9._-]+"?'), 0
    for rule, method in rules(app):
        if method == "GET":
            answer = browser.get(path_of(app, rule) + "?filename=evil.exe&name=evil.exe")
            named = answer.headers.get("Content-Disposition", "")
            found += bool(named)
            assert not named or (plain.fullmatch(named) and "evil" not in named), (rule.rule, named)
            answer.close()
    assert found > 10
    with app.test_request_context():
        for odd in ('a"\r\nSet-Cookie: x=1; b.pdf', "箱子/../../x.pdf", "é;*=UTF-8''y.pdf", "\0.pdf"):
            assert plain.fullmatch(download(b"", odd, "application/pdf").headers["Content-Disposition"])


def test_a_workbook_reads_no_other_file_and_unfolds_no_entities(tmp_path: Path) -> None:
    """V1.5.1: external entities and nested internal ones, in the part that holds the texts."""
    secret = tmp_path / "secret.txt"
    secret.write_text("OUR-SECRET-7f3a")
    nested = "".join(f'<!ENTITY e{n} "{f"&e{n - 1};" * 10}">' for n in range(1, 9))
    for doctype in (
        f'<!DOCTYPE sst [<!ENTITY x SYSTEM "{secret.as_uri()}">]>',
        f'<!DOCTYPE sst SYSTEM "{secret.as_uri()}" [<!ENTITY % y SYSTEM "{secret.as_uri()}"> %y; <!ENTITY x "z">]>',
        f'<!DOCTYPE sst [<!ENTITY e0 "lol">{nested}<!ENTITY x "&e8;">]>',
    ):
        try:
            shown = repr(read_manifests("m.xlsx", workbook(doctype)))
        except ManifestFaults as refused:
            shown = str(refused)
        assert "OUR-SECRET" not in shown and len(shown) < 10_000


def workbook(doctype: str) -> bytes:
    """A manifest whose shared texts begin with this DOCTYPE and use its entity x as the store."""
    sheet, file, out = openpyxl.Workbook(), BytesIO(), BytesIO()
    sheet.active.append(["shipment", "store", "carton", "kind"])
    sheet.active.append(["S-9", "STORE", "01", "tray"])
    sheet.save(file)
    with ZipFile(file) as book, ZipFile(out, "w") as changed:
        for name in book.namelist():
            data = book.read(name)
            if name == "xl/sharedStrings.xml":
                data = doctype.encode() + data.replace(b"STORE", b"&x;")
                assert b"&x;" in data
            changed.writestr(name, data)
    return out.getvalue()


def test_the_limits_of_uploads_are_those_of_the_code() -> None:
    """V5.1.1: types, endings, sizes, also unpacked, and how what is given out is made safe."""
    from receiving.expected import layout, table_files
    from receiving.reading import image
    from web import MAX_UPLOAD_BYTES

    part = (PROJECT / "docs" / "operations.md").read_text().split("## Disk and limits", 1)[1].split("\n## ")[0]
    text, unpacked = " ".join(part.split()), table_files.MAX_UNPACKED_BYTES // 10**6
    assert f"one upload {MAX_UPLOAD_BYTES // 2**20} MB" in text
    assert f"more than {table_files.MAX_PARTS:,} parts, would unpack to more than {unpacked} MB" in text
    assert (
        f"a part of more than {table_files.MAX_PART_BYTES // 10**6} MB" in text
        and f"layout of {layout.MAX_LAYOUT_BYTES // 10**3} kB" in text
    )
    assert f"at most {image.MAX_BYTES // 2**20} MB and {image.MAX_PIXELS // 10**6} megapixels" in text
    assert f"a manifest table {table_files.MAX_TABLE_BYTES // 10**6} MB" in text
    assert "photos are redrawn" in text


SECRETS = {
    "people": ("password_hash", "pin_hash"),
    "sessions": ("token_sha256",),
    "links": ("token_sha256",),
    "api_tokens": ("token_sha256",),
    "webhooks": ("secret",),
    "secrets": ("value",),
    "signing_keys": ("private_key",),
}
"""Columns of what nobody is given, or only once when it is made."""


def test_no_secret_that_is_stored_is_in_any_answer(ctx: service.Context) -> None:
    """V15.3.1: a page or a call gives the fields that it lists, never the row that they stand in."""
    own = PinnedPeople(ctx)
    _, token = service.make_api_token(ctx, "till", ["read"], by="Ada")
    service.make_webhook(ctx, "https://program.example.com/told", list(service.EventKind), by="Ada")
    _, link = service.make_link(ctx, SHIPMENT, "Dock team", days=3, by="Ada")
    confirm_with_shorts(ctx, SHIPMENT, name="Bo")
    with closing(sqlite3.connect(ctx.data / "receiving.sqlite")) as stored:
        kept = [
            str(value)
            for table, columns in SECRETS.items()
            for row in stored.execute(f"SELECT {', '.join(columns)} FROM {table}")
            for value in row
            if value
        ]
    assert len(kept) >= 12
    secrets = [each.encode() for each in [*kept, token, link, *own.sessions()]]
    asked = 0
    for person in own.people:
        for rule, method in rules(person.client.application):
            if method != "GET":
                continue
            path = path_of(person.client.application, rule)
            answer = person.client.get(path, headers={"Authorization": f"Bearer {token}"})
            data = answer.get_data()
            asked += answer.status_code == 200
            assert not [each for each in secrets if each in data], path
            answer.close()
    assert asked > 150


class PinnedPeople:
    """One of each role, signed in, each with a PIN where he may have one."""

    def __init__(self, ctx: service.Context) -> None:
        from web import create_app

        app = create_app(ctx)
        self.people = []
        for name, role in (("Ada Lund", Role.COORDINATOR), ("Bo Reyes", Role.REP), ("Cem Ortiz", Role.STORE_MANAGER)):
            service.add_person(ctx, name, role, WORDS)
            person = Person(app)
            assert person.sign_in(name).status_code == 303
            self.people.append(person)
        assert self.people[-1].send("POST", "/account/pin", pin="417905").status_code == 303

    def sessions(self) -> list[str]:
        return [person.client.get_cookie("session").value for person in self.people]


def test_a_call_of_the_api_gives_the_fields_that_it_describes_and_no_others(ctx: service.Context) -> None:
    """V15.3.1: what is read as the described type and written again is what was sent."""
    import msgspec

    from web import create_app
    from web.api_description import OPERATIONS

    confirm_with_shorts(ctx, SHIPMENT, name="Bo")
    photo = service.add_photo(ctx, SHIPMENT, "pile.jpg", picture(), place=Place.DOCK, by="Ada").photo
    _, token = service.make_api_token(ctx, "till", ["read"], by="Ada")
    client = create_app(ctx).test_client()
    values = {"shipment": "S-2041~2FA", "number": "1", "photo": photo, "kind": "jsonld"}
    calls = [each for each in OPERATIONS if each.method == "GET"]
    for call in calls:
        path = "/api/v1" + re.sub(r"\{(\w+)\}", lambda name: values[name[1]], call.path)
        answer = client.get(path, headers={"Authorization": f"Bearer {token}"})
        assert answer.status_code == 200, path
        assert msgspec.json.encode(msgspec.json.decode(answer.data, type=call.gives)) == answer.data, path
    assert len(calls) >= 6
