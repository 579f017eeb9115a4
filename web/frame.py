"""What every page needs: the desk, who is working, where, and how a page value becomes a response."""

import hashlib
import uuid
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any, ClassVar, ParamSpec, Protocol, TypedDict, cast
from urllib.parse import quote, unquote

from flask import Flask, Response, current_app, g, make_response, render_template, request, url_for

from receiving import service
from receiving.model import Place
from receiving.service import Desk
from web import actions
from web.keep import Keep
from web.pages.dock import Dock, dock
from web.pages.set_aside import set_aside_words

P = ParamSpec("P")

PERSON_COOKIE = "person"
PLACE_COOKIE = "place"
COOKIE_DAYS_S = 400 * 24 * 3600
MAX_PERSON = 80


class Page(Protocol):
    """A page value: its template's name, and the fields that the template shows."""

    template: ClassVar[str]


@dataclass(frozen=True)
class Setting:
    """What the app holds beside the desk: uploads that wait for a yes, and receipts that were shown."""

    desk: Desk
    uploads: Keep[tuple[str, str, bytes]]
    shown: Keep[Any]


def set_up(app: Flask, desk: Desk) -> None:
    """Give the app its desk and the names that all templates may use."""
    app.extensions["receiving"] = Setting(desk, Keep(entries=8), Keep(entries=256))
    mark = _mark(Path(app.static_folder or ""))

    def asset(name: str) -> str:
        return url_for("rep.asset", mark=mark, name=name)

    app.jinja_env.globals.update(asset=asset, person=person, chosen_place=chosen_place, set_aside=set_aside)
    app.jinja_env.filters["first_up"] = first_up


def first_up(text: str) -> str:
    """The text with its first letter as a capital and the rest as it is.

    >>> first_up("by its SSCC")
    'By its SSCC'
    """
    return text[:1].upper() + text[1:]


def _mark(folder: Path) -> str:
    """A name for all assets as they are: scripts import each other by relative address, so they change together."""
    whole = hashlib.sha256()
    for path in sorted(path for path in folder.rglob("*") if path.is_file()):
        whole.update(path.relative_to(folder).as_posix().encode() + b"\0" + path.read_bytes())
    return whole.hexdigest()[:12]


def setting() -> Setting:
    """The setting of the running app."""
    return cast("Setting", current_app.extensions["receiving"])


def desk() -> Desk:
    """The desk of the running app; for an action of a phone, at the time when it was made and with ids of its own."""
    if not actions.acting():
        return setting().desk
    if "desk" not in g:
        whole = setting().desk
        g.desk = whole.acting(actions.action_id(), made_at=actions.made_at(whole.now()))
    return cast("Desk", g.desk)


def once(view: Callable[P, Response]) -> Callable[P, Response]:
    """A view whose work is done at most once for each action of a phone."""
    return actions.once(lambda: setting().desk)(view)


def set_aside() -> tuple[str, ...]:
    """What stored data cannot be read, in words: on a shipment's pages of it and of what all share, else everything."""
    rows, shipment = setting().desk.set_aside(), (request.view_args or {}).get("shipment")
    return tuple(
        dict.fromkeys(set_aside_words(row) for row in rows if shipment is None or row.shipment in (shipment, ""))
    )


def local_now() -> datetime:
    """Now, in the zone of the store that the address is about, else in that of the machine that serves."""
    named = request.view_args or {}
    if "shipment" in named:
        return service.shipment_now(desk(), named["shipment"])
    return service.store_now(desk(), named["store"]) if "store" in named else desk().now().astimezone()


def person() -> str:
    """Who is working at this browser, or empty."""
    return unquote(request.cookies.get(PERSON_COOKIE, ""))[:MAX_PERSON].strip()


def place() -> Place:
    """Where the rep is working: as sent with this request, else as chosen last, else at the dock."""
    sent = request.form.get("place", "")
    return Place(sent) if sent in set(Place) else chosen_place()


def chosen_place() -> Place:
    """Where the rep works as chosen last at this browser, else at the dock."""
    chosen = request.cookies.get(PLACE_COOKIE, "")
    return Place(chosen) if chosen in set(Place) else Place.DOCK


def remember(response: Response, name: str, value: str) -> None:
    """Keep a choice in a cookie of this browser."""
    response.set_cookie(
        name, quote(value), max_age=COOKIE_DAYS_S, samesite="Lax", httponly=True, secure=request.is_secure
    )


class Sought(TypedDict):
    """What is looked for in a list, and which page of it."""

    query: str
    page: int


def sought() -> Sought:
    """What this request looks for in a list."""
    return Sought(query=request.args.get("q", "")[:MAX_PERSON], page=request.args.get("page", 1, type=int))


def at_dock() -> Dock:
    """The dock of this request's person and place."""
    return dock(person(), place(), str(uuid.uuid4()))


def render(page: Page, status: int = 200) -> Response:
    """The page as a response."""
    return make_response(render_template(page.template, page=page), status)


def wants_part() -> bool:
    """True when a script asks for a part of a page that is open already."""
    return "X-Part" in request.headers
