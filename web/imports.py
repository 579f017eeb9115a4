"""Files that come in: what a manifest would change is shown before it does; other files are taken at once."""

import secrets
from functools import partial

from flask import Blueprint, Response, make_response, redirect, request, url_for

from receiving import service
from receiving.errors import BadRequest
from receiving.messages import message
from web import frame
from web.downloads import download
from web.frame import ctx
from web.pages.imports import ImportsPage, imported_page, layout_page, patterns_page, preview_page, stores_page
from web.pages.imports_columns import columns_page, mapping_sent, mapping_trouble

pages = Blueprint("imports", __name__)


@pages.get("/import")
def imports() -> Response:
    """Where files come in."""
    return frame.render(ImportsPage(tuple(mapping.shipper for mapping in service.list_column_mappings(ctx()))))


@pages.get("/stores.csv")
def stores_file() -> Response:
    """Every store with what is known of its days, to fill in and import again."""
    return download(service.make_stores_csv(ctx()), "stores.csv", "text/csv")


@pages.post("/import")
def preview() -> Response:
    """What a file would change, before it does; layouts and patterns are checked and taken at once."""
    kind, name, data = _upload()
    if kind == "layout":
        return frame.render(layout_page(service.import_layout(ctx(), name, data)))
    if kind == "patterns":
        return frame.render(patterns_page(len(service.import_text(ctx(), service.PATTERNS, name, data))))
    if kind == "stores":
        return frame.render(stores_page(service.import_stores(ctx(), name, data), name))
    if kind == "forget":
        service.remove_mapping(ctx(), request.form.get("shipper", ""))
        return make_response(redirect(url_for(".imports"), 303))
    shipper, ticket = request.form.get("shipper", ""), secrets.token_urlsafe(12)
    return _previewed(service.preview_upload(ctx(), ticket, name, data, shipper=shipper, restore_zeros=_zeros()))


def _previewed(found: service.Previewed | service.ColumnsToMap) -> Response:
    """The preview of a manifest; a table with headings of its own is mapped first."""
    if isinstance(found, service.Previewed):
        return frame.render(preview_page(found.seen, name=found.name, ticket=found.ticket, restored=found.restored))
    known, _ = service.list_manifest_columns()
    page = columns_page(
        found.sample,
        known,
        name=found.name,
        ticket=found.ticket,
        trouble=mapping_trouble(found.fault, found.sample, found.chosen),
        chosen=found.chosen,
    )
    return frame.render(page, 422)


def _zeros() -> bool:
    return request.form.get("zeros") == "restore"


@pages.post("/import/<ticket>/columns")
def columns(ticket: str) -> Response:
    """Keep which heading is which column, and preview the file with that."""
    sent = partial(mapping_sent, request.form.to_dict())
    return _previewed(service.apply_mapping(ctx(), ticket, sent, restore_zeros=_zeros()))


@pages.post("/import/<ticket>/again")
def preview_again(ticket: str) -> Response:
    """The preview with or without the zeros that are known."""
    return _previewed(service.preview_again(ctx(), ticket, restore_zeros=_zeros()))


def _upload() -> tuple[str, str, bytes]:
    upload = request.files.get("file")
    if upload is None or not upload.filename:
        raise BadRequest(message("No file was chosen."), next_step=message("Choose a file, then send it."))
    kind = request.form.get("kind", "manifest")
    data = upload.read()
    upload.close()  # a large one is a file that would stay open as long as the request is remembered
    return kind, upload.filename, data


@pages.post("/import/<ticket>")
def taken(ticket: str) -> Response:
    """Import the file that was previewed."""
    found = service.take_upload(ctx(), ticket, restore_zeros=_zeros())
    return frame.render(imported_page(found.results, found.name))
