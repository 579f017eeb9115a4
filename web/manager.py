"""The store manager's pages: what was received, confirm it, and the receipt."""

from collections.abc import Mapping

from flask import Blueprint, Response, make_response, redirect, request, url_for
from werkzeug.urls import iri_to_uri

from receiving import service
from receiving.errors import BadRequest, Conflict
from receiving.messages import message
from receiving.model import Role
from web import actions, frame, problems
from web.access import access
from web.downloads import download, paper
from web.frame import ctx
from web.pages.people import ROLE_WORDS
from web.pages.problem import trouble_of
from web.pages.receipts import Signer, Typed, confirm_page, handed_over, receipt_page
from web.pages.searching import missing_part

pages = Blueprint("manager", __name__)

MESSAGE_TYPES = {
    "x12": "application/edi-x12",
    "edi": "application/edifact",
    "jsonld": "application/ld+json",
}
"""Media types (RFC 1767; W3C JSON-LD 1.1)."""
_DATA_TYPES = {"json": "application/json", "csv": "text/csv"}


@pages.get("/s/<id:shipment>/receipt")
def confirm(shipment: str) -> Response:
    """What the store manager is asked to confirm; changes are marked against what ``before`` names, shown earlier."""
    return _show(shipment, Typed(), before=request.args.get("before", ""))


def _show(shipment: str, typed: Typed, *, before: str, status: int = 200) -> Response:
    found, now = service.get_receipt_to_confirm(ctx(), shipment, before=before), frame.local_now()
    page = confirm_page(
        found.shown,
        photos=found.view.photos,
        handed=handed_over(found.view, found.requests, now),
        typed=typed,
        before=found.before,
        receipts=found.view.receipts,
        now=now,
        missing=missing_part(found.view, now).open,
        signer=_signer(),
        takes_pin=bool(access().session),
    )
    return frame.render(page, status)


def _signer() -> Signer | None:
    """The store manager who is signed in; None where somebody else holds the phone, and the manager types his name."""
    found = access()
    return Signer(found.name, ROLE_WORDS[Role.STORE_MANAGER]) if found.role is Role.STORE_MANAGER else None


def _confirmed_by(shipment: str, form: Mapping[str, str]) -> Signer:
    """Who confirms: the store manager's account, whatever a form says; else whose PIN was given; else who was typed.

    Raises Conflict where the page was shown to another account than the one that is signed in now, SignInRefused and
    TooManyTries for a PIN, BadRequest where there are accounts and nobody has signed: a name alone proves nothing.
    """
    signer, pin = _signer(), form.get("pin", "")
    if signer is None and pin:
        address = request.remote_addr or ""
        manager = service.find_manager_by_pin(ctx(), shipment, form.get("name", ""), pin, address=address)
        return Signer(manager.name, ROLE_WORDS[Role.STORE_MANAGER])
    if signer is None:
        if access().session and not form.get("signature", "").strip():
            raise BadRequest(
                message("Nobody has signed."),
                next_step=message("Sign with a finger, or give the name and the PIN of a store manager."),
                field="signature",
            )
        return Signer(form.get("name", ""), form.get("role", ""))
    if form.get("shown_to", signer.name) != signer.name:
        raise Conflict(
            message("This was shown to {form}, and {name} is signed in now.", form=form["shown_to"], name=signer.name),
            next_step=message("Look at the counts again, then confirm."),
        )
    return signer


@pages.post("/s/<id:shipment>/receipt")
def give(shipment: str) -> Response:
    """Confirm exactly what was shown; when it changed meanwhile, it has to be looked at again."""
    form = request.form
    digest = form.get("digest", "")
    try:
        # Before what is undone as a whole where it fails: a wrong PIN counts.
        return _given(shipment, _confirmed_by(shipment, form))
    except (Conflict, BadRequest, service.SignInRefused, service.TooManyTries) as fault:
        if actions.acting():
            raise
        typed = Typed(
            name=form.get("name", ""),
            role=form.get("role", ""),
            remarks=form.get("remarks", ""),
            short=form.get("short", ""),
            reason=form.get("short_reason", ""),
            reasons=_own_reasons(form),
            trouble=trouble_of(fault),
        )
        return _show(shipment, typed, before=digest, status=problems.status_of(fault)[0])


@frame.once
def _given(shipment: str, signer: Signer) -> Response:
    form = request.form
    receipt = service.confirm(
        ctx(),
        shipment,
        form.get("digest", ""),
        name=signer.name,
        role=str(signer.role),
        remarks=form.get("remarks", ""),
        with_exceptions=form.get("how") == "exceptions",
        signature=form.get("signature", ""),
        taken_by=access().name,
        by_pin=_signer() is None and bool(form.get("pin")),
        missing=_answers_for_missing(form),
        since=request.form.getlist("since"),
        language=form.get("language", ""),
    )
    return make_response(redirect(url_for(".receipt", shipment=shipment, number=receipt.number), 303))


OWN_REASON = "short_reason:"
"""Begins the name of the field with the reason of one carton; its id follows."""


def _answers_for_missing(form: Mapping[str, str]) -> service.MissingAnswer:
    """What the form says of the missing cartons that nobody declared short. Raises BadRequest for an empty reason."""
    stated, reason = form.get("short", ""), " ".join(form.get("short_reason", "").split())
    reasons = _own_reasons(form)
    if stated == "reason" and not reason and not reasons:
        raise BadRequest(
            message("The reason why the missing cartons were not looked for everywhere is empty."),
            next_step=message("Write the reason, or look for them first."),
            field="short_reason",
        )
    return service.MissingAnswer(stated == "searched", reason if stated == "reason" else "", reasons)


def _own_reasons(form: Mapping[str, str]) -> dict[str, str]:
    given = {
        name.removeprefix(OWN_REASON): " ".join(text.split())
        for name, text in form.items()
        if name.startswith(OWN_REASON)
    }
    return {carton: reason for carton, reason in given.items() if reason}


@pages.get("/s/<id:shipment>/receipts/<int:number>")
def receipt(shipment: str, number: int) -> Response:
    """A receipt, to look at or to print."""
    found, now = service.get_given_receipt(ctx(), shipment, number), frame.local_now()
    return frame.render(
        receipt_page(found.receipt, found.view.photos, handed_over(found.view, found.requests, now), now)
    )


@pages.get("/s/<id:shipment>/receipts/<int:number>.pdf")
def receipt_file(shipment: str, number: int) -> Response:
    """A receipt as PDF."""
    data = service.make_receipt_pdf(ctx(), shipment, number, paper=paper())
    return download(data, f"receipt-{shipment}-{number}.pdf", "application/pdf", inline=True)


@pages.get("/s/<id:shipment>/receipts/<int:number>.record")
def record_file(shipment: str, number: int) -> Response:
    """A receipt with its seal, which proves by itself what was confirmed."""
    data = service.get_record_file(ctx(), shipment, number).encode()
    return download(data, f"receipt-{shipment}-{number}.record.json", "application/json")


@pages.get("/s/<id:shipment>/receipts/<int:number>.zip")
def receipt_archive(shipment: str, number: int) -> Response:
    """All of a receipt in one file: sealed record, PDF, lines and photos."""
    data = service.make_receipt_zip(ctx(), shipment, number, paper=paper())
    return download(data, f"receipt-{shipment}-{number}.zip", "application/zip")


@pages.get("/s/<id:shipment>/receipts/<int:number>/message.<any(x12, edi, jsonld):kind>")
def message_file(shipment: str, number: int, kind: str) -> Response:
    """A receipt as a standard message."""
    asked = request.args
    # Flask gives the address in letters of any language; names are URIs.
    own = iri_to_uri(request.url_root).rstrip("/")
    text = service.make_standard_message(
        ctx(),
        shipment,
        number,
        kind,
        sender=asked.get("sender", ""),
        receiver=asked.get("receiver", ""),
        base=own,
    )
    data = text.encode("latin-1" if kind == "edi" else "utf-8")
    return download(data, f"receipt-{shipment}-{number}.{kind}", MESSAGE_TYPES[kind])


@pages.get("/s/<id:shipment>/receipts/<int:number>.<any(json, csv):kind>")
def receipt_data(shipment: str, number: int, kind: str) -> Response:
    """A receipt's lines as JSON or CSV."""
    text = service.make_receipt_data(ctx(), shipment, number, kind)
    return download(text.encode(), f"receipt-{shipment}-{number}.{kind}", _DATA_TYPES[kind])
