"""Every way to store a text, tried with characters that show nothing or turn what stands around them.

Each may refuse it or take it without the character; afterwards no text of the database holds one. What a scanner sent
is the exception: it is kept exactly as sent.
"""

import json
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing, suppress
from dataclasses import replace
from datetime import date
from io import BytesIO
from pathlib import Path

import pytest
from flask import Flask, url_for
from openpyxl import Workbook
from werkzeug.routing import IntegerConverter, Rule

from receiving import service
from receiving.__main__ import main
from receiving.errors import ReceivingError
from receiving.expected import ColumnMapping
from receiving.model import Place, Role, Source
from receiving.model.hidden_characters import find_hidden_character
from receiving.model.replacement import Delivery
from tests.planned_reader import PlannedReader
from tests.web.conftest import Browser
from tests.web.scenario import LAYOUT, MANIFEST, SHIPMENT, open_context, picture, sscc

WORDS = "four plain words here"
CHARACTERS = ("\0", "\x1b", "\u202e", "\u2067", "\ufeff")
AS_SENT = {("reads", "raw"), ("reads", "symbology"), ("photos", "reading")}
"""Columns of what a scanner or a camera read."""


def texts(value: object) -> Iterator[str]:
    """Every text in a cell, in the JSON that it may hold as well."""
    if isinstance(value, str):
        yield value
        with suppress(ValueError):
            inner = json.loads(value)
            yield from texts(inner) if isinstance(inner, dict | list) else ()
    elif isinstance(value, dict):
        for key, each in value.items():
            yield from (*texts(key), *texts(each))
    elif isinstance(value, list):
        for each in value:
            yield from texts(each)


def stored_with_a_sign(data: Path) -> list[tuple[str, str, str]]:
    """By table and column, the texts of the database in which such a character stands."""
    found = []
    with closing(sqlite3.connect(data / "receiving.sqlite")) as file:
        names = [row[0] for row in file.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
        for table in names:
            cursor = file.execute(f'SELECT * FROM "{table}"')
            columns = [each[0] for each in cursor.description]
            for row in cursor:
                for column, cell in zip(columns, row, strict=True):
                    if (table, column) not in AS_SENT:
                        found += [
                            (table, column, text) for text in texts(cell) if find_hidden_character(text) is not None
                        ]
    return found


def everything(data: Path) -> list[str]:
    with closing(sqlite3.connect(data / "receiving.sqlite")) as file:
        return list(file.iterdump())


def workbook(cell: str) -> bytes:
    book, out = Workbook(), BytesIO()
    for row in (("shipment", "store", "carton", "kind", "item"), ("S-9", "0417", "01", "tray", cell)):
        book.active.append(row)
    book.save(out)
    return out.getvalue()


def ways(bad: str, folder: Path) -> dict[str, Callable[[service.Context], object]]:
    """By its name, what people and programs do that stores a text."""
    file = f"a{bad}b.csv"
    row = f"S-9,0417,01,{sscc(900)},,tray,Harbor Lane,1,1,no,T,t,1,ea,6,60,40,30,2026-03-09"
    head = MANIFEST.splitlines()[0]
    delivery = Delivery(f"To{bad}", "Ada", "1", date(2026, 3, 9), f"R{bad}")
    pattern = f"[[pattern]]\nname = \"a{bad}b\"\nregex = 'C(?P<carton>[0-9]+)'\n"
    mapping = (("Load No", "shipment"), ("Shop", "store"), ("Box", "carton"), ("Kind", "kind"))
    notes = folder / "notes.jsonl"
    notes.write_text(json.dumps({"kind": "carton_seen", "carton": "02", "by": f"B{bad}", "reason": f"x{bad}"}))
    return {
        "manifest's file": lambda ctx: service.import_manifest(ctx, file, f"{head}\n{row}\n".encode()),
        "file that is looked at first": lambda ctx: service.preview_upload(ctx, "1", file, f"{head}\n{row}\n".encode()),
        "manifest": lambda ctx: service.import_manifest(
            ctx, "m.csv", f"{head}\n{row.replace('T,t', f'T,t{bad}')}".encode()
        ),
        "workbook": lambda ctx: service.import_manifest(ctx, "m.xlsx", workbook(f"a_x{ord(bad):04X}_b")),
        "layout's file": lambda ctx: service.import_layout(ctx, file, LAYOUT.encode() + b"\n"),
        "layout": lambda ctx: service.import_layout(ctx, "l.toml", LAYOUT.replace('"B1"', f'"B{bad}1"').encode()),
        "layout's store": lambda ctx: service.import_layout(
            ctx, "l", LAYOUT.replace('"0417"', f'"04{bad}17"').encode()
        ),
        "layout's comment": lambda ctx: service.import_layout(ctx, "l", (f"# {bad}\n" + LAYOUT).encode()),
        "kit's file": lambda ctx: service.import_text(ctx, service.KIT, file, b"item,section,column,row\nA,H,1,2\n"),
        "kit": lambda ctx: service.import_text(
            ctx, service.KIT, "k", f"item,section,column,row\nA{bad},H,1,2\n".encode()
        ),
        "patterns": lambda ctx: service.import_text(ctx, service.PATTERNS, "p.toml", pattern.encode()),
        "escaped patterns": lambda ctx: service.import_text(
            ctx, service.PATTERNS, "p", pattern.replace(f"a{bad}b", f"a\\u{ord(bad):04x}b").encode()
        ),
        "patterns' comment": lambda ctx: service.import_text(ctx, service.PATTERNS, "p", f"# {bad}\n".encode()),
        "stores": lambda ctx: service.import_stores(ctx, file, f"store,name\n0417,N{bad}\n".encode()),
        "columns": lambda ctx: service.save_mapping(ctx, ColumnMapping(f"Sh{bad}", mapping)),
        "columns' headings": lambda ctx: service.save_mapping(
            ctx, ColumnMapping("Sh", ((f"Lo{bad}ad", "shipment"), *mapping[1:]))
        ),
        "columns' constants": lambda ctx: service.save_mapping(
            ctx, ColumnMapping("Sh", mapping[:-1], constants=(("description", f"t{bad}"), ("kind", "tray")))
        ),
        "scan's person": lambda ctx: service.add_scan(
            ctx, SHIPMENT, "C1", place=Place.DOCK, by=f"A{bad}", source=Source.SCANNER
        ),
        "scan list": lambda ctx: service.add_scans(
            ctx, SHIPMENT, file, f"scan_id,scanned_at,raw,by\n{'1' * 32},2026-03-05T09:00:00Z,C1,A{bad}\n".encode()
        ),
        "photo": lambda ctx: service.add_photo(ctx, SHIPMENT, file, picture(), place=Place.DOCK, by="Ada"),
        "photo's person": lambda ctx: service.add_photo(ctx, SHIPMENT, "a", picture(), place=Place.DOCK, by=f"A{bad}"),
        "note": lambda ctx: service.add_note(ctx, SHIPMENT, "carton_seen", by="A", carton="02", reason=f"x{bad}"),
        "note's person": lambda ctx: service.add_note(ctx, SHIPMENT, "carton_seen", by=f"A{bad}", carton="02"),
        "damage": lambda ctx: service.add_damage(
            ctx,
            SHIPMENT,
            {"carton": "02", "reason": "arrived_damaged", "usable": False, "remark": f"r{bad}"},
            ("a", picture()),
            place=Place.DOCK,
            by="A",
        ),
        "decision": lambda ctx: service.decide_visits(ctx, [SHIPMENT], go=True, remark=f"r{bad}", by="A"),
        "decision's person": lambda ctx: service.decide_visits(ctx, [SHIPMENT], go=True, by=f"A{bad}"),
        "request": lambda ctx: service.issue_request(ctx, "0417", delivery, by="A"),
        "request's person": lambda ctx: service.issue_request(ctx, "0417", Delivery("To", "Ada"), by=f"A{bad}"),
        "void": lambda ctx: service.void_shipment(ctx, "S-2055", by="A", reason=f"r{bad}"),
        "void's person": lambda ctx: service.void_shipment(ctx, "S-2055", by=f"A{bad}"),
        "revision's person": lambda ctx: (
            service.import_manifest(ctx, "m.csv", MANIFEST.replace(",24.5,", ",25.5,").encode()),
            service.restore_revision(ctx, SHIPMENT, 1, by=f"A{bad}"),
        ),
        "person": lambda ctx: service.add_person(ctx, f"A{bad}", Role.COORDINATOR, WORDS),
        "person's stores": lambda ctx: (
            None if service.has_people(ctx) else service.add_person(ctx, "Cy", Role.COORDINATOR, WORDS),
            service.add_person(ctx, "Bo", Role.REP, WORDS, stores=[f"04{bad}17"], programmes=[f"P{bad}"]),
        ),
        "token": lambda ctx: service.make_api_token(ctx, f"t{bad}", ["read"], by="A"),
        "token's person": lambda ctx: service.make_api_token(ctx, "t", ["read"], by=f"A{bad}"),
        "token's stores": lambda ctx: service.make_api_token(ctx, "t", ["read"], by="A", stores=[f"04{bad}17"]),
        "webhook": lambda ctx: service.make_webhook(
            ctx, f"https://example.com/{bad}", list(service.EventKind)[:1], by="A"
        ),
        "webhook's stores": lambda ctx: service.make_webhook(
            ctx, "https://example.com/", list(service.EventKind)[:1], by="A", programmes=[f"P{bad}"]
        ),
        "link": lambda ctx: service.make_link(ctx, SHIPMENT, f"Ada{bad}", days=3, by="A"),
        "link's person": lambda ctx: service.make_link(ctx, SHIPMENT, "Ada", days=3, by=f"A{bad}"),
        "settings": lambda ctx: service.save_settings(ctx, replace(service.get_settings(ctx), sender=(f"Dock{bad}",))),
        "notes by command": lambda ctx: main(
            ["add", SHIPMENT, "--notes", str(notes), "--by", f"A{bad}", "--data", str(ctx.data)]
        ),
        "codes by command": lambda ctx: main(
            ["add", SHIPMENT, "--codes", "C1 R1", "--by", f"A{bad}", "--data", str(ctx.data)]
        ),
        "void by command": lambda ctx: main(["void", "S-2055", "--reason", f"x{bad}", "--data", str(ctx.data)]),
    }


@pytest.mark.parametrize("character", CHARACTERS)
def test_no_way_stores_such_a_character(ctx: service.Context, tmp_path: Path, character: str) -> None:
    found: list[str] = []
    for name, way in ways(character, tmp_path).items():
        before = len(stored_with_a_sign(ctx.data))
        try:
            way(ctx)
        except ReceivingError:
            continue
        found += [f"{name}: {each}" for each in stored_with_a_sign(ctx.data)[before:]]
    assert not found, "\n".join(found)
    assert stored_with_a_sign(ctx.data) == [], "a way that refused a text has stored it"


def test_each_way_stores_a_text_without_such_signs(tmp_path: Path) -> None:
    refused = {}
    for number, (name, way) in enumerate(ways("x", tmp_path).items()):
        (tmp_path / str(number)).mkdir()
        with open_context(tmp_path / str(number), PlannedReader()) as ctx:
            before = everything(ctx.data)
            try:
                way(ctx)
            except ReceivingError as fault:
                refused[name] = str(fault)
            else:
                if everything(ctx.data) == before:
                    refused[name] = "nothing was stored"
    assert refused == {}


def test_what_is_looked_for_is_found(ctx: service.Context) -> None:
    """The search sees what a way would store, in a column and in its JSON."""
    with ctx.transaction() as store:
        store._db.execute("CREATE TABLE trial (plain TEXT, body TEXT)")
        store._db.execute("INSERT INTO trial VALUES (?, ?)", ["a\u202eb", json.dumps({"k": ["\x1b"]})])
    assert stored_with_a_sign(ctx.data) == [("trial", "plain", "a\u202eb"), ("trial", "body", "\x1b")]


def test_every_form_refuses_such_a_field(app: Flask, browser: Browser) -> None:
    """Whatever the field is called, on every address that a form is sent to."""
    posted = [rule for rule in app.url_map.iter_rules() if "POST" in rule.methods]
    forms = [rule for rule in posted if not rule.endpoint.startswith("api.")]
    assert len(forms) > 40
    for rule in forms:
        for character in CHARACTERS:
            answer = browser.post(address(app, rule), {"anything": f"a{character}b"})
            assert (answer.status_code, f"U+{ord(character):04X}" in answer.text) == (400, True), (rule.rule, character)


def address(app: Flask, rule: Rule) -> str:
    values = {name: 1 if isinstance(kind, IntegerConverter) else SHIPMENT for name, kind in rule._converters.items()}
    with app.test_request_context():
        return url_for(rule.endpoint, **values)
