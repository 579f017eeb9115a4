"""The page that installs this service's certificate authority on a phone; it is served without TLS too."""

from flask import Blueprint, Response, current_app, request, url_for

from receiving import service
from receiving.errors import NotFound
from receiving.messages import message
from web import frame
from web.certificates import Certificates
from web.pages.trust import TrustPage, trust_page

pages = Blueprint("trust", __name__)


@pages.get("/trust")
def trust() -> Response:
    """How a phone comes to trust this service."""
    here = url_for(".trust", _external=True, _scheme="http")
    shipments = url_for("rep.shipments", _external=True, _scheme="https")
    page: TrustPage = trust_page(
        _certificates().fingerprint(), shipments, service.qr_svg(here), here=here, is_secure=request.is_secure
    )
    return frame.render(page)


@pages.get("/trust/authority.crt")
def authority() -> Response:
    """The authority's certificate, as phones take it (RFC 2585 names the type application/pkix-cert for one)."""
    response = Response(_certificates().authority_der(), mimetype="application/x-x509-ca-cert")
    response.headers["Content-Disposition"] = 'attachment; filename="receiving-authority.crt"'
    return response


def _certificates() -> Certificates:
    found = current_app.config.get("CERTIFICATES")
    if not isinstance(found, Certificates):
        raise NotFound(
            message("This service has no certificate authority of its own."),
            next_step=message("Nothing has to be installed; or ask whoever runs it to start it with --tls."),
        )
    return found
