"""The replacement request of a store: drafted, issued once, revised, printed."""

from dataclasses import replace
from datetime import date

from flask import Blueprint, Response, make_response, redirect, request, url_for

from receiving import service
from receiving.errors import BadRequest
from receiving.model.replacement import Delivery
from web import frame
from web.downloads import download, paper
from web.frame import desk
from web.pages.replacement import draft_page, request_page

pages = Blueprint("replacement", __name__)


@pages.get("/stores/<id:store>/request")
def draft(store: str) -> Response:
    """What the store lacks now, over all its open shipments."""
    return _show(store)


def _show(store: str, typed: Delivery | None = None, trouble: str = "", status: int = 200) -> Response:
    issued = service.requests(desk(), store)
    drafted = service.draft_request(desk(), store)
    page = draft_page(drafted, issued, typed=typed, trouble=trouble, now=frame.local_now())
    return frame.render(page, status)


@pages.post("/stores/<id:store>/request")
def issue(store: str) -> Response:
    """Issue the request, or the next revision of the one that is open."""
    form = {name: request.form.get(name, "").strip() for name in ("deliver_to", "contact", "phone", "remarks")}
    typed = Delivery(form["deliver_to"], form["contact"], form["phone"], remarks=form["remarks"])
    try:
        delivery = replace(typed, needed_by=_needed_by())
        issued = service.issue_request(desk(), store, delivery, by=frame.person())
    except BadRequest as fault:
        return _show(store, typed, str(fault), 400)
    return make_response(redirect(url_for(".issued", store=store, number=issued.number), 303))


def _needed_by() -> date | None:
    text = request.form.get("needed_by", "").strip()
    if not text:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise BadRequest(f"{text[:40]!r} is no date.", next_step="Give it as year-month-day, as 2026-03-09.") from None


@pages.get("/stores/<id:store>/requests/<int:number>")
def issued(store: str, number: int) -> Response:
    """A request as it was issued."""
    return frame.render(request_page(service.request(desk(), store, number), frame.local_now()))


@pages.get("/stores/<id:store>/requests/<int:number>.<any(pdf, csv, json):kind>")
def issued_file(store: str, number: int, kind: str) -> Response:
    """A request as PDF, CSV or JSON."""
    name = f"replacement-request-{store}-{number}.{kind}"
    if kind == "pdf":
        data = service.request_pdf(desk(), store, number, paper=paper())
        return download(data, name, "application/pdf", inline=True)
    if kind == "csv":
        return download(service.request_csv(desk(), store, number), name, "text/csv")
    return download(service.request_json(desk(), store, number), name, "application/json")
