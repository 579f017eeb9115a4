"""The coordinator's pages over all stores: how ready the programme is, whom to call, and swaps between stores."""

from flask import Blueprint, Response, make_response, redirect, request, url_for

from receiving import service
from receiving.errors import BadRequest
from receiving.messages import message
from receiving.service import Costs
from web import frame
from web.access import access, own_path
from web.downloads import download
from web.frame import ctx
from web.pages.programme import call_page, programme_page, swap_sent, swaps_page

pages = Blueprint("programme", __name__)

MOST_DAYS = 60


@pages.get("/programme")
def programme() -> Response:
    """How ready the visits are and were, and where cartons are short."""
    return frame.render(programme_page(service.get_programme_view(ctx(), access().scope)))


@pages.get("/programme.csv")
def programme_file() -> Response:
    """The figures of the programme as CSV."""
    return download(
        service.make_programme_csv(service.get_programme(ctx(), access().scope)), "programme.csv", "text/csv"
    )


@pages.get("/readiness.csv")
def readiness_file() -> Response:
    """How ready the visits to come were from day to day, as CSV."""
    found = service.list_readiness(ctx(), access().scope)
    return download(service.make_readiness_csv(found), "readiness.csv", "text/csv")


@pages.get("/call-list")
def call_list() -> Response:
    """The stores that have not counted with few days left."""
    days = _days()
    return frame.render(call_page(service.list_to_call(ctx(), days, access().scope), days))


@pages.get("/call-list.csv")
def call_list_file() -> Response:
    """The list to call as CSV."""
    rows = service.list_to_call(ctx(), _days(), access().scope)
    return download(
        service.make_call_list_csv(rows), f"call-list-{frame.local_now().date().isoformat()}.csv", "text/csv"
    )


@pages.post("/deliveries")
@frame.once
def deliveries() -> Response:
    """Take a list of what was delivered on which day."""
    upload = request.files.get("file")
    if upload is None or not upload.filename:
        raise BadRequest(
            message("No file was chosen."), next_step=message("Choose a CSV with shipment and delivered_on.")
        )
    own = access().scope
    service.import_deliveries(ctx(), upload.filename, upload.read(), by=frame.person(), scope=own)
    return make_response(redirect(url_for(".call_list"), 303))


def _days() -> int:
    return min(max(request.args.get("days", service.CALL_DAYS, type=int), 0), MOST_DAYS)


@pages.get("/swaps")
def swaps() -> Response:
    """Which extra carton of which store would save which visit, and what choices are taken to cost."""
    found, taken = service.get_swaps_view(ctx(), access().scope), request.args.get("taken", 0, type=int)
    return frame.render(swaps_page(found, taken=taken, person=frame.person()))


@pages.post("/swaps/take")
@frame.once
def take() -> Response:
    """Note that the chosen cartons are on their way from other stores."""
    by = request.form.get("by", "").strip()[: frame.MAX_PERSON] or frame.person()
    chosen = [swap_sent(text) for text in request.form.getlist("chosen")]
    taken = service.take_swaps(ctx(), chosen, by=by, scope=access().scope)
    back = own_path(request.form.get("back", ""), url_for(".swaps", taken=taken))
    return make_response(redirect(back, 303))


@pages.post("/swaps/costs")
@frame.once
def costs() -> Response:
    """Say what a second visit, a day's wait and a swap cost, in visits."""
    try:
        values = [float(request.form.get(name, "")) for name in ("second_visit", "day", "swap")]
    except ValueError:
        raise BadRequest(
            message("A cost is not a number."), next_step=message("Give each in visits, such as 0.25.")
        ) from None
    service.save_costs(ctx(), Costs(*values))
    return make_response(redirect(url_for(".swaps"), 303))


@pages.post("/swaps/lanes")
@frame.once
def lanes() -> Response:
    """Take a table of lanes: from, to, cost, days."""
    upload = request.files.get("file")
    if upload is None or not upload.filename:
        raise BadRequest(
            message("No file was chosen."), next_step=message("Choose a CSV with from, to, cost and days.")
        )
    service.save_lanes(ctx(), upload.filename, upload.read())
    return make_response(redirect(url_for(".swaps"), 303))
