"""Who came in, was refused, was let in elsewhere, and what was kept or went: each leaves a line that says of whom."""

import csv
import io
import re
import sqlite3
from contextlib import closing
from datetime import timedelta

import pytest
from flask import Flask

from receiving import service
from receiving.model import Actor, AuditKind, AuditLine, AuditWanted, Deed, Role
from receiving.store import DATABASE, check_data
from tests.web.page_text import read
from tests.web.scenario import NOW
from tests.web.test_access import ADDRESS, WORDS, Person
from web import create_app

NAMES = {"Ada Lund": Role.COORDINATOR, "Bo Reyes": Role.REP, "Cem Ortiz": Role.STORE_MANAGER}
OTHER = "five other words, all plain"


@pytest.fixture
def people(ctx: service.Context) -> dict[str, str]:
    return {name: service.add_person(ctx, name, role, WORDS).person_id for name, role in NAMES.items()}


@pytest.fixture
def ada(app: Flask, people: dict[str, str]) -> Person:
    ada = Person(app)
    assert ada.sign_in("Ada Lund").status_code == 303
    return ada


def lines_of(ctx: service.Context, kind: AuditKind = AuditKind.SIGN_INS) -> list[tuple[str, str, str, str]]:
    """Of each line, the newest first: what, by whom, about whom, and how."""
    return [(e.action, e.name, e.about, e.detail) for e in service.list_audit(ctx, AuditWanted(kind=kind))]


def test_who_signs_in_and_out_or_is_refused_is_written_down(app: Flask, ctx: service.Context, ada: Person) -> None:
    assert Person(app).sign_in("bo reyes", "guess").status_code == 403
    ada.send("POST", "/sign-out")
    lines = service.list_audit(ctx, AuditWanted(kind=AuditKind.SIGN_INS))
    assert [(e.action, e.name, e.about, e.detail) for e in lines] == [
        (Deed.SIGNED_OUT, "Ada Lund", "Ada Lund", ""),
        (Deed.SIGN_IN_REFUSED, "", "Bo Reyes", "password"),
        (Deed.SIGNED_IN, "Ada Lund", "Ada Lund", "password"),
    ]
    assert {(e.address, len(e.request_id)) for e in lines} == {("127.0.0.1", 36)}


def test_a_password_that_was_typed_as_the_name_is_stored_nowhere(app: Flask, ctx: service.Context, ada: Person) -> None:
    secret = "correct horse battery staple"
    assert Person(app).sign_in(secret, "x").status_code == 403
    assert lines_of(ctx)[0] == (Deed.SIGN_IN_REFUSED, "", "", "password")
    for wanted in (AuditWanted(), AuditWanted(kind=AuditKind.SIGN_INS)):
        assert secret not in repr(service.list_audit(ctx, wanted))


def test_a_flood_of_wrong_passwords_is_counted_and_does_not_fill_the_log(ctx: service.Context, people: object) -> None:
    for number in range(200):
        with pytest.raises((service.SignInRefused, service.TooManyTries)):
            service.sign_in(ctx, f"nobody {number}", "guess", address="192.0.2.7")
    with closing(sqlite3.connect(ctx.data / DATABASE)) as file:
        held = file.execute("SELECT count(*), sum(times) FROM audit WHERE action LIKE 'sign_in%'").fetchone()
    assert held[0] < 30
    lines = service.list_audit(ctx, AuditWanted(kind=AuditKind.SIGN_INS))
    assert sum(e.times for e in lines) == 200, "what was counted is written before the log is read"
    assert len(lines) < 30


def test_a_flood_from_many_addresses_does_not_fill_the_log(ctx: service.Context, people: object) -> None:
    from receiving.service.auditing import write_refusal

    for number in range(1500):
        ctx.actor = None
        ctx.run_by = Actor(address=f"2001:db8:{number:x}::1")
        write_refusal(ctx, Deed.SIGN_IN_REFUSED, detail="password")
    lines = service.list_audit(ctx, AuditWanted(kind=AuditKind.SIGN_INS, most=10_000))
    assert sum(e.times for e in lines) == 1500
    assert len(lines) < 130


def test_a_pin_a_link_and_a_token_that_are_refused_are_written_down(
    app: Flask, ctx: service.Context, ada: Person
) -> None:
    link, secret = service.make_link(ctx, "S-2041/A", "Dock team", days=3, by="Ada Lund")
    staff = Person(app)
    assert staff.send("POST", "/come", secret=secret).status_code == 303
    service.revoke_link(ctx, "S-2041/A", link.link_id)
    assert staff.send("POST", "/come", secret=secret).status_code == 403
    bo = Person(app)
    bo.sign_in("Bo Reyes")
    fields = {"name": "Cem Ortiz", "pin": "111222", "how": "exceptions", "short": "searched"}
    assert bo.send("POST", f"{ADDRESS}/receipt", **fields).status_code == 403
    call = {"Authorization": "Bearer rcv_guess"}
    assert app.test_client().get("/api/v1/shipments", headers=call).status_code == 401
    lines = lines_of(ctx)
    assert lines[0] == (Deed.TOKEN_REFUSED, "", "", "")
    assert lines[1] == (Deed.PIN_REFUSED, "Bo Reyes", "Cem Ortiz", "PIN")
    assert (Deed.SIGN_IN_REFUSED, "", "Dock team", "link") in lines
    assert (Deed.SIGNED_IN, "Dock team", "Dock team", "link") in lines
    assert not any("111222" in str(line) or "rcv_" in str(line) for line in service.list_audit(ctx))


def test_calls_without_a_token_do_not_fill_the_log(app: Flask, ctx: service.Context, ada: Person) -> None:
    for _ in range(200):
        assert app.test_client().get("/api/v1/shipments").status_code == 401
    ctx.close()
    lines = service.list_audit(ctx, AuditWanted(most=1000))
    assert sum(e.times for e in lines if e.action == Deed.TOKEN_REFUSED) == 200
    assert len(lines) < 30


def test_what_a_coordinator_does_to_accounts_says_of_whom(
    app: Flask, ctx: service.Context, people: dict[str, str], ada: Person
) -> None:
    bo = f"/people/{people['Bo Reyes']}"
    ada.send("POST", "/people", name="Dia Novak", role="rep", stores="0417")
    ada.send("POST", bo, what="scope", role="store_manager", stores="0417", programmes="", subject="bo@lumovane")
    for what in ("password", "close", "open"):
        ada.send("POST", bo, what=what)
    ada.send("POST", f"{ADDRESS}/links", label="Night crew", days="3")
    (link,) = service.list_links(ctx, "S-2041/A")
    ada.send("POST", f"{ADDRESS}/links/{link.link_id}")
    ada.send("POST", "/api-tokens", name="ERP", scope="read")
    (token,) = service.list_api_tokens(ctx)
    ada.send("POST", f"/api-tokens/{token.token_id}/end")
    done = [line[:1] + line[2:] for line in lines_of(ctx, AuditKind.ACCESS) if line[1] == "Ada Lund"]
    assert done == [
        (Deed.TOKEN_ENDED, "ERP", ""),
        (Deed.TOKEN_MADE, "ERP", "read"),
        (Deed.LINK_ENDED, "Night crew", ""),
        (Deed.LINK_MADE, "Night crew", "days=3"),
        (Deed.ACCOUNT_OPENED, "Bo Reyes", ""),
        (Deed.ACCOUNT_CLOSED, "Bo Reyes", ""),
        (Deed.PASSWORD_CHANGED, "Bo Reyes", "first password"),
        (Deed.SIGN_ON_CHANGED, "Bo Reyes", "set"),
        (Deed.ACCOUNT_CHANGED, "Bo Reyes", "rep -> store_manager stores=0417"),
        (Deed.ACCOUNT_ADDED, "Dia Novak", "rep stores=0417"),
    ]


def test_own_password_sessions_and_pin_are_written_down(app: Flask, ctx: service.Context, people: object) -> None:
    cem, elsewhere = Person(app), Person(app)
    cem.sign_in("Cem Ortiz"), elsewhere.sign_in("Cem Ortiz")
    cem.send("POST", "/account/pin", pin="408213")
    cem.send("POST", "/account/sessions")
    cem.send("POST", "/account/password", old=WORDS, new=OTHER)
    assert lines_of(ctx, AuditKind.ACCESS)[:2] == [
        (Deed.PASSWORD_CHANGED, "Cem Ortiz", "Cem Ortiz", "own"),
        (Deed.PIN_CHANGED, "Cem Ortiz", "Cem Ortiz", "set"),
    ]
    assert lines_of(ctx)[0] == (Deed.SESSIONS_ENDED, "Cem Ortiz", "Cem Ortiz", "sessions=1")


def test_whom_a_proxy_names_comes_in_once_and_not_with_each_page(ctx: service.Context, people: object) -> None:
    from web.proxy import wrap_app

    app = create_app(ctx)
    app.wsgi_app = wrap_app(app.wsgi_app, "127.0.0.1", "X-User")  # type: ignore[method-assign]
    for _ in range(3):
        assert app.test_client().get("/", headers={"X-User": "Bo Reyes"}).status_code == 200
    assert app.test_client().get("/", headers={"X-User": "Nobody Known"}).status_code == 302
    assert lines_of(ctx) == [
        (Deed.SIGN_IN_REFUSED, "", "", "proxy"),
        (Deed.SIGNED_IN, "Bo Reyes", "Bo Reyes", "proxy"),
    ]


def test_the_page_and_the_file_show_lines_by_person_and_kind(app: Flask, ctx: service.Context, ada: Person) -> None:
    Person(app).sign_in("Bo Reyes", "guess")
    ada.client.get(ADDRESS)
    page = read(ada.client.get("/people/audit?person=Bo+Reyes&kind=sign_ins").text)
    (body,) = page.all("tbody")
    assert "sign-in refused" in body.text and "Bo Reyes" in body.text and "Ada Lund" not in body.text
    assert "GET rep.shipment" in read(ada.client.get("/people/audit?kind=views").text).text, "also what just happened"
    file = ada.client.get("/people/audit.csv?kind=sign_ins")
    rows = list(csv.DictReader(io.StringIO(file.get_data(as_text=True))))
    assert [(row["what"], row["about"], row["from"]) for row in rows] == [
        ("sign_in_refused", "Bo Reyes", "127.0.0.1"),
        ("signed_in", "Ada Lund", "127.0.0.1"),
    ]


def test_more_lines_than_a_page_holds_are_reached_by_older(app: Flask, ctx: service.Context, ada: Person) -> None:
    service.write_audit(ctx, [AuditLine(NOW, "Ada Lund", "", f"GET page.{n}", "", "", 200, "", "") for n in range(450)])
    path, seen = "/people/audit?person=Ada+Lund&kind=views", 0
    while path:
        page = read(ada.client.get(path).text)
        (body,) = page.all("tbody")
        seen += body.text.count("GET page.")
        path = next((e.attributes["href"] for e in page.all("a") if e.text.strip() == "Older"), "")
    assert seen == 450


def test_a_name_that_is_erased_leaves_lines_that_still_follow_each_other(
    app: Flask, ctx: service.Context, people: dict[str, str], ada: Person
) -> None:
    Person(app).sign_in("Bo Reyes", "guess")
    Person(app).sign_in("Bo Reyes")
    ada.send("POST", f"/people/{people['Bo Reyes']}", what="close")
    ada.send("POST", f"/people/{people['Bo Reyes']}", what="erase")
    lines = service.list_audit(ctx, AuditWanted(most=1000))
    assert "Bo Reyes" not in repr(lines)
    (erased,) = [line for line in lines if line.action == Deed.NAME_ERASED]
    assert erased.name == "Ada Lund" and erased.about.startswith("[name erased on") and "audit=" in erased.detail
    assert any(line.action == Deed.SIGN_IN_REFUSED and line.about.startswith("[name erased") for line in lines)
    ctx.close()
    assert check_data(ctx.data / DATABASE, ctx.data / "photos").whole


@pytest.mark.parametrize("deed", ["alter", "remove", "remove the last", "remove the last but one and number anew"])
def test_a_line_that_was_altered_or_removed_by_hand_is_found(
    app: Flask, ctx: service.Context, ada: Person, deed: str
) -> None:
    from receiving.store.records import row_digest

    for name in ("Bo Reyes", "Cem Ortiz"):
        Person(app).sign_in(name)
    ctx.close()
    with closing(sqlite3.connect(ctx.data / DATABASE)) as file:
        file.row_factory = sqlite3.Row
        guards = file.execute("SELECT name, sql FROM sqlite_master WHERE tbl_name = 'audit' AND type = 'trigger'")
        kept = [tuple(row) for row in guards]
        for name, _ in kept:
            file.execute(f"DROP TRIGGER {name}")
        *_, before, last = file.execute("SELECT * FROM audit ORDER BY seq").fetchall()
        if deed == "alter":
            changed = {**dict(before), "address": "192.0.2.1"}
            values = ("192.0.2.1", row_digest("audit", changed), before["seq"])
            file.execute("UPDATE audit SET address = ?, digest = ? WHERE seq = ?", values)
        else:
            file.execute("DELETE FROM audit WHERE seq = ?", [(last if deed == "remove the last" else before)["seq"]])
            if deed.endswith("anew"):
                moved = {**dict(last), "seq": before["seq"]}
                values = (before["seq"], row_digest("audit", moved), last["seq"])
                file.execute("UPDATE audit SET seq = ?, digest = ? WHERE seq = ?", values)
        for _, sql in kept:
            file.execute(sql)
        file.commit()
    damages = check_data(ctx.data / DATABASE, ctx.data / "photos").damages
    assert {damage.table for damage in damages} == {"audit"}


def test_a_manifest_that_comes_in_by_the_page_or_the_api_names_who_sent_it(
    app: Flask, ctx: service.Context, ada: Person
) -> None:
    rows = "shipment,store,carton,kind,visit_date\nS-9001,0417,01,tray,2026-03-06\n"
    _, secret = service.make_api_token(ctx, "ERP", ["notice"], by="Ada Lund")
    headers = {"Authorization": f"Bearer {secret}", "Idempotency-Key": "6f1c2d2e-0000-4000-8000-00000000abcd"}
    sent = app.test_client().post(
        "/api/v1/notices", data=rows.encode(), headers={**headers, "Content-Type": "text/csv"}
    )
    assert sent.status_code < 300, sent.text
    file = (io.BytesIO(rows.replace("9001", "9002").encode()), "m.csv")
    preview = ada.client.post("/import", data={"token": ada.token(), "file": file})
    ways = [str(each.attributes.get("action")) for each in read(preview.text).all("form")]
    (take,) = [way for way in ways if re.fullmatch("/import/[^/]+", way)]
    assert ada.send("POST", take).status_code in (200, 303)
    for shipment, by in (("S-9001", "token ERP"), ("S-9002", "Ada Lund")):
        with ctx.store() as store:
            assert store.revision(shipment, 1).by == by


def test_tries_long_ago_are_counted_anew(ctx: service.Context, people: object) -> None:
    for hours in (0, 1):
        ctx.now = lambda hours=hours: NOW + timedelta(hours=hours)  # type: ignore[misc]
        for _ in range(7):
            with pytest.raises((service.SignInRefused, service.TooManyTries)):
                service.sign_in(ctx, "Bo Reyes", "guess", address="192.0.2.7")
    counts = [(e.action, e.times) for e in service.list_audit(ctx, AuditWanted(kind=AuditKind.SIGN_INS))]
    assert sum(times for _, times in counts) == 14 and counts.count((Deed.SIGN_IN_REFUSED, 1)) == 10
