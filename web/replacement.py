"""The replacement request of a store: drafted, issued once, revised, printed."""

from dataclasses import replace
from datetime import date

from flask import Blueprint, Response, make_response, redirect, request, url_for

from receiving import service
from receiving.errors import BadRequest, Conflict
from receiving.messages import message
from receiving.model.replacement import Delivery
from receiving.service import RequestChoice
from web import frame
from web.downloads import download, paper
from web.frame import ctx
from web.pages.problem import Trouble, trouble_of
from web.pages.replacement import draft_page, request_page
from web.problems import status_of
from web.speech import speaker

pages = Blueprint("replacement", __name__)

MAX_REASON = 200


@pages.get("/stores/<id:store>/request")
def draft(store: str) -> Response:
    """What the store lacks now, over all its open shipments."""
    return _show(store)


def _show(
    store: str,
    typed: Delivery | None = None,
    choice: RequestChoice | None = None,
    trouble: Trouble | None = None,
    status: int = 200,
) -> Response:
    drafted = service.draft_request(ctx(), store)
    page = draft_page(drafted, typed=typed, choice=choice, trouble=trouble, now=frame.local_now())
    return frame.render(page, status)


@pages.post("/stores/<id:store>/request")
@frame.once
def issue(store: str) -> Response:
    """Issue a request for the ticked lines, or add them to the newest open one."""
    form = {name: request.form.get(name, "").strip() for name in ("deliver_to", "contact", "phone", "remarks")}
    typed = Delivery(form["deliver_to"], form["contact"], form["phone"], remarks=form["remarks"])
    choice = _choice()
    try:
        delivery = replace(typed, needed_by=_needed_by())
        issued = service.issue_request(ctx(), store, delivery, by=frame.person(), choice=choice)
    except (BadRequest, Conflict) as fault:
        return _show(store, typed, choice, trouble_of(fault), status_of(fault)[0])
    return make_response(redirect(url_for(".issued", store=store, number=issued.number), 303))


def _choice() -> RequestChoice | None:
    """The ticked lines; None, all of them, where the form has no list of them."""
    if "chosen" not in request.form:
        return None
    reasons = {
        name.removeprefix("reason-"): text.strip()[:MAX_REASON]
        for name, text in request.form.items()
        if name.startswith("reason-")
    }
    return RequestChoice(frozenset(request.form.getlist("ask")), reasons, request.form.get("as") == "revision")


@pages.post("/stores/<id:store>/requests/<int:number>/withdraw")
@frame.once
def withdraw(store: str, number: int) -> Response:
    """Revise an open request: without what nobody lacks any more."""
    service.withdraw_lines(ctx(), store, number, by=frame.person())
    return make_response(redirect(url_for(".issued", store=store, number=number), 303))


def _needed_by() -> date | None:
    text = request.form.get("needed_by", "").strip()
    if not text:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise BadRequest(
            message("{text} is not a date.", text=repr(text[:40])),
            next_step=message("Give it as year-month-day, such as 2026-03-09."),
            field="needed_by",
        ) from None


@pages.get("/stores/<id:store>/requests/<int:number>")
def issued(store: str, number: int) -> Response:
    """A request as it was issued."""
    return frame.render(request_page(service.get_request(ctx(), store, number), frame.local_now()))


@pages.get("/stores/<id:store>/requests/<int:number>.<any(pdf, csv, json):kind>")
def issued_file(store: str, number: int, kind: str) -> Response:
    """A request as PDF, CSV or JSON."""
    name = f"replacement-request-{store}-{number}.{kind}"
    if kind == "pdf":
        data = service.make_request_pdf(ctx(), store, number, paper=paper(), speaker=speaker())
        return download(data, name, "application/pdf", inline=True)
    if kind == "csv":
        return download(service.make_request_csv(ctx(), store, number), name, "text/csv")
    return download(service.make_request_json(ctx(), store, number), name, "application/json")
