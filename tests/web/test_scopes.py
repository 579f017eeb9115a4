"""Every route, by everybody, at a shipment and a store of his own, of another store and of another programme."""

from collections.abc import Iterator
from dataclasses import dataclass
from urllib.parse import urlsplit

import pytest
from flask import Flask
from werkzeug.exceptions import HTTPException
from werkzeug.routing import Rule

from receiving import service
from receiving.model import EVERYTHING, RIGHTS, Access, DataScope, Place, Right, Role
from tests.planned_reader import PlannedReader
from tests.web.page_text import read
from tests.web.scenario import SHIPMENT, open_context, picture, pile_reading, sscc
from tests.web.test_access import WORDS, Person, refused, rules, value_for
from web import create_app
from web.access import PUBLIC, has_own_tokens, needed_right

STORES = ("0417", "0422")
SPRING, AUTUMN = "Spring reset", "Autumn reset"
SHIPMENTS = {SHIPMENT: ("0417", ""), "S-2055": ("0422", ""), "S-3001": ("0417", SPRING), "S-3002": ("0422", AUTUMN)}
"""What each is: its store and its programme."""
ROWS = "\n".join(
    [
        "shipment,store,carton,kind,sscc,references,visit_date",
        f"S-3001,0417,01,tray,{sscc(900)},programme={SPRING},2026-03-06",
        f"S-3002,0422,01,tray,{sscc(901)},programme={AUTUMN},2026-03-06",
    ]
)
LOADED = {SHIPMENT: sscc(3), "S-2055": sscc(101), "S-3001": sscc(900), "S-3002": sscc(901)}


@dataclass(frozen=True)
class Somebody:
    """A role, and what of the data it sees; ``shipment``: what a link opens."""

    role: Role
    scope: DataScope = EVERYTHING
    shipment: str = ""

    def sees(self, shipment: str) -> bool:
        return self.scope.sees(*SHIPMENTS[shipment]) and self.shipment in ("", shipment)

    def sees_store(self, store: str) -> bool:
        """What a store asks for is one for all its programmes: it is for those who see all of them."""
        return not self.shipment and self.scope.programmes is None and self.scope.sees_store(store)

    def may(self, right: Right) -> bool:
        return Access("x", self.role, scope=self.scope).may(right)


STORE, PROGRAMME = DataScope(frozenset({"0417"})), DataScope(programmes=frozenset({SPRING}))
BOTH = DataScope(frozenset({"0417"}), frozenset({SPRING}))
PEOPLE = {
    "coordinator": Somebody(Role.COORDINATOR),
    "coordinator of a store": Somebody(Role.COORDINATOR, STORE),
    "coordinator of a programme": Somebody(Role.COORDINATOR, PROGRAMME),
    "rep": Somebody(Role.REP),
    "rep of a store": Somebody(Role.REP, STORE),
    "rep of a programme": Somebody(Role.REP, PROGRAMME),
    "rep of both": Somebody(Role.REP, BOTH),
    "manager of a store": Somebody(Role.STORE_MANAGER, STORE),
    "manager of a programme": Somebody(Role.STORE_MANAGER, PROGRAMME),
    "store staff": Somebody(Role.STORE_STAFF, shipment=SHIPMENT),
}
LIMITED = [name for name, who in PEOPLE.items() if not all(map(who.sees, SHIPMENTS))]


@pytest.fixture(scope="module")
def ctx(tmp_path_factory: pytest.TempPathFactory) -> Iterator[service.Context]:
    reader = PlannedReader()
    reader.readings["pile.jpg"] = pile_reading()
    with open_context(tmp_path_factory.mktemp("scopes"), reader) as ctx:
        service.import_manifest(ctx, "programmes.csv", ROWS.encode())
        for name, who in PEOPLE.items():
            if not who.shipment:
                scope = {"stores": who.scope.stores, "programmes": who.scope.programmes}
                service.add_person(ctx, name, who.role, WORDS, **scope)
        yield ctx


@pytest.fixture(scope="module")
def app(ctx: service.Context) -> Flask:
    return create_app(ctx)


@pytest.fixture(params=PEOPLE)
def name(request: pytest.FixtureRequest) -> str:
    return str(request.param)


def signed_in(app: Flask, ctx: service.Context, name: str) -> Person:
    person = Person(app)
    if PEOPLE[name].shipment:
        _, token = service.make_link(ctx, PEOPLE[name].shipment, "Dock team", days=3, by="coordinator")
        assert person.send("POST", "/come", secret=token).status_code == 303
    else:
        assert person.sign_in(name).status_code == 303
    return person


def asked(app: Flask) -> Iterator[tuple[Rule, str, Right]]:
    """The routes that ask for a right, with theirs."""
    for rule, method in rules(app):
        right = needed_right(rule.endpoint)
        if rule.endpoint in PUBLIC or has_own_tokens(rule.endpoint) or rule.endpoint == "people.sign_out":
            continue
        assert right is not None, rule.endpoint
        yield rule, method, right


def path_to(app: Flask, rule: Rule, **values: str) -> str:
    found = {name: values.get(name, value_for(name, converter)) for name, converter in rule._converters.items()}
    return urlsplit(app.url_map.bind("localhost").build(rule.endpoint, found)).path


def test_a_shipment_is_there_for_those_alone_who_see_it(app: Flask, ctx: service.Context, name: str) -> None:
    who, person, wrong, tried = PEOPLE[name], signed_in(app, ctx, name), [], 0
    for rule, method, right in asked(app):
        if "shipment" not in rule.arguments:
            continue
        shown = False
        for shipment in SHIPMENTS:
            hidden = not who.may(right) or not who.sees(shipment)
            if not hidden and shown and method == "GET":
                continue  # one of those that are seen is enough: the page of each is another test's
            answer = person.send(method, path_to(app, rule, shipment=shipment))
            tried, shown = tried + 1, shown or not hidden
            expected = "refused" if not who.may(right) else "not there" if hidden else "let in"
            found = "refused" if refused(answer) else "not there" if answer.status_code == 404 else "let in"
            whole = expected == found or (expected == "let in" and found == "not there" and len(rule.arguments) > 1)
            if not whole or answer.status_code >= 500:
                wrong.append(f"{method} {rule.rule} of {shipment}: {answer.status_code}, {expected}")
            if hidden:
                unseen = [each for each in SHIPMENTS if each != shipment and not who.sees(each)]
                named = [each for each in (*unseen, *LOADED.values()) if each in answer.text]
                wrong += [f"{method} {rule.rule} of {shipment} tells of {each}" for each in named]
    assert not wrong, "\n".join(wrong)
    assert tried > 90


def test_a_store_is_there_for_those_alone_who_see_it(app: Flask, ctx: service.Context, name: str) -> None:
    who, person, tried = PEOPLE[name], signed_in(app, ctx, name), 0
    for rule, method, right in asked(app):
        for store in STORES if "store" in rule.arguments else ():
            answer = person.send(method, path_to(app, rule, store=store))
            tried += 1
            at = f"{method} {rule.rule} of {store}: {answer.status_code}"
            assert refused(answer) == (not who.may(right)), at
            if who.may(right) and not who.sees_store(store):
                assert answer.status_code == 404, at
    assert tried


@pytest.mark.parametrize("name", LIMITED, indirect=True)
def test_no_list_page_or_file_tells_of_a_shipment_that_somebody_does_not_see(
    app: Flask, ctx: service.Context, name: str
) -> None:
    who, person, asked_for, wrong = PEOPLE[name], signed_in(app, ctx, name), 0, []
    unseen = {each for each in SHIPMENTS if not who.sees(each)}
    secrets = unseen | {LOADED[each] for each in unseen}
    for rule, method, right in asked(app):
        if method != "GET" or not who.may(right) or "store" in rule.arguments:
            continue
        mine = next(each for each in SHIPMENTS if who.sees(each))
        path = path_to(app, rule, shipment=mine)
        queries = ("",) if rule.arguments else ("", *(f"?q={each}&find={each}" for each in sorted(secrets)[:2]))
        for query in queries:
            answer = person.client.get(path + query)
            asked_for += 1
            text = answer.get_data().decode("utf-8", "replace").replace(query, "")
            shown = [each for each in secrets if each in text and each not in query]
            wrong += [f"GET {rule.rule}{query} tells of {each}" for each in shown]
            if answer.mimetype == "text/html" and answer.status_code == 200:
                wrong += [f"GET {rule.rule} leads to {each}, refused" for each in closed_ways(app, who, answer.text)]
    assert not wrong, "\n".join(wrong)
    assert asked_for > 40


def closed_ways(app: Flask, who: Somebody, html: str) -> Iterator[str]:
    """The links and forms of a page that this person may not follow or send."""
    page, routes = read(html), app.url_map.bind("localhost")
    ways = [(e.attributes.get("href"), "GET") for e in page.all("a")]
    ways += [(e.attributes.get("action"), (e.attributes.get("method") or "get").upper()) for e in page.all("form")]
    for path, method in ways:
        if not path or not path.startswith("/"):
            continue
        try:
            endpoint, _ = routes.match(urlsplit(path).path, method=method)
        except HTTPException:
            continue  # a page that is not there is another test's
        right = needed_right(endpoint)
        if endpoint not in PUBLIC and right is not None and not who.may(right):
            yield f"{method} {path}"


@pytest.mark.parametrize("name", LIMITED, indirect=True)
def test_no_form_reaches_a_shipment_that_somebody_does_not_see(app: Flask, ctx: service.Context, name: str) -> None:
    """Each form, with an unseen shipment in every field that may name one; nothing of that shipment changes."""
    who, person = PEOPLE[name], signed_in(app, ctx, name)
    unseen = [each for each in SHIPMENTS if not who.sees(each)]
    before = {each: state_of(ctx, each) for each in unseen}
    for rule, method, right in asked(app):
        if method != "POST" or not who.may(right) or rule.endpoint.startswith("account."):
            continue
        mine = next(each for each in SHIPMENTS if who.sees(each))
        for other in unseen:
            fields = dict.fromkeys(("shipment", "shipments", "spare", "want", "from", "to", "of", "other"), other)
            fields |= {"go": "true", "kind": "shortage_followed", "deed": "on_its_way", "carton": "01", "text": "x"}
            answer = person.send(method, path_to(app, rule, shipment=mine), **fields)
            assert answer.status_code < 500, rule.rule
    assert {each: state_of(ctx, each) for each in unseen} == before


def state_of(ctx: service.Context, shipment: str) -> tuple[object, ...]:
    found = service.get_shipment(ctx, shipment)
    return found.notes, found.reads, found.revision, found.receipts


def test_a_photo_is_shown_at_its_own_shipment_alone(app: Flask, ctx: service.Context) -> None:
    photo = service.add_photo(ctx, "S-2055", "pile.jpg", picture(), place=Place.DOCK, by="rep")
    ctx.wait()
    rep = signed_in(app, ctx, "rep of a store")
    everybody = signed_in(app, ctx, "rep")
    for path in ("photos/{}", "photos/{}/480.jpg"):
        tail = path.format(photo.photo)
        for shipment in ("S-3001", "S-2041~2FA"):
            for person in (rep, everybody):
                assert person.client.get(f"/s/{shipment}/{tail}").status_code in (404, 405), tail
    assert everybody.client.get(f"/s/S-2055/photos/{photo.photo}").status_code == 200


@pytest.mark.parametrize("name", LIMITED, indirect=True)
def test_a_code_of_a_shipment_that_somebody_does_not_see_leads_nowhere(
    app: Flask, ctx: service.Context, name: str
) -> None:
    who, person = PEOPLE[name], signed_in(app, ctx, name)
    for shipment, code in LOADED.items():
        status = person.client.get(f"/00/{code}").status_code
        assert (status == 404) == (not who.sees(shipment)), (shipment, status)
        found = read(person.client.get(f"/?q={code}", follow_redirects=True).text).text
        assert who.sees(shipment) or shipment not in found


def test_the_roles_are_all_there_are() -> None:
    assert {who.role for who in PEOPLE.values()} == set(Role) == set(RIGHTS)


@pytest.mark.parametrize("names", [("coordinator", "rep of a store"), ("rep of a store", "coordinator")])
def test_a_part_that_many_follow_shows_each_role_its_own_ways(
    app: Flask, ctx: service.Context, names: tuple[str, ...]
) -> None:
    for name in names:
        person = signed_in(app, ctx, name)
        answer = person.client.get("/s/S-2041~2FA/live?view=hand-over", headers={"X-Part": "live"})
        assert answer.status_code == 200
        assert not list(closed_ways(app, PEOPLE[name], answer.text)), name
        assert ("Let the store confirm" in answer.text) == PEOPLE[name].may(Right.CONFIRM)
