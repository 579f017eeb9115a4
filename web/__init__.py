"""The web app: one blueprint for each person, pages as values, and errors that say what to do next.

A view parses the request, calls a use case of `receiving.service`, builds a page (a frozen dataclass of `web.pages`,
which names its template) and renders it; templates loop and choose. `access` says who may call each endpoint, and the
app does not start with an endpoint that it does not name. What a phone sends carries an action id (`actions`), so that
the same tap, sent again, is answered again and done once. `problems` turns every error into a page or JSON with the
fault and the next step; `speech` says all in the reader's language.
"""

from typing import TYPE_CHECKING

from flask import Flask
from jinja2 import StrictUndefined

from receiving import service
from web import (
    access,
    account,
    actions,
    api,
    compress,
    connections,
    coordinator,
    crops,
    frame,
    imports,
    languages,
    manager,
    manners,
    office,
    office_shipment,
    people,
    phone,
    plan,
    problems,
    programme,
    protection,
    rep,
    replacement,
    signing_on,
    tokens,
    trust,
    webhooks,
)
from web.addresses import Number, TextId

if TYPE_CHECKING:
    from collections.abc import Iterable

    from receiving.service import CompanySignOn, Context
    from web.quota import Quota

MAX_UPLOAD_BYTES = 200 * 1024 * 1024
"""One request: some twenty phone photos. With scripts on, each photo is sent on its own."""


def create_app(
    ctx: "Context",
    *,
    max_upload_bytes: int = MAX_UPLOAD_BYTES,
    allowed_hosts: "Iterable[str]" = (),
    company: "CompanySignOn | None" = None,
    quota: "Quota | None" = None,
) -> Flask:
    """The app of this context, opened by localhost, addresses and ``allowed_hosts``. Serve it with `web.serve.serve`.

    ``company`` is the company's sign-on, where there is one; ``quota`` how much each may ask for in a minute.

    Raises BadRequest for an allowed host that is not a host name.
    """
    app = Flask(__name__)
    app.config.update(MAX_CONTENT_LENGTH=max_upload_bytes, MAX_FORM_MEMORY_SIZE=4 * 1024 * 1024)
    app.config["COMPANY"], app.config["QUOTA"] = company, quota
    app.url_map.converters.update({"id": TextId, "int": Number})
    app.jinja_env.undefined = StrictUndefined
    app.jinja_env.trim_blocks = app.jinja_env.lstrip_blocks = True
    compress.set_up(app)
    connections.set_up(app)
    manners.set_up(app)
    frame.set_up(app, ctx)
    actions.set_up(app)
    protection.set_up(app, allowed_hosts, secret=service.get_service_secret(ctx, "forms"))
    problems.set_up(app)
    people_pages = (
        rep,
        phone,
        plan,
        coordinator,
        imports,
        programme,
        manager,
        replacement,
        office,
        office_shipment,
        people,
    )
    own_pages = (account, crops, languages, signing_on)
    for part in (*people_pages, *own_pages, manners, trust, tokens, webhooks, api):
        app.register_blueprint(part.pages)
    access.set_up(app, ctx)
    app.before_request(protection.check_token)
    app.before_request(actions.check_maker)
    app.before_request(protection.check_texts)
    return app
