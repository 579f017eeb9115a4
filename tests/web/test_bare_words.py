"""No page holds a word that a catalogue cannot say: every message is said in brackets, and what stands outside is data.

Also after what a person does: an answer to a scan, a question, a note, a form that is refused, a change of the plan.
"""

import io
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from werkzeug.test import TestResponse

import web.speech
from receiving import service
from receiving.model import CartonKind, Place, Role, Source
from tests.planned_reader import PlannedReader
from tests.web.bare_words import WORD, Bracketed, bare, fill_and_confirm, words_of_data
from tests.web.conftest import Browser
from tests.web.page_text import read
from tests.web.scenario import ADDRESS, MANIFEST, SHIPMENT, open_context, pile_reading, sscc
from web import create_app

REP = (
    "/",
    "/?q=2041",
    "/find?code=nothing",
    "/outbox",
    "/no-signal",
    "/scanner",
    "/sign-in",
    "/nowhere",
    ADDRESS,
    f"{ADDRESS}/stage",
    f"{ADDRESS}/hand-over",
    *(f"{ADDRESS}/cartons/{carton}" for carton in ("03", "04", "09", "12", "20", "nothing")),
    f"{ADDRESS}/plan",
    f"{ADDRESS}/plan/change?carton=03&trip=2",
    f"{ADDRESS}/contents",
    f"{ADDRESS}/bay-sheets",
)
"""The pages of the rep."""

OFFICE = (
    "/overview",
    "/overview?q=2041&state=short&sort=-store",
    "/import",
    "/programme",
    "/call-list?days=60",
    "/swaps",
    "/stores/0417/request",
    "/office",
    "/office/settings?done",
    "/office/patterns",
    "/office/layouts/0417",
    "/office/layouts/0422",
    "/office/kit",
    "/office/kit/moves",
    "/office/parts",
    "/people",
    "/people/audit",
    "/api-tokens",
    "/webhooks",
    *(f"{ADDRESS}/{name}" for name in ("receipt", "receipts/1", "before-the-visit", "links", "manifest", "void")),
    *(f"{ADDRESS}/{name}" for name in ("planogram", "planogram/03", "labels?carton=12", "labels")),
)
"""The pages of the coordinator, of the office and of the store manager."""

TYPED = "COLUMN ROW nothing that is known torn base pusher set price rail"
DATA = words_of_data() | set(TYPED.split(" "))
"""Beside what the pages were filled with: typed texts, and the parts of the demo's trays."""


@pytest.fixture(scope="module")
def filled(tmp_path_factory: pytest.TempPathFactory) -> Iterator[service.Context]:
    """A shipment with something of everything: shared, so that no test here may count what another one did."""
    reader = PlannedReader()
    reader.readings["pile.jpg"] = pile_reading()
    with open_context(tmp_path_factory.mktemp("bare"), reader) as ctx:
        fill_and_confirm(ctx)
        yield ctx


@pytest.fixture
def reader_of_brackets(filled: service.Context, monkeypatch: pytest.MonkeyPatch) -> Browser:
    speaker = Bracketed()
    monkeypatch.setattr(web.speech, "language_of", lambda _: speaker)
    browser = Browser(create_app(filled).test_client())
    browser.client.set_cookie("person", "Ada")
    return browser


def left_bare(html: str) -> list[str]:
    return list(dict.fromkeys(bare(html, DATA)))


@pytest.mark.parametrize("address", REP)
def test_a_page_of_the_rep_holds_no_bare_word(reader_of_brackets: Browser, address: str) -> None:
    page = reader_of_brackets.get(address, follow_redirects=True)
    assert left_bare(page.text) == []


def test_the_photo_of_a_pile_holds_no_bare_word(reader_of_brackets: Browser, filled: service.Context) -> None:
    (photo,) = {row.photo for row in service.get_shipment(filled, SHIPMENT).photos}
    assert left_bare(reader_of_brackets.get(f"{ADDRESS}/photos/{photo}").text) == []


@pytest.mark.parametrize(
    "text", [f"]C100{sscc(3)}", f"]C100{sscc(102)}", f"]C100{sscc(9)}", "1-1", "nothing that is known", "22"]
)
def test_the_answer_to_a_scan_holds_no_bare_word(reader_of_brackets: Browser, text: str) -> None:
    data = {"text": text, "source": "typed", "place": "dock", "by": "Ada"}
    page = reader_of_brackets.post(f"{ADDRESS}/scans", data, follow_redirects=True)
    assert 'class="answer' in page.text
    assert left_bare(page.text) == []


def test_a_question_and_what_was_answered_hold_no_bare_word(
    reader_of_brackets: Browser, filled: service.Context
) -> None:
    given = service.add_scan(filled, SHIPMENT, "2-1", place=Place.DOCK, by="Bo", source=Source.TYPED)
    assert given.question
    question = f"{ADDRESS}/questions/{given.question.question_id}"
    page = reader_of_brackets.get(question)
    assert left_bare(page.text) == []
    answered = reader_of_brackets.post(question, {"carton": given.question.cartons[0]}, follow_redirects=True)
    assert left_bare(answered.text) == []
    again = reader_of_brackets.post(question, {"carton": "04"})
    assert again.status_code == 409
    assert left_bare(again.text) == []


@pytest.mark.parametrize(
    "note",
    [
        {"kind": "carton_place", "carton": "03", "place": "back_room"},
        {"kind": "carton_seen", "carton": "04", "reason": "torn"},
        {"kind": "place_searched", "carton": "06", "place": "overhead"},
        {"kind": "short_declared", "carton": "06", "reason": "torn"},
        {"kind": "damage_noted", "carton": "03", "reason": "arrived_damaged", "usable": "true", "remark": "torn"},
        {"kind": "content_counted", "carton": "03"},
        {"kind": "outer_opened", "carton": "20", "all_inside": "true"},
        {"kind": "carton_moved", "carton": "03", "bay": "B1"},
        {"kind": "staging_changed", "carton": "12", "trip": "1", "bay": "B2"},
    ],
    ids=lambda note: note["kind"],
)
def test_what_a_note_says_afterwards_is_a_message(reader_of_brackets: Browser, note: dict[str, str]) -> None:
    at = f"{ADDRESS}/cartons/{note['carton']}"
    page = reader_of_brackets.post(f"{ADDRESS}/notes", {**note, "back": at}, follow_redirects=True)
    assert page.status_code == 200
    assert left_bare(page.text) == []


def test_a_plan_with_changes_by_hand_holds_no_bare_word(reader_of_brackets: Browser) -> None:
    changed = {"kind": "staging_changed", "carton": "03", "trip": "2", "back": f"{ADDRESS}/plan"}
    page = reader_of_brackets.post(f"{ADDRESS}/notes", changed, follow_redirects=True)
    assert read(page.text).all("h2", id="changes")
    assert left_bare(page.text) == []


@pytest.mark.parametrize(
    ("address", "fields", "status"),
    [
        ("/who", {"person": ""}, 400),
        ("/place", {"place": "roof"}, 400),
        ("/language", {"language": "tlh"}, 400),
        (f"{ADDRESS}/scans", {"text": ""}, 400),
        (f"{ADDRESS}/photos", {}, 400),
        (f"{ADDRESS}/scan-list", {}, 400),
        (f"{ADDRESS}/notes", {"kind": "carton_seen", "carton": "99"}, 400),
        (f"{ADDRESS}/notes", {"kind": "damage_noted", "carton": "03", "reason": "bent"}, 400),
        ("/who", {"token": "forged"}, 403),
    ],
)
def test_a_form_that_is_refused_says_so_in_messages(
    reader_of_brackets: Browser, address: str, fields: dict[str, str], status: int
) -> None:
    page = reader_of_brackets.post(address, fields)
    assert page.status_code == status
    assert list(dict.fromkeys(bare(page.text, DATA | {"roof", "tlh", "bent"}))) == []


@pytest.mark.parametrize("address", OFFICE)
def test_a_page_of_the_office_holds_no_bare_word(reader_of_brackets: Browser, address: str) -> None:
    page = reader_of_brackets.get(address)
    assert page.status_code == 200
    assert left_of_import(page) == []


FILES = "kestrel manifest layout csv toml ISA name regex Delivery Ship To Box No Weight Set Date time zone"
IMPORTED = set(FILES.split(" ")) | {
    *(word for name in service.list_manifest_columns()[0] for word in name.split("_")),
    *(word for kind in CartonKind for word in kind.value.split("_")),
}
"""The names of files and headings, and the columns and kinds of a manifest as files write them."""


def sent(browser: Browser, name: str, text: str, kind: str = "manifest", at: str = "/import") -> TestResponse:
    file = (io.BytesIO(text.encode()), name)
    return browser.post(at, {"kind": kind, "file": file}, content_type="multipart/form-data", follow_redirects=True)


def left_of_import(page: TestResponse) -> list[str]:
    return list(dict.fromkeys(bare(page.text, DATA | IMPORTED)))


def test_the_preview_of_a_file_and_what_it_did_hold_no_bare_word(reader_of_brackets: Browser) -> None:
    changed = MANIFEST.replace("S-2055", "S-2066").replace(",header,", ",graphic,").replace("0417", "417")
    preview = sent(reader_of_brackets, "kestrel.csv", changed)
    assert "/again" in preview.text
    assert left_of_import(preview) == []
    (ticket,) = {*re.findall(r'action="/import/([\w-]+)"', preview.text)}
    for then in (f"/import/{ticket}/again", f"/import/{ticket}"):
        page = reader_of_brackets.post(then, {"zeros": "restore"})
        assert page.status_code == 200
        assert left_of_import(page) == []
    assert left_of_import(reader_of_brackets.get(f"{ADDRESS}/manifest")) == []
    assert left_of_import(reader_of_brackets.get(f"{ADDRESS}/revisions/1/restore")) == []


@pytest.mark.parametrize(
    ("kind", "text", "status"),
    [
        ("manifest", "Delivery;Ship To;Box No;Weight;Set Date\nD7;0417;01;1,5;9.3.2026\n", 422),
        ("manifest", MANIFEST.replace(",header,", ",troy,").replace(",60,40,30,", ",60,x,30,"), 422),
        ("manifest", "ISA*00*", 422),
        ("layout", "[[bay]]\nbay = 1", 422),
        ("patterns", "[[pattern]]\nname = 'x'", 422),
        ("stores", "store,time_zone\n0417,Nowhere/Else\n", 422),
    ],
)
def test_a_file_with_faults_says_them_in_messages(
    reader_of_brackets: Browser, kind: str, text: str, status: int
) -> None:
    page = sent(reader_of_brackets, "kestrel.csv", text, kind)
    assert page.status_code == status
    assert left_of_import(page) == []


@pytest.mark.parametrize(
    ("address", "fields", "status"),
    [
        ("/overview/decide", {"until": "soon"}, 400),
        ("/import", {}, 400),
        ("/import/old", {}, 409),
        ("/stores/0417/request", {"deliver_to": "", "contact": "", "needed_by": "soon"}, 400),
        ("/office/settings", {"right_mm": "far"}, 422),
        ("/office/settings", {"photo_days": "soon"}, 422),
        ("/office/parts", {"do": "save", "follows": "0", "part": "", "kind": "tray", "qty": "many"}, 400),
        ("/office/patterns", {"do": "check", "text": "[[pattern]]", "example": ""}, 422),
        ("/office/kit", {"do": "save", "follows": "0", "text": "item,column\nTRAY,x"}, 422),
        ("/office/layouts/0417", {"do": "check", "text": "store = 1"}, 422),
        (f"{ADDRESS}/receipt", {"digest": "old", "name": "", "role": ""}, 400),
        (f"{ADDRESS}/planogram/03", {"kind": "tray", "section": "", "column": "x", "row": "1"}, 400),
        ("/people", {"name": "", "role": "coordinator", "password": "short"}, 400),
        ("/api-tokens", {"name": ""}, 400),
        ("/webhooks", {"url": "https://10.0.0.1/", "event": "shipment_short"}, 400),
        (f"{ADDRESS}/links", {"label": "", "days": "3"}, 400),
        ("/swaps/costs", {"second_visit": "many"}, 400),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_a_form_of_the_office_that_is_refused_says_so_in_messages(
    reader_of_brackets: Browser, address: str, fields: dict[str, str], status: int
) -> None:
    page = reader_of_brackets.post(address, fields)
    assert page.status_code == status
    typed = {word for value in fields.values() for word in WORD.findall(value)}
    assert list(dict.fromkeys(bare(page.text, DATA | IMPORTED | typed))) == []


@pytest.mark.parametrize(
    ("address", "fields", "shows"),
    [
        ("/stores/0417/request", {"deliver_to": "Dock", "contact": "Bo", "by": "Ada"}, "R-0417-001"),
        (f"{ADDRESS}/links", {"label": "Dock", "days": "3"}, "/come#"),
        ("/api-tokens", {"name": "Dock", "scope": "read"}, "/api-tokens/"),
        ("/webhooks", {"url": "https://program.example.com/", "event": "shipment_short"}, "/webhooks/"),
        ("/office/settings", {"units": "us", "dpi": "203"}, 'role="status"'),
        ("/office/patterns", {"do": "try", "example": "COL 3 ROW 2"}, 'role="status"'),
        (f"{ADDRESS}/notes", {"kind": "visit_decided", "go": "false", "until": "2026-03-09"}, "note_withdrawn"),
        (f"{ADDRESS}/notes", {"kind": "shortage_followed", "carton": "06", "step": "sent_again"}, "note_withdrawn"),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_what_the_office_made_is_shown_in_messages(
    reader_of_brackets: Browser, address: str, fields: dict[str, str], shows: str
) -> None:
    back = {"back": f"{ADDRESS}/before-the-visit"} if address.endswith("/notes") else {}
    page = reader_of_brackets.post(address, {**fields, **back}, follow_redirects=True)
    assert page.status_code == 200
    assert shows in page.text
    secrets = {word for text in re.findall(r"[\w+/=-]{20,}", page.text) for word in WORD.findall(text)}
    typed = {word for value in fields.values() for word in WORD.findall(value)}
    assert (
        list(
            dict.fromkeys(
                bare(
                    page.text,
                    DATA
                    | typed
                    | secrets
                    | {"http", "localhost", "come", "whsec", "program", "example", "com", "column"},
                )
            )
        )
        == []
    )


@pytest.mark.parametrize(
    ("role", "addresses"),
    [
        (Role.COORDINATOR, {"/account": 200, "/people": 200, "/people/audit": 200, "/office": 200}),
        (Role.STORE_MANAGER, {"/account": 200, f"{ADDRESS}/receipt": 200, "/people": 403, "/": 200}),
    ],
)
def test_who_signs_in_reads_no_bare_word(
    role: Role, addresses: dict[str, int], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    speaker = Bracketed()
    monkeypatch.setattr(web.speech, "language_of", lambda _: speaker)
    with open_context(tmp_path, PlannedReader()) as ctx:
        service.add_person(ctx, "Ada Lund", Role.COORDINATOR, PASSWORD)
        service.add_person(ctx, "Cem Ortiz", Role.STORE_MANAGER, PASSWORD, stores=["0417"])
        browser = Browser(create_app(ctx).test_client(), "/sign-in")
        name = "Ada Lund" if role is Role.COORDINATOR else "Cem Ortiz"
        assert browser.post("/sign-in", {"name": name, "password": PASSWORD}).status_code == 303
        pages = [browser.get(address) for address in addresses]
        assert [page.status_code for page in pages] == list(addresses.values())
        pages += [browser.post("/account/password", {"old": "wrong", "new": "x"})]
        assert pages[-1].status_code == 400
        assert [list(dict.fromkeys(bare(page.text, DATA | set(NAMES.split(" ")) | CODES))) for page in pages] == [
            []
        ] * 5


PASSWORD = "four plain words here"
NAMES = "Ada Lund Cem Ortiz"
CODES = {"GET", "people", "list", "account", "password", "coordinator", "store", "manager", "stores"}
"""What the audit log says as it is stored: routes, how somebody signed in, and the scope of an account."""


def test_a_bare_word_is_found_wherever_a_person_reads_it() -> None:
    html = (
        '<p>⟦Carton ⟧03⟦ is here.⟧</p><p>Left bare</p><img alt="A photo"><input placeholder="⟦Said⟧"><b>⟦Here⟧, now</b>'
    )
    assert bare(html, set()) == ["Left bare", "A photo", ", now"]
