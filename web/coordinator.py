"""The coordinator's pages: all shipments with what to decide today, and one of them before its visit."""

from datetime import date
from functools import partial

from flask import Blueprint, Response, make_response, redirect, request, url_for
from markupsafe import escape

from receiving import service
from receiving.errors import BadRequest
from receiving.messages import message
from receiving.service import Selection, SortKey, Urgency
from web import frame
from web.access import access
from web.downloads import download
from web.frame import ctx
from web.pages.follow import follow_page
from web.pages.overview import BoardPart, OverviewPage, board_part, board_row, overview_page
from web.protection import form_token

pages = Blueprint("coordinator", __name__)

SELECTS = ("q", "state", "from", "to", "section", "shipper", "sort")
"""The fields of the board's address: a view is saved as a bookmark of it."""


@pages.get("/overview")
def overview() -> Response:
    """All shipments; what is short and visited soonest stands first."""
    wanted, asked = selection()
    version = board_version()
    if frame.wants_part() and request.if_none_match.contains_weak(version):
        return _of_version(Response(status=304), version)
    if frame.wants_part():
        return _of_version(frame.render(_board(wanted, asked, version)), version)
    # Beside its rows the page shows who looks, where they work, and what cannot be read.
    seen_by = (access(), frame.person(), frame.chosen_place(), frame.set_aside())
    name, made = f"{request.full_path} {seen_by}", partial(_page, wanted, asked, version)
    html = frame.shared_html(name, version, lambda: (version, made()))
    return make_response(html.replace(frame.TOKEN_HERE, str(escape(form_token()))))


def _page(wanted: Selection, asked: dict[str, str], version: str) -> OverviewPage:
    return overview_page(_board(wanted, asked, version), now=frame.local_now(), person=frame.person())


def _of_version(response: Response, version: str) -> Response:
    response.vary.add("X-Part")
    response.set_etag(version)
    return response


def _board(wanted: Selection, asked: dict[str, str], version: str) -> BoardPart:
    """The rows that are looked for; each is rendered once for as long as it stays as it is."""
    number = request.args.get("page", 1, type=int)
    listed = service.get_list_page(ctx(), wanted, page=number, scope=access().scope)
    now = frame.local_now()
    rows = frame.render_rows((each.shipment, each.mark, partial(board_row, each, now)) for each in listed.entries)
    return board_part(listed, rows, wanted, asked=asked, version=version)


def selection() -> tuple[Selection, dict[str, str]]:
    """What the address looks for, and its fields that say so. Raises BadRequest."""
    asked = {name: value for name in SELECTS if (value := request.args.get(name, "").strip()[: frame.MAX_PERSON])}
    states = [Urgency[name.upper()] for name in asked.get("state", "").split() if name.upper() in Urgency.__members__]
    sort, descending = asked.get("sort", "").removeprefix("-"), asked.get("sort", "").startswith("-")
    wanted = Selection(
        words=asked.get("q", ""),
        states=frozenset(states),
        visit_from=_day(asked.get("from", "")),
        visit_to=_day(asked.get("to", "")),
        section=asked.get("section", ""),
        shipper=asked.get("shipper", ""),
        sort=SortKey(sort) if sort in set(SortKey) else SortKey.URGENCY,
        descending=descending,
    )
    return wanted, asked


def _day(text: str) -> date | None:
    if not text:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise BadRequest(
            message("{text} is not a date.", text=repr(text)),
            next_step=message("Give it as year-month-day, such as 2026-03-09."),
        ) from None


def board_version() -> str:
    """Text that changes with every row of the board, and with the hour: an open board asks for what is newer."""
    return f"{service.get_list_version(ctx())}.{ctx().now():%Y%m%d%H}"


@pages.post("/overview/decide")
@frame.once
def decide_all() -> Response:
    """Hold the visits of the chosen shipments, or send their reps."""
    until = _day(request.form.get("until", "").strip())
    go = request.form.get("go") == "true"
    by = request.form.get("by", "").strip()[: frame.MAX_PERSON] or frame.person()
    chosen = request.form.getlist("shipment")
    remark = request.form.get("remark", "").strip()
    service.decide_visits(ctx(), chosen, go=go, until=until, remark=remark, by=by, scope=access().scope)
    back = request.form.get("back", "")
    return make_response(redirect(url_for(".overview") + (back if back.startswith("?") else ""), 303))


@pages.get("/overview.xlsx")
def overview_xlsx() -> Response:
    """The rows that are looked for as a workbook."""
    wanted, _ = selection()
    data = service.make_overview_xlsx(ctx(), wanted, access().scope)
    kind = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
    return download(data, f"overview-{frame.local_now().date().isoformat()}.xlsx", kind)


@pages.get("/overview.csv")
def overview_csv() -> Response:
    """The overview as CSV."""
    parts = service.make_overview_csv_parts(ctx(), selection()[0], access().scope)
    return download(parts, f"overview-{frame.local_now().date().isoformat()}.csv", "text/csv")


@pages.get("/s/<id:shipment>/before-the-visit")
def follow(shipment: str) -> Response:
    """What is done about what is missing, and whether the rep is sent."""
    found = service.get_decision(ctx(), shipment, access().scope)
    return frame.render(follow_page(found, now=frame.local_now(), person=frame.person()))
