"""The office's lists that people keep: label patterns, store layouts, the kit."""

from collections.abc import Callable
from functools import partial
from typing import TypeVar

from flask import Blueprint, Response, make_response, redirect, request, url_for

from receiving import service
from receiving.errors import BadRequest, Conflict, FileFaults, ReceivingError
from receiving.messages import Text, figure, message
from receiving.model import Layout
from receiving.service import Kit, LabelPattern
from web import frame
from web.downloads import download
from web.frame import ctx
from web.pages.office_home import office_page
from web.pages.office_kit import kit_moves_page, kit_page
from web.pages.office_layout import layout_page
from web.pages.office_parts import PartRow, parts_page
from web.pages.office_patterns import Trial, patterns_page, trial_part
from web.pages.office_settings import as_typed, settings_page, settings_sent
from web.pages.office_texts import Typed, editor
from web.problems import status_of

pages = Blueprint("office", __name__)
V = TypeVar("V")

DONE = {
    "saved": message("Saved. It is in use from now on."),
    "reset": message("The built-in patterns are in use again."),
    "removed": message("There is no kit any more."),
    "usual": message("The usual parts list is in use again."),
}
EXAMPLE_LIMIT = 10_000


@pages.get("/office")
def home() -> Response:
    """Where the office starts."""
    words = request.args.get("q", "").strip()[: frame.MAX_PERSON]
    found = service.get_office_view(ctx(), words, request.args.get("page", 1, type=int))
    return frame.render(office_page(found, now=frame.local_now(), words=words))


@pages.get("/office/settings")
def settings() -> Response:
    """Units, the sender and printer of labels, the address in their QR codes."""
    done = "done" in request.args
    return frame.render(settings_page(service.get_settings(ctx()), service.list_label_resolutions(), done=done))


@pages.post("/office/settings")
@frame.once
def change_settings() -> Response:
    """Use the settings as typed."""
    try:
        service.save_settings(ctx(), settings_sent(request.form.to_dict()))
    except BadRequest as fault:
        page = settings_page(service.get_settings(ctx()), service.list_label_resolutions(), fault=fault)
        return frame.render(as_typed(page, request.form.to_dict()), 422)
    return _to(url_for(".settings", done="saved"))


@pages.get("/office/patterns")
def patterns() -> Response:
    """The label patterns in use, or an earlier version of them, to edit."""
    found = service.open_text(ctx(), service.PATTERNS, _version())
    return _patterns(found, _opened(found))


def _patterns(
    found: service.OpenText[tuple[LabelPattern, ...]], typed: Typed, example: str = "", trial: Trial | None = None
) -> Response:
    page = patterns_page(
        editor(typed, found, frame.local_now()),
        shipped=found.shipped,
        groups=service.list_pattern_groups(),
        example=example,
        trial=trial,
    )
    return frame.render(page, _status(typed))


@pages.post("/office/patterns")
@frame.once
def change_patterns() -> Response:
    """Try the patterns as typed on an example, save them, or go back to the built-in ones."""
    example = _one_line_end(request.form.get("example", ""))
    if request.form.get("do") == "try":
        return _tried(_typed(), example)
    return _change(service.PATTERNS, partial(_patterns, example=example), partial(url_for, ".patterns"))


def _tried(typed: Typed, example: str) -> Response:
    if len(example) > EXAMPLE_LIMIT:
        raise BadRequest(
            message("The example has {number} characters.", number=figure(len(example))),
            next_step=message("Paste one label, {example_limit} at most.", example_limit=figure(EXAMPLE_LIMIT)),
        )
    trial = trial_part(service.try_patterns(typed.text, example), typed.text)
    return _patterns(service.open_text(ctx(), service.PATTERNS), typed, example, trial)


@pages.get("/office/patterns/label-patterns.toml")
def patterns_file() -> Response:
    """The label patterns in use as a file."""
    return download(service.get_text(ctx(), service.PATTERNS).text, "label-patterns.toml", "application/toml")


@pages.get("/office/layouts")
def find_layout() -> Response:
    """To the layout of the store that was typed."""
    store = request.args.get("store", "").strip()
    if not store:
        raise BadRequest(message("No store was named."), next_step=message("Type the number of the store."))
    return _to(url_for(".layout", store=store))


@pages.get("/office/layouts/<id:store>")
def layout(store: str) -> Response:
    """The layout of a store, or an earlier version of it, to edit; a proposal where it has none."""
    found, assumed = service.open_layout(ctx(), store, _version())
    return _layout(store, found, _opened(found), assumed)


def _layout(
    store: str, found: service.OpenText[Layout | None], typed: Typed, assumed: tuple[Text, ...] = ()
) -> Response:
    document = service.name_layout(store)
    as_typed = service.check_text(document, "layout", typed.text) if typed.text and not typed.fault else None
    page = layout_page(store, found.value, as_typed, editor(typed, found, frame.local_now()), assumed)
    return frame.render(page, _status(typed))


@pages.post("/office/layouts/<id:store>")
@frame.once
def change_layout(store: str) -> Response:
    """Show what the layout as typed would change, or save it as typed or uploaded."""
    return _change(service.name_layout(store), partial(_layout, store), partial(url_for, ".layout", store=store))


@pages.get("/office/layouts/<id:store>/layout.toml")
def layout_file(store: str) -> Response:
    """The layout in use as a file."""
    return download(service.get_layout_text(ctx(), store), f"layout-{store}.toml", "application/toml")


@pages.get("/office/kit")
def kit() -> Response:
    """The kit in use, or an earlier version of it, to edit."""
    found = service.open_text(ctx(), service.KIT, _version())
    return _kit(found, _opened(found))


def _kit(found: service.OpenText[Kit | None], typed: Typed) -> Response:
    in_use = found.value
    as_typed = None if typed.fault else service.check_text(service.KIT, "kit", typed.text)
    shown = editor(typed, found, frame.local_now())
    page = kit_page(in_use.places if in_use else (), as_typed.places if as_typed else (), shown)
    return frame.render(page, _status(typed))


@pages.post("/office/kit")
@frame.once
def change_kit() -> Response:
    """Show what the kit as typed would change, or save it as typed or uploaded; an empty text takes it away."""
    return _change(service.KIT, _kit, partial(url_for, ".kit"))


@pages.get("/office/kit/moves")
def kit_moves() -> Response:
    """What the kit would move in shipments that are loaded already."""
    moved = request.args.get("moved", 0, type=int)
    found = service.preview_kit_moves(ctx())
    return frame.render(kit_moves_page(found, frame.local_now().date(), moved=moved))


@pages.post("/office/kit/moves")
@frame.once
def move_by_kit() -> Response:
    """Give the ticked shipments the kit's places, as new revisions."""
    chosen = request.form.getlist("shipment")
    moved = service.apply_kit_moves(ctx(), chosen, seen=request.form.get("seen", ""), by=frame.person())
    return _to(url_for(".kit_moves", moved=moved))


@pages.get("/office/kit/kit.csv")
def kit_file() -> Response:
    """The kit in use as a file."""
    return download(service.get_text(ctx(), service.KIT).text, "kit.csv", "text/csv")


@pages.get("/office/parts")
def parts() -> Response:
    """What an item of each kind is made of, to edit."""
    done = DONE.get(request.args.get("done", ""), "")
    return frame.render(parts_page(service.get_parts_table(ctx()), done=done))


@pages.post("/office/parts")
@frame.once
def change_parts() -> Response:
    """Save the parts list as typed, or go back to the usual one."""
    if request.form.get("do") == "usual":
        service.reset_parts_list(ctx(), follows=_follows())
        return _to(url_for(".parts", done="usual"))
    rows = _part_rows()
    try:
        service.save_parts_table(ctx(), rows, follows=_follows())
    except (BadRequest, Conflict) as fault:
        return frame.render(parts_page(service.get_parts_table(ctx()), rows, fault=fault), status_of(fault)[0])
    return _to(url_for(".parts", done="saved"))


def _part_rows() -> list[PartRow]:
    """The rows that name a part; the others are empty rows, or parts to take out."""
    lists = [request.form.getlist(name) for name in ("kind", "part", "qty", "of_position")]
    if len({len(values) for values in lists}) != 1:
        raise BadRequest(
            message("A part came without kind, quantity or use."), next_step=message("Reload the page and edit again.")
        )
    kinds, names, quantities, uses = lists
    return [row for row in zip(kinds, names, quantities, uses, strict=True) if row[1].strip()]


def _change(
    document: service.TextDocument[V],
    show: Callable[[service.OpenText[V], Typed], Response],
    address: Callable[..., str],
) -> Response:
    """Show what a text as typed or uploaded would change, save it, or go back to what is shipped."""
    typed, wanted = _typed(), request.form.get("do")
    try:
        if wanted == "check":
            service.check_text(document, _source(), typed.text)
            return show(service.open_text(ctx(), document), typed)
        if wanted == "reset":
            service.reset_text(ctx(), document, follows=_follows())
            return _to(address(done="reset"))
        saved = service.save_text(ctx(), document, _source(), typed.text, follows=_follows())
    except (FileFaults, Conflict) as fault:
        return show(service.open_text(ctx(), document), Typed(typed.text, fault))
    return _to(address(done="removed" if saved is None else "saved"))


def _version() -> int:
    """The version of a text that the address names; 0: the one in use."""
    return request.args.get("version", 0, type=int)


def _opened(found: service.OpenText[V]) -> Typed:
    done = "" if found.number else DONE.get(request.args.get("done", ""), "")
    return Typed(found.text, version=found.number, done=done)


def _typed() -> Typed:
    """The text that was sent: a file where one was chosen, else what stands in the editor."""
    upload = request.files.get("file")
    if request.form.get("do") == "upload":
        if upload is None or not upload.filename:
            raise BadRequest(message("No file was chosen."), next_step=message("Choose a file, then send it."))
        return Typed(_as_text(upload.read()))
    return Typed(_one_line_end(request.form.get("text", "")))


def _as_text(data: bytes) -> str:
    try:
        return _one_line_end(data.decode("utf-8-sig"))
    except UnicodeDecodeError as wrong:
        raise BadRequest(
            message("Byte {start} of the file is not UTF-8; nothing was stored.", start=wrong.start + 1),
            next_step=message("Save it as UTF-8 text and choose it again."),
        ) from wrong


def _one_line_end(text: str) -> str:
    """Forms send CRLF; a text that nobody changed must come back as it was."""
    return text.replace("\r\n", "\n")


def _source() -> str:
    """How a text came in: its file's name, or by whose hand."""
    words = "edited on the page"
    upload = request.files.get("file")
    if upload is not None and upload.filename:
        return upload.filename
    return f"{words} by {frame.person()}" if frame.person() else words


def _follows() -> int:
    text = request.form.get("follows", "")
    if not (text.isascii() and text.isdigit() and len(text) < 10):
        raise BadRequest(
            message("The version {text} is not a number.", text=repr(text[:20])),
            next_step=message("Reload the page and edit again."),
        )
    return int(text)


def _status(typed: Typed) -> int:
    fault: ReceivingError | None = typed.fault
    return status_of(fault)[0] if fault else 200


def _to(address: str) -> Response:
    return make_response(redirect(address, 303))
