"""What every page needs: the context, who is working, where, and how a page value becomes a response."""

import hashlib
import uuid
from collections.abc import Callable, Hashable, Iterable
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import ClassVar, ParamSpec, Protocol, TypedDict, cast
from urllib.parse import quote, unquote

from flask import Flask, Response, current_app, g, make_response, render_template, request, url_for
from markupsafe import Markup

from receiving import language, service
from receiving.messages import ENGLISH, Text
from receiving.model import Place
from receiving.service import Context
from receiving.service.planning import Cache
from web import actions, speech
from web.access import access, cookie_name
from web.pace import Pace
from web.pages.scan_bar import ScanBar, scan_bar_of
from web.pages.words import set_aside_words

P = ParamSpec("P")

PERSON_COOKIE = "person"
PLACE_COOKIE = "place"
LAST_COOKIE = "last"
COOKIE_DAYS_S = 400 * 24 * 3600
MAX_PERSON = 80
MOST_PARTS = 64
"""Rendered parts that are shared; one of 400 cartons takes half a megabyte."""

MOST_ROWS = 5_000
"""Rendered rows of the board, a kilobyte each."""

MOST_PIECES = 20_000
"""Lines of lists and cells of sections on pages, half a kilobyte each."""

TOKEN_HERE = f"token-of-this-browser-{uuid.uuid4().hex}"
"""Stands in shared parts where a form holds its browser's token."""


class Page(Protocol):
    """A page value: its template's name, and the fields that the template shows."""

    template: ClassVar[str]


@dataclass(frozen=True)
class Setting:
    """What the app holds: its context, and parts of pages that are the same for everybody."""

    ctx: Context
    rows: Cache[str] = field(default_factory=lambda: Cache(MOST_ROWS))
    parts: Cache[str] = field(default_factory=lambda: Cache(MOST_PARTS))
    followed: Cache[str] = field(default_factory=lambda: Cache(MOST_PARTS))
    pieces: Cache[Markup] = field(default_factory=lambda: Cache(MOST_PIECES))
    pace: Pace = field(default_factory=Pace)


def set_up(app: Flask, ctx: Context) -> None:
    """Give the app its context and the names that all templates may use."""
    app.extensions["receiving"] = Setting(ctx)
    mark = _mark(Path(app.static_folder or ""), Path(language.__file__).parent / "catalogues")
    app.config["ASSET_MARK"], app.config["ASSET_ADDRESSES"] = mark, {}
    app.jinja_env.globals.update(asset=asset_address, person=person, chosen_place=chosen_place, set_aside=set_aside)
    app.jinja_env.globals.update(drawn_once=drawn_once, words_asset=words_asset)
    speech.set_up(app)


def asset_address(name: str) -> str:
    """The address of a script, style or picture as it is now."""
    known: dict[tuple[str, str], str] = current_app.config["ASSET_ADDRESSES"]
    key = (request.script_root, name)
    if key not in known:
        known[key] = url_for("phone.asset", mark=current_app.config["ASSET_MARK"], name=name)
    return known[key]


def all_assets() -> list[str]:
    """The addresses of all of them, in order."""
    folder = Path(current_app.static_folder or "")
    names = sorted(path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file())
    offered = [each.code for each in speech.languages()]
    names += [words_asset(code) for code in offered if code != ENGLISH.code]
    return [asset_address(name) for name in names if not name.endswith(".md") and "LICENSE" not in name]


def words_asset(code: str) -> str:
    """The name of the asset that holds the words of the scripts in this language; English ones stand in the scripts."""
    return f"words/{code}.js"


def _mark(*folders: Path) -> str:
    """A name for all assets as they are: scripts import each other by relative address, so they change together."""
    whole = hashlib.sha256()
    for folder in folders:
        for path in sorted(path for path in folder.rglob("*") if path.is_file()):
            whole.update(path.relative_to(folder).as_posix().encode() + b"\0" + path.read_bytes())
    return whole.hexdigest()[:12]


def setting() -> Setting:
    """The setting of the running app."""
    return cast("Setting", current_app.extensions["receiving"])


def ctx() -> Context:
    """The context of the running app; for an action of a phone, at the time when it was made, with its own ids."""
    if not actions.acting():
        return setting().ctx
    if "ctx" not in g:
        whole = setting().ctx
        g.ctx = whole.acting(actions.action_id(), made_at=actions.made_at(whole.now()))
    return cast("Context", g.ctx)


def once(view: Callable[P, Response]) -> Callable[P, Response]:
    """A view whose work is done at most once for each action of a phone, and each form that carries an id."""
    return actions.once(lambda: setting().ctx)(view)


def once_shown_at(endpoint: str) -> Callable[[Callable[P, Response]], Callable[P, Response]]:
    """As `once`, for a view that shows what it did itself: sent again it leads to this page."""
    return actions.once(lambda: setting().ctx, lambda: _own_address(endpoint))


def _own_address(endpoint: str) -> str:
    """The address of a page, of the same shipment where this request is about one."""
    shipment = (request.view_args or {}).get("shipment")
    return url_for(endpoint, shipment=shipment) if shipment is not None else url_for(endpoint)


def set_aside() -> tuple[Text, ...]:
    """What stored data cannot be read, in words: on a shipment's pages of it and of what all share, else everything."""
    rows, shipment = setting().ctx.set_aside(), (request.view_args or {}).get("shipment")
    return tuple(
        dict.fromkeys(set_aside_words(row) for row in rows if shipment is None or row.shipment in (shipment, ""))
    )


def local_now() -> datetime:
    """Now, in the zone of the store that the address is about, else in that of the machine that serves."""
    named = request.view_args or {}
    if "shipment" in named:
        return service.get_shipment_now(ctx(), named["shipment"])
    return service.get_store_now(ctx(), named["store"]) if "store" in named else ctx().now().astimezone()


def person() -> str:
    """Who is working at this browser, or empty: the one who signed in, else the name that was typed here."""
    return access().name or remembered_choice(PERSON_COOKIE)[:MAX_PERSON].strip()


def place() -> Place:
    """Where the rep is working: as sent with this request, else as chosen last, else at the dock."""
    sent = request.form.get("place", "")
    return Place(sent) if sent in set(Place) else chosen_place()


def chosen_place() -> Place:
    """Where the rep works as chosen last at this browser, else at the dock."""
    chosen = request.cookies.get(cookie_name(PLACE_COOKIE), "")
    return Place(chosen) if chosen in set(Place) else Place.DOCK


def remember(response: Response, name: str, value: str) -> None:
    """Keep a choice in a cookie of this browser."""
    response.set_cookie(
        cookie_name(name), quote(value), max_age=COOKIE_DAYS_S, samesite="Lax", httponly=True, secure=request.is_secure
    )


def remembered_choice(name: str) -> str:
    """A choice that this browser remembers, or empty."""
    return unquote(request.cookies.get(cookie_name(name), ""))


SCANNER_COOKIE = "scanner"


def scanner_profile() -> service.ScannerProfile:
    """What the scanner of this browser was found to do to a label's text; the plain one where it was not set up."""
    return service.ScannerProfile.of_text(remembered_choice(SCANNER_COOKIE))


class Scoped(TypedDict):
    """What somebody, or a program, sees; None: all."""

    stores: list[str] | None
    programmes: list[str] | None


def scope_sent() -> Scoped:
    """The stores (between commas or spaces) and programmes (between commas) of a form; none named means all."""
    stores = request.form.get("stores", "").replace(",", " ").split()
    programmes = [name.strip() for name in request.form.get("programmes", "").split(",") if name.strip()]
    return Scoped(stores=stores or None, programmes=programmes or None)


class Sought(TypedDict):
    """What is looked for in a list, and which page of it."""

    query: str
    page: int


def sought() -> Sought:
    """What this request looks for in a list."""
    return Sought(query=request.args.get("q", "")[:MAX_PERSON], page=request.args.get("page", 1, type=int))


def scan_bar() -> ScanBar:
    """The scan bar of this request's person and place."""
    return scan_bar_of(person(), place(), str(uuid.uuid4()))


def render(page: Page, status: int = 200) -> Response:
    """The page as a response."""
    return make_response(render_template(page.template, page=page), status)


def shared_html(name: str, version: str, make: Callable[[], tuple[str, Page]]) -> str:
    """A part of a page that is the same for everybody but for `TOKEN_HERE`: rendered once for each version.

    ``make`` gives the page and the version that it shows, which may be later than the ``version`` asked for.
    """
    parts, name = setting().parts, f"{name} in {speech.speaker().code}"
    html = parts.get(name, version)
    if html is None:
        with parts.alone(name):
            html = parts.get(name, version)
            if html is None:
                shown, page = make()
                html = _rendered_for_all(page)
                parts.put(name, shown, html)
    return html


def render_rows(wanted: Iterable[tuple[str, str, Callable[[], Page]]]) -> tuple[Markup, ...]:
    """Rows that are the same for everybody, each with its name, its mark and what makes its page.

    Each is rendered once for its mark, and each time where it has none. It is a template's own work: what Flask puts
    into the context of each whole page is global already.
    """
    rows, code, found = setting().rows, speech.speaker().code, []
    templates = current_app.jinja_env
    for plain, mark, make in wanted:
        name = f"{plain} in {code}"
        html = rows.get(name, mark) if mark else None
        if html is None:
            html = templates.get_template((page := make()).template).render(page=page)
            if mark:
                rows.put(name, mark, html)
        found.append(Markup(html))  # nosec B704: a template of ours made it
    return tuple(found)


def drawn_once(macro: Callable[..., str], *values: Hashable, **named: Hashable) -> Markup:
    """What a macro makes of these values, made once: of 400 cartons a scan changes one or two.

    Only for macros that look at their values alone, of the request at its language and the address it came by.
    """
    where: tuple[str, str] | None = g.get("drawn_where")
    if where is None:
        where = g.drawn_where = (request.script_root, speech.speaker().code)
    name, pieces = (macro.name, where, values, tuple(named.items())), setting().pieces  # type: ignore[attr-defined]
    html = pieces.get(name, "")
    if html is None:
        html = Markup(macro(*values, **named))  # nosec B704: a macro of ours made it
        pieces.put(name, "", html)
    return html


def _rendered_for_all(page: Page) -> str:
    """The page with a mark wherever a form holds its browser's token."""
    own = g.get("token")
    g.token = TOKEN_HERE
    try:
        return render_template(page.template, page=page)
    finally:
        if own is None:
            g.pop("token")
        else:
            g.token = own


def wants_part() -> bool:
    """True when a script asks for a part of a page that is open already."""
    return "X-Part" in request.headers
