"""The staging plan's pages: to look at, on paper, and what a change by hand would cost before it is kept."""

from flask import Blueprint, Response, request

from receiving import service
from web import frame
from web.downloads import download, paper
from web.frame import ctx
from web.pages.plan import change_page, change_part, plan_page
from web.speech import speaker

LOOK_AGAIN_S = 2
"""How soon a page whose plan is in work asks for it again."""

pages = Blueprint("plan", __name__, url_prefix="/s/<id:shipment>")


@pages.get("/plan")
def plan(shipment: str) -> Response:
    """The staging plan drawn, to look at, to change, or to print."""
    view = service.get_shipment(ctx(), shipment)
    response = frame.render(plan_page(view, frame.local_now()))
    if view.planned.progress is service.Progress.WORKING:
        response.headers["Refresh"] = str(LOOK_AGAIN_S)  # HTML Living Standard, "refresh" as a header: no script needed
    return response


@pages.get("/plan.pdf")
def plan_file(shipment: str) -> Response:
    """The staging plan as PDF."""
    data = service.make_plan_pdf(ctx(), shipment, paper=paper(), speaker=speaker())
    return download(data, f"plan-{shipment}.pdf", "application/pdf", inline=True)


@pages.get("/plan/change")
def change(shipment: str) -> Response:
    """What moving a carton to another trip or bay would cost; nothing is stored by looking."""
    carton, trip, bay = (request.args.get(name, "").strip() for name in ("carton", "trip", "bay"))
    found = service.work_out_change_cost(ctx(), shipment, carton, trip=trip, bay=bay, by=frame.person())
    page = change_page(found)
    return frame.render(change_part(page) if frame.wants_part() else page)
