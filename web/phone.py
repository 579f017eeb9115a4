"""What a phone needs to work for hours without a signal: scripts, pages, a shipment's codes, and a way to greet us."""

from flask import Blueprint, Response, current_app, jsonify, url_for

from receiving import service
from receiving.model import CartonState
from web import actions, frame
from web.frame import desk
from web.pages.cartons import bays_by_carton
from web.pages.outbox import OutboxPage
from web.pages.phone import sheet_json
from web.protection import form_token

pages = Blueprint("phone", __name__)

MOST_CARTON_PAGES = 80


@pages.get("/assets/<mark>/<path:name>")
def asset(mark: str, name: str) -> Response:
    """A script, style or picture; its address changes with any of them, so it is never asked for twice."""
    response = current_app.send_static_file(name)
    response.headers["Cache-Control"] = "public, max-age=31536000, immutable"
    return response


@pages.get("/shell")
def shell() -> Response:
    """What a phone needs to open any page of ours without a signal."""
    return jsonify(assets=frame.all_assets(), pages=[url_for("rep.shipments"), url_for(".outbox")])


@pages.get("/manifest.webmanifest")
def web_manifest() -> Response:
    """What a phone shows when this is put on its home screen (W3C Web Application Manifest)."""
    icons = [
        {"src": frame.asset_address(f"icon-{size}.png"), "sizes": f"{size}x{size}", "type": "image/png"}
        for size in (192, 512)
    ]
    response = jsonify(
        name="Shipment receiving",
        short_name="Receiving",
        id="/",
        start_url=url_for("rep.shipments"),
        scope="/",
        display="standalone",
        background_color="#f3f1ec",
        theme_color="#123f36",
        icons=icons,
    )
    response.mimetype = "application/manifest+json"
    return response


@pages.get("/signal")
def signal() -> Response:
    """Who answers, this browser's token and the time: what a phone asks for before it sends what waits on it."""
    now_ms = round(frame.setting().desk.now().timestamp() * 1000)
    response = jsonify(service=actions.SERVICE, token=form_token(), now_ms=now_ms)
    response.headers["Cache-Control"] = "no-store"
    return response


@pages.get("/outbox")
def outbox() -> Response:
    """What this phone did and what still waits on it; the phone itself fills the list."""
    return frame.render(OutboxPage())


@pages.get("/offline.js")
def offline() -> Response:
    """The service worker; it must stand at the top, since its folder is what it may serve."""
    return current_app.send_static_file("offline.js")


@pages.get("/s/<id:shipment>/sheet")
def sheet(shipment: str) -> Response:
    """What a phone answers scans by while there is no signal, and the pages that it should have by then."""
    found = service.phone_sheet(desk(), shipment)
    bays = bays_by_carton(service.shipment(desk(), shipment).plan)
    missing_first = sorted(found.cartons, key=lambda finding: finding.state is CartonState.RECEIVED)
    views = [f"rep.{name}" for name in ("shipment", "stage", "hand_over", "contents", "bay_sheets")]
    addresses = [url_for(view, shipment=shipment) for view in (*views, "staging.plan", "manager.confirm")]
    addresses += [
        url_for("rep.carton", shipment=shipment, carton=finding.carton.carton)
        for finding in missing_first[:MOST_CARTON_PAGES]
    ]
    response = jsonify(sheet_json(found, bays, addresses, frame.scanner_profile()))
    response.headers["Cache-Control"] = "no-store"
    return response
