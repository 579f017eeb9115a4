"""The office's papers of one shipment: its manifest and revisions, its planogram, its labels."""

from collections.abc import Callable

from flask import Blueprint, Response, make_response, redirect, request, url_for

from receiving import service
from receiving.errors import BadRequest, Conflict, NotFound
from receiving.messages import message
from receiving.service import CartonEdit, TypedPlace
from web import frame
from web.downloads import download
from web.frame import ctx
from web.pages.office_carton import carton_check_page, carton_edit_page, edit_of
from web.pages.office_labels import Chosen, labels_page
from web.pages.office_manifest import manifest_page, restore_page, void_page
from web.pages.office_planogram import planogram_page
from web.problems import status_of
from web.speech import speaker

pages = Blueprint("office_shipment", __name__, url_prefix="/s/<id:shipment>")

STOCK_COOKIE = "stock"
LAST_REVISION = 999_999
WHICH = ("all", "missing", "chosen")


@pages.get("/manifest")
def manifest(shipment: str) -> Response:
    """The manifest: its file, its history, the way to a changed one."""
    revisions = service.list_revisions(ctx(), shipment)
    restored = request.args.get("restored", 0, type=int) == len(revisions)
    done = message("Revision {revision} is in use.", revision=len(revisions)) if restored else ""
    return frame.render(manifest_page(revisions, now=frame.local_now(), done=done))


@pages.get("/manifest.csv")
def manifest_file(shipment: str) -> Response:
    """A revision of the manifest as CSV, the current one by default."""
    revision = request.args.get("revision", type=int)
    if revision is not None and not 1 <= revision <= LAST_REVISION:
        raise NotFound(
            message("There is no revision {revision}.", revision=revision),
            next_step=message("Choose one from the manifest's page."),
        )
    name = f"manifest-{shipment}" + (f"-revision-{revision}" if revision else "") + ".csv"
    return download(service.make_manifest_csv(ctx(), shipment, revision), name, "text/csv")


RESULTS: dict[str, tuple[Callable[[service.Context, str], str | bytes], str]] = {
    "csv": (service.make_result_csv, "text/csv"),
    "xlsx": (service.make_result_xlsx, "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"),
    "json": (service.make_result_json, "application/json"),
}


@pages.get("/result.<any(csv, xlsx, json):kind>")
def result_file(shipment: str, kind: str) -> Response:
    """What came, what is missing and what does not belong, as a file."""
    make, mimetype = RESULTS[kind]
    return download(make(ctx(), shipment), f"result-{shipment}.{kind}", mimetype)


@pages.get("/revisions/<int(max=999999):revision>/restore")
def restore(shipment: str, revision: int) -> Response:
    """What going back to this revision would change."""
    return frame.render(restore_page(service.preview_restore(ctx(), shipment, revision), frame.local_now()))


@pages.post("/revisions/<int(max=999999):revision>/restore")
@frame.once
def restore_revision(shipment: str, revision: int) -> Response:
    """Go back to this revision, as a new one."""
    result = service.restore_revision(ctx(), shipment, revision, follows=_number("follows"), by=frame.person())
    return make_response(redirect(url_for(".manifest", shipment=shipment, restored=result.revision), 303))


@pages.get("/void")
def void(shipment: str) -> Response:
    """Ask before a shipment is voided; of a voided one, the way back."""
    return frame.render(void_page(service.get_voiding(ctx(), shipment), frame.local_now()))


@pages.post("/void")
@frame.once
def void_shipment(shipment: str) -> Response:
    """Void a shipment that was imported by mistake."""
    service.void_shipment(ctx(), shipment, by=frame.person(), reason=request.form.get("reason", ""))
    return make_response(redirect(url_for(".void", shipment=shipment), 303))


@pages.post("/void/undo")
@frame.once
def restore_shipment(shipment: str) -> Response:
    """Let a voided shipment count again."""
    service.restore_shipment(ctx(), shipment, by=frame.person(), reason=request.form.get("reason", ""))
    return make_response(redirect(url_for(".manifest", shipment=shipment), 303))


@pages.get("/planogram")
def planogram(shipment: str) -> Response:
    """Which cartons belong where."""
    current, revision = service.get_manifest(ctx(), shipment)
    saved = request.args.get("saved", "")
    changed = message("Carton {carton} is changed. Revision {revision} is in use.", carton=saved, revision=revision)
    done = changed if current.find(saved) else ""
    return frame.render(planogram_page(current, revision, done=done))


@pages.get("/planogram/<id:carton>")
def carton_edit(shipment: str, carton: str) -> Response:
    """The form of one carton."""
    current, _ = service.get_manifest(ctx(), shipment)
    return frame.render(carton_edit_page(current, carton, edit_of(current, carton)))


@pages.post("/planogram/<id:carton>")
@frame.once
def carton_check(shipment: str, carton: str) -> Response:
    """Show what an edit would change, save it, or go on editing."""
    edit, do = _edit(), request.form.get("do")
    try:
        if do == "save":
            service.revise_carton(ctx(), shipment, carton, edit, follows=_number("follows"), by=frame.person())
            return make_response(redirect(url_for(".planogram", shipment=shipment, saved=carton), 303))
        preview = service.preview_carton(ctx(), shipment, carton, edit)
    except (BadRequest, Conflict) as fault:
        current, _ = service.get_manifest(ctx(), shipment)
        return frame.render(carton_edit_page(current, carton, edit, fault), status_of(fault)[0])
    current = preview.current.manifest
    if do == "edit":
        return frame.render(carton_edit_page(current, carton, edit))
    return frame.render(carton_check_page(current, carton, edit, preview))


def _edit() -> CartonEdit:
    lists = [request.form.getlist(name) for name in ("section", "column", "row")]
    if len({len(values) for values in lists}) != 1:
        raise BadRequest(
            message("A place came without section, column or row."),
            next_step=message("Reload the page and edit again."),
        )
    places = (TypedPlace(*(value.strip() for value in place)) for place in zip(*lists, strict=True))
    return CartonEdit(request.form.get("kind", ""), request.form.get("open_first") == "yes", tuple(places))


@pages.get("/labels")
def labels(shipment: str) -> Response:
    """Choose labels to print; one that cannot be drawn says so instead of its picture."""
    cartons = request.args.getlist("carton")
    drawn = cartons[0] if len(cartons) == 1 else ""
    choice = service.get_label_choice(ctx(), shipment, drawn=drawn, stock=_stock(), speaker=speaker())
    return _labels(choice, Chosen(cartons, _stock(), fault=choice.fault))


def _refused(shipment: str, chosen: Chosen) -> Response:
    return _labels(service.get_label_choice(ctx(), shipment), chosen)


def _labels(choice: service.LabelChoice, chosen: Chosen) -> Response:
    return frame.render(labels_page(choice, chosen), status_of(chosen.fault)[0] if chosen.fault else 200)


@pages.get("/labels.pdf")
def labels_file(shipment: str) -> Response:
    """The labels as PDF: of all cartons, of the missing ones, or of those chosen."""
    args = request.args
    cartons, first = args.getlist("carton"), args.get("first", "1")
    which = args.get("which", "chosen" if cartons else "all")
    try:
        wanted, dpi = _which(which, cartons), _dpi()
        if args.get("as") == "printer":
            data = service.make_labels_for_printer(ctx(), shipment, wanted, stock=_stock(), dpi=dpi, speaker=speaker())
        else:
            place = _first_place(first)
            data = service.make_labels_pdf(
                ctx(), shipment, wanted, stock=_stock(), first_place=place, dpi=dpi, speaker=speaker()
            )
    except BadRequest as fault:
        return _refused(shipment, Chosen(cartons, _stock(), first, fault))
    if args.get("as") == "printer":
        response = download(data, f"labels-{shipment}.zpl", "application/octet-stream")
    else:
        response = download(data, f"labels-{shipment}.pdf", "application/pdf", inline="save" not in args)
    frame.remember(response, STOCK_COOKIE, _stock())
    return response


@pages.get("/place-stickers.pdf")
def stickers_file(shipment: str) -> Response:
    """A sticker for each place of the ticked cartons, or of those without a code."""
    cartons = request.args.getlist("carton")
    try:
        data = service.make_place_stickers_pdf(
            ctx(), shipment, cartons, stock=request.args.get("stickers", "3x2in"), speaker=speaker()
        )
    except BadRequest as fault:
        return _refused(shipment, Chosen(cartons, _stock(), fault=fault))
    return download(data, f"place-stickers-{shipment}.pdf", "application/pdf", inline="save" not in request.args)


def _which(which: str, cartons: list[str]) -> str | list[str]:
    if which not in WHICH:
        raise BadRequest(
            message("There are no labels {labels}.", labels=repr(which[:40])),
            next_step=message("Choose all, the missing, or some cartons."),
        )
    return cartons if which == "chosen" else which


def _first_place(text: str) -> int:
    text = text.strip() or "1"
    if not (text.isascii() and text.isdigit() and len(text) < 10):
        raise BadRequest(
            message("The first place {text} is not a number.", text=repr(text[:20])),
            next_step=message("Count from 1 at the top left."),
        )
    return int(text)


def _dpi() -> int | None:
    """The printer's resolution of this request; None for the usual one."""
    asked = request.args.get("dpi", "")
    if not asked:
        return None
    known = service.list_label_resolutions()
    if asked not in map(str, known):
        raise BadRequest(
            message("There is no printer of {dots} dots per inch.", dots=repr(asked[:20])),
            next_step=message("Use {least} to {most}.", least=known[0], most=known[-1]),
        )
    return int(asked)


def _stock() -> str:
    """The label stock of this request, else the one used last, else the usual one."""
    names = [stock.name for stock in service.list_label_stocks()]
    asked = request.args.get("stock", "")
    used = frame.remembered_choice(STOCK_COOKIE)
    return asked or (used if used in names else names[0])


@pages.get("/cartons/<id:carton>/label.png")
def label_picture(shipment: str, carton: str) -> Response:
    """One carton's label as a picture, to show on a phone or to send to a label printer."""
    data = service.make_label_png(ctx(), shipment, carton, stock=_stock(), speaker=speaker())
    return download(data, f"label-{shipment}-{carton}.png", "image/png", inline="save" not in request.args)


def _number(field: str) -> int:
    text = request.form.get(field, "")
    if not (text.isascii() and text.isdigit() and len(text) < 10):
        raise BadRequest(
            message("{field} {text} is not a number.", field=field, text=repr(text[:20])),
            next_step=message("Reload the page and try again."),
        )
    return int(text)
