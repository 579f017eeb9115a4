"""A form that is sent again is answered again and not done again: twice in a row, and several times at once."""

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from io import BytesIO
from pathlib import Path
from threading import Barrier, Thread
from uuid import UUID, uuid4

import pytest
from flask import Flask

from receiving import service
from receiving.model import Place, Role, Source
from receiving.model.replacement import Delivery
from tests.planned_reader import PlannedReader
from tests.web.conftest import Browser
from tests.web.scenario import SHIPMENT, open_context, sscc
from tests.web.test_access import WORDS, Person
from web import create_app

ACTION = str(UUID(int=7, version=4))
AT = "/s/S-2041~2FA"
UPLOADS = {
    "deliveries": "shipment,delivered_on\nS-2055,2026-03-04\n",
    "lanes": "from,to,cost,days\n0417,0422,0.2,2\n",
}
HOOK = {"url": "https://hooks.example.com/in", "event": ["shipment_short"]}

FORMS: dict[str, tuple[str, dict[str, object]]] = {
    "coordinator.decide_all": ("/overview/decide", {"shipment": ["S-2055"], "go": "true", "by": "Ada"}),
    "manager.give": (f"{AT}/receipt", {"how": "exceptions", "short": "searched", "name": "Cem", "role": "manager"}),
    "office.change_settings": ("/office/settings", {"units": "us", "right_mm": "0", "down_mm": "0", "dpi": "203"}),
    "office.change_patterns": ("/office/patterns", {"do": "reset", "follows": "1"}),
    "office.change_layout": ("/office/layouts/0417", {"do": "save", "follows": "1"}),
    "office.change_kit": ("/office/kit", {"do": "save", "follows": "0"}),
    "office.move_by_kit": ("/office/kit/moves", {"shipment": [SHIPMENT]}),
    "office.change_parts": (
        "/office/parts",
        {"do": "save", "follows": "0", "kind": ["tray"], "part": ["base"], "qty": ["1"], "of_position": ["no"]},
    ),
    "office_shipment.restore_revision": (f"{AT}/revisions/1/restore", {"follows": "2"}),
    "office_shipment.void_shipment": (f"{AT}/void", {"reason": "imported by mistake"}),
    "office_shipment.restore_shipment": ("/s/S-2055/void/undo", {"reason": "it was right"}),
    "office_shipment.carton_check": (
        f"{AT}/planogram/03",
        {"do": "save", "follows": "1", "kind": "tray", "section": ["Harbor Lane"] * 2, "column": ["5"] * 2}
        | {"row": ["1", "2"]},
    ),
    "people.make_link": (f"{AT}/links", {"label": "night shift", "days": "3"}),
    "people.revoke_link": (f"{AT}/links/{{link}}", {}),
    "programme.deliveries": ("/deliveries", {"file": "deliveries"}),
    "programme.costs": ("/swaps/costs", {"second_visit": "2", "day": "0.5", "swap": "0.1"}),
    "programme.lanes": ("/swaps/lanes", {"file": "lanes"}),
    "rep.add_note": (f"{AT}/notes", {"kind": "carton_seen", "carton": "05", "by": "Ada"}),
    "replacement.issue": ("/stores/0417/request", {"deliver_to": "back door", "contact": "Cem", "phone": "1"}),
    "replacement.withdraw": ("/stores/0417/requests/1/withdraw", {}),
    "tokens.make": ("/api-tokens", {"name": "carrier", "scope": ["read"]}),
    "tokens.end": ("/api-tokens/{token}/end", {}),
    "webhooks.make": ("/webhooks", HOOK),
    "webhooks.change_secret": ("/webhooks/{webhook}/secret", {}),
    "webhooks.try_it": ("/webhooks/{webhook}/try", {}),
    "webhooks.end": ("/webhooks/{webhook}/end", {}),
    "webhooks.again": ("/webhook-deliveries/1/again", {}),
}

SIGNED_IN = {"people.add", "people.change"}
"""Tried below, since with the first account everybody signs in."""

OTHERWISE = {
    "account.again": "a session: the one before ends",
    "account.password": "the old one is asked for, and is the old one no more",
    "account.pin": "setting it again changes nothing",
    "account.sessions": "ending them again changes nothing",
    "account.passkey_options": "gives a challenge, good for once",
    "account.add_passkey": "its challenge is good for once",
    "account.remove_passkey": "removing it again changes nothing",
    "imports.preview": "stores no more than the file that it shows; a text that is in use gets no new version",
    "imports.columns": "kept by the shipper's name: saving the same again changes nothing",
    "imports.preview_again": "stores no more than the file that it shows",
    "imports.taken": "a manifest that is in use gets no new revision",
    "crops.add": "named by what is in the picture",
    "languages.choose": "a choice of this browser",
    "people.begin": "a session",
    "people.enter": "a session",
    "people.sign_out": "ending it again changes nothing",
    "phone.act": "each action has its id",
    "programme.take": "a carton that is on its way is refused; tests/web/test_coordinator.py",
    "rep.add_photos": "named by what is in the photo",
    "rep.add_scan": "the scan has its id",
    "rep.add_scan_list": "each scan has its id",
    "rep.answer_question": "the question is settled; with an id it is answered again",
    "rep.place": "a cookie",
    "rep.set_scanner": "a cookie",
    "rep.who": "a cookie",
    "signing_on.by_passkey": "its challenge is good for once",
    "signing_on.passkey_options": "gives a challenge, good for once",
}


class Served:
    """The app at a context where every form of the table has something to do."""

    def __init__(self, folder: Path) -> None:
        folder.mkdir()
        self.ctx = open_context(folder, PlannedReader())
        self.app: Flask = create_app(self.ctx)
        self.file = folder / "receiving.sqlite"

    def filled(self, endpoint: str) -> tuple[str, dict[str, object]]:
        """The form's address and fields, after what has to be there before."""
        path, fields = FORMS[endpoint]
        fields, ctx = dict(fields), self.ctx
        made: dict[str, str] = {}
        if endpoint == "office.change_layout":
            fields["text"] = service.get_layout_text(ctx, "0417").replace("walk_m = 60", "walk_m = 61")
        if endpoint.startswith(("office.change_kit", "office.move")):
            text = "item,section,column,row\nTRAY-H11,Harbor Lane,6,1\n"
            if endpoint == "office.change_kit":
                fields["text"] = text
            else:
                assert self.send("/office/kit", {"do": "save", "follows": "0", "text": text}, str(uuid4()))[0] == 303
                fields["seen"] = service.preview_kit_moves(ctx).seen
        if endpoint == "office.change_patterns":
            shipped = self.app.test_client().get("/office/patterns/label-patterns.toml").text
            ours = {"do": "save", "follows": "0", "text": f"{shipped}\n# ours\n"}
            assert self.send("/office/patterns", ours, str(uuid4()))[0] == 303
        if endpoint == "office_shipment.restore_revision":
            self.revise()
        if endpoint == "office_shipment.restore_shipment":
            service.void_shipment(ctx, "S-2055", by="Ada", reason="wrong")
        if endpoint == "people.revoke_link":
            made["link"] = service.make_link(ctx, SHIPMENT, "day", days=2, by="Ada")[0].link_id
        if endpoint == "manager.give":
            text = f"]C100{sscc(3)}"
            service.add_scan(ctx, SHIPMENT, text, place=Place.DOCK, by="Ada", source=Source.SCANNER)
            shown = service.get_receipt_to_confirm(ctx, SHIPMENT).shown
            fields["digest"] = shown.digest
        if endpoint == "replacement.withdraw":
            service.issue_request(ctx, "0417", Delivery("door", "Cem", "1"), by="Ada")
            text = f"]C100{sscc(3)}"
            service.add_scan(ctx, SHIPMENT, text, place=Place.DOCK, by="Ada", source=Source.SCANNER)
        if endpoint == "tokens.end":
            made["token"] = service.make_api_token(ctx, "old", ["read"], by="Ada")[0].token_id
        if endpoint.startswith("webhooks.") and endpoint != "webhooks.make":
            made["webhook"] = service.make_webhook(ctx, HOOK["url"], HOOK["event"], by="Ada").webhook_id
            service.try_webhook(ctx, made["webhook"])
        return path.format(**made), fields

    def revise(self) -> None:
        path, fields = FORMS["office_shipment.carton_check"]
        assert self.send(path, fields, str(uuid4()))[0] == 303

    def send(self, path: str, fields: dict[str, object], action: str) -> tuple[int, str]:
        browser = Browser(self.app.test_client())
        named = {name: value for name, value in fields.items() if name != "file"}
        if "file" in fields:
            named["file"] = (BytesIO(UPLOADS[str(fields["file"])].encode()), "list.csv")
        response = browser.post(path, {**named, "action_id": action}, content_type="multipart/form-data")
        return response.status_code, response.headers.get("Location", "")

    def stored(self) -> dict[str, list[tuple[object, ...]]]:
        """The rows of each table, without what is derived and what is said of who looked."""
        with closing(sqlite3.connect(self.file)) as db:
            names = [n for (n,) in db.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
            kept = [n for n in names if not n.startswith(("list_", "row_", "stale_", "sqlite_", "audit"))]
            return {name: db.execute(f'SELECT * FROM "{name}"').fetchall() for name in kept}

    def rows(self) -> dict[str, int]:
        """How many rows each table has."""
        return {name: len(rows) for name, rows in self.stored().items()}


@pytest.fixture
def served(tmp_path: Path) -> Iterator[list[Served]]:
    made = [Served(tmp_path / name) for name in ("row", "at-once")]
    yield made
    for each in made:
        each.ctx.close()


def test_every_form_that_stores_something_is_in_the_table_or_says_why_it_need_not(app: Flask) -> None:
    posts = {
        rule.endpoint
        for rule in app.url_map.iter_rules()
        if "POST" in (rule.methods or ()) and not rule.endpoint.startswith("api.")
    }
    assert posts == FORMS.keys() | SIGNED_IN | OTHERWISE.keys()


@pytest.mark.parametrize("endpoint", FORMS)
def test_a_form_sent_again_is_answered_again_and_done_once(served: list[Served], endpoint: str) -> None:
    one, many = served
    form = one.filled(endpoint)
    before = one.stored()
    status, location = one.send(*form, ACTION)
    after, rows = one.stored(), one.rows()
    assert status in (200, 303) and after != before
    again = one.send(*form, ACTION)
    assert again[0] == 303 and (again[1] == location or status == 200)
    assert one.stored() == after

    form = many.filled(endpoint)
    start, answers = Barrier(4), []

    def send() -> None:
        start.wait()
        answers.append(many.send(*form, ACTION))

    threads = [Thread(target=send) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted({status for status, _ in answers}) in ([303], [200, 303])
    assert many.rows() == rows


def test_what_is_refused_or_only_shown_is_remembered_by_no_id(served: list[Served]) -> None:
    one = served[0]
    before = one.stored()
    assert one.send(
        "/office/parts", {"follows": "0", "kind": "tray", "part": "a", "qty": "x", "of_position": ""}, ACTION
    )[0] in (400, 409, 422)
    checked = {"do": "check", "follows": "1", "text": service.get_layout_text(one.ctx, "0417")}
    assert one.send("/office/layouts/0417", checked, ACTION)[0] == 200
    assert one.stored() == before
    saved = {**checked, "do": "save", "text": str(checked["text"]).replace("walk_m = 60", "walk_m = 61")}
    assert one.send("/office/layouts/0417", saved, ACTION)[0] == 303


def test_an_id_that_came_with_something_else_is_refused(served: list[Served]) -> None:
    one = served[0]
    note = {"kind": "carton_seen", "carton": "05", "by": "Ada"}
    assert one.send(f"{AT}/notes", note, ACTION)[0] == 303
    rows = one.rows()
    assert one.send(f"{AT}/notes", {**note, "carton": "06"}, ACTION)[0] == 409
    assert one.send(f"{AT}/notes", note, "not an id")[0] == 400
    assert one.rows() == rows
    assert one.send(f"{AT}/notes", note, str(uuid4()))[0] == 303, "said again on purpose, it is another one"
    assert one.rows() != rows


def test_an_account_is_added_and_closed_once_however_often_the_form_comes(app: Flask, ctx: service.Context) -> None:
    service.add_person(ctx, "Ada Lund", Role.COORDINATOR, WORDS)
    person = Person(app)
    assert person.sign_in("Ada Lund").status_code == 303
    new = {"name": "Bo Reyes", "role": "rep", "password": WORDS, "action_id": ACTION}
    assert [person.send("POST", "/people", **new).status_code for _ in range(2)] == [200, 303]
    account = service.list_people(ctx)[-1]
    assert [each.name for each in service.list_people(ctx)] == ["Ada Lund", "Bo Reyes"]
    closing = {"what": "close", "action_id": str(uuid4())}
    at = f"/people/{account.person_id}"
    assert person.send("POST", at, **closing).status_code == 303
    assert person.send("POST", at, what="open").status_code == 303
    assert person.send("POST", at, **closing).status_code == 303
    assert service.list_people(ctx)[-1].disabled_at is None, (
        "a form that comes late closes nothing that was opened since"
    )
    with ctx.store() as store:
        assert WORDS not in str(store.action(ACTION))
