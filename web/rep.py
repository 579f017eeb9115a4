"""The rep's pages: shipments, one shipment, photos, scans, questions, notes."""

from flask import Blueprint, Response, jsonify, make_response, redirect, render_template, request, url_for

from receiving import service
from receiving.errors import BadRequest, Conflict, NotFound, PhotoError
from receiving.messages import joined, listing, message, plural
from receiving.model import Place, Source
from web import actions, frame
from web.access import access, own_path
from web.downloads import download, paper
from web.followed import render_followed
from web.frame import ctx
from web.note_forms import by_whom, carton_of_region, damage_photo, each_of_several, searched_place
from web.pages.carton import carton_page
from web.pages.contents import contents_page, sheets_page
from web.pages.photo_print import print_page
from web.pages.photos import photo_page
from web.pages.questions import QuestionPage
from web.pages.scan_bar import Answer, scan_answer, seen_before, stored_answer
from web.pages.scanner import scanner_page
from web.pages.shipment import ShipmentLive, ShipmentPage, live_part, shipment_page
from web.pages.shipments import shipments_page
from web.problems import problem
from web.speech import say, speaker

pages = Blueprint("rep", __name__)

NOT_OF_A_NOTE = frozenset({"token", "kind", "back", "anchor", "by", "spare_of", actions.ID_FIELD})
"""Fields of a form that no note takes from it; a carton of another store is promised by taking a swap alone."""

PHOTO_SIZES_PX = service.PHOTO_SIZES_PX


@pages.get("/")
def shipments() -> Response:
    """Every shipment, the most pressing first."""
    sought = frame.sought()
    wanted, last = service.Selection(words=sought["query"]), frame.remembered_choice(frame.LAST_COOKIE)
    listed = service.get_list_page(ctx(), wanted, page=sought["page"], scope=access().scope, last=last)
    return frame.render(shipments_page(listed, wanted, now=frame.local_now(), person=frame.person()))


@pages.get("/find")
def find() -> Response:
    """The shipment that a scanned carton belongs to."""
    code = request.args.get("code", "")
    found = service.find_shipments_of_code(ctx(), code, access())
    if len(found) == 1:
        return make_response(redirect(url_for(".shipment", shipment=found[0]), 303))
    if found:
        raise Conflict(
            message(
                "This code is on the manifests of {count} shipments: {shipments}.",
                count=len(found),
                shipments=", ".join(found[:5]),
            ),
            next_step=message("Choose one of them from the list."),
        )
    raise NotFound(
        message("No shipment has a carton with the code {code}.", code=repr(code.strip()[:60])),
        next_step=message("Scan another carton of the same delivery, or choose the shipment from the list."),
    )


@pages.post("/who")
def who() -> Response:
    """Say once who is working at this browser."""
    name = " ".join(request.form.get("person", "").split())
    if not name or len(name) > frame.MAX_PERSON:
        raise BadRequest(
            message("The name is empty.")
            if not name
            else plural(len(name), "The name has {number} character.", "The name has {number} characters."),
            next_step=message("Type your name, {longest} characters at most.", longest=frame.MAX_PERSON),
            field="person",
        )
    response = _back(url_for(".shipments"))
    frame.remember(response, frame.PERSON_COOKIE, name)
    return response


@pages.post("/place")
def place() -> Response:
    """Say where the next photos and scans are made."""
    chosen = request.form.get("place", "")
    if chosen not in set(Place):
        raise BadRequest(
            message("There is no place {chosen}.", chosen=repr(chosen)),
            next_step=message("Choose one of the places shown."),
        )
    response = _back(url_for(".shipments"))
    frame.remember(response, frame.PLACE_COOKIE, chosen)
    return response


def _back(default: str, anchor: str = "") -> Response:
    """To the page that the form names (only a path of ours), else to this address."""
    target = own_path(request.form.get("back", ""), default)
    return make_response(redirect(target + (f"#{anchor}" if anchor else ""), 303))


VIEWS = ("find", "stage", "hand-over")


def _page(shipment: str, read_id: str = "", *, shown: str = "find") -> ShipmentPage:
    view = service.get_shipment(ctx(), shipment)
    answer = stored_answer(view, read_id) if read_id else None
    page = shipment_page(view, now=frame.local_now(), scan_bar=frame.scan_bar(), answer=answer, shown=shown)
    frame.setting().pace.drawn(shipment, page.version)
    return page


def _version_for(shipment: str) -> str:
    """The version to show to whoever asks with the version that he sees."""
    seen = next(iter(request.if_none_match.as_set(include_weak=True)), "")
    return frame.setting().pace.version(shipment, service.get_version(ctx(), shipment), seen)


@pages.get("/s/<id:shipment>")
def shipment(shipment: str) -> Response:
    """One shipment: what is missing, what needs a look, what is here."""
    response = frame.render(_page(shipment, request.args.get("answer", "")))
    frame.remember(response, frame.LAST_COOKIE, shipment)
    return response


@pages.get("/s/<id:shipment>/stage")
def stage(shipment: str) -> Response:
    """One shipment: cart trips, and what stands at its bay."""
    return frame.render(_page(shipment, shown="stage"))


@pages.get("/s/<id:shipment>/hand-over")
def hand_over(shipment: str) -> Response:
    """One shipment: contents, replacements, the store's confirmation, papers."""
    return frame.render(_page(shipment, shown="hand-over"))


@pages.get("/s/<id:shipment>/live")
def live(shipment: str) -> Response:
    """The part of the shipment page that follows what is read, or what changed in the one that a phone holds.

    A page asks every second, with the version that it shows: 304 while there is none to show in its place.
    """
    shown = request.args.get("view", VIEWS[0])
    if shown not in VIEWS:
        raise BadRequest(
            message("There is no view {view}.", view=repr(shown[:40])),
            next_step=message("Ask for {views}.", views=listing(VIEWS, choice=True)),
        )

    version = _version_for(shipment)
    if request.if_none_match.contains_weak(version):
        response = make_response("", 304)
    else:
        response = _live(shipment, version, shown)
    response.set_etag(version)
    return response


def _live(shipment: str, version: str, shown: str) -> Response:
    today = frame.local_now().date().isoformat()

    def part() -> tuple[str, ShipmentLive]:
        page = live_part(_page(shipment, shown=shown))
        return f"{page.version} {today}", page

    may = ",".join(sorted(access().rights))  # the part holds no way that its reader may not go
    return render_followed(f"live {shown} {shipment} {may}", f"{version} {today}", part)


@pages.get("/s/<id:shipment>/state")
def state(shipment: str) -> Response:
    """The version to show: a page asks for it every second, and is told 304 while nothing changes."""
    version = _version_for(shipment)
    response = jsonify(version=version)
    response.set_etag(version)
    response.make_conditional(request)
    return response


@pages.post("/s/<id:shipment>/scans")
def add_scan(shipment: str) -> Response:
    """One line of a scanner or of a keyboard."""
    source = Source.TYPED if request.form.get("source") == Source.TYPED.value else Source.SCANNER
    given = service.add_scan(
        ctx(),
        shipment,
        _scanned(request.form.get("text", "")),
        place=frame.place(),
        by=by_whom(),
        source=source,
        scan_id=actions.action_id() if actions.acting() else request.form.get("scan_id") or None,
    )
    if not actions.acting():
        return make_response(redirect(url_for(".shipment", shipment=shipment, answer=given.read_id), 303))
    already = seen_before(given.earlier, frame.local_now()) if given.earlier else ""
    return actions.done(**shown_answer(scan_answer(given, shipment, already=already)))


def _scanned(text: str) -> str:
    """What the label holds, where this browser's scanner was set up; a camera's and a person's text stay."""
    by_scanner = request.form.get("source", Source.SCANNER.value) == Source.SCANNER.value
    return frame.scanner_profile().text_of(text) if by_scanner else text


@pages.get("/scanner")
def scanner() -> Response:
    """What this browser's scanner sends, and setting it up."""
    return frame.render(
        scanner_page(service.draw_test_symbols(), is_set=bool(frame.remembered_choice(frame.SCANNER_COOKIE)))
    )


@pages.post("/scanner")
def set_scanner() -> Response:
    """Show what two scans say of the scanner, and keep it in this browser."""
    if request.form.get("do") == "forget":
        response = make_response(redirect(url_for(".scanner"), 303))
        frame.remember(response, frame.SCANNER_COOKIE, "")
        return response
    gs1, matrix = (request.form.get(name, "").rstrip("\r\n") for name in ("gs1", "matrix"))
    learned = service.learn_scanner(gs1, matrix)
    good = service.ScannerFlaw.NOT_THE_SYMBOL not in learned.flaws
    page = scanner_page(service.draw_test_symbols(), sent=(gs1, matrix), learned=learned, is_set=good)
    response = frame.render(page, 200 if good else 422)
    if good:
        frame.remember(response, frame.SCANNER_COOKIE, learned.profile.as_text())
    return response


@pages.get("/s/<id:shipment>/answers/<read_id>")
def answer(shipment: str, read_id: str) -> Response:
    """What a read is now: the answer to its scan, with what was said of it since. Raises NotFound."""
    shown = stored_answer(service.get_shipment(ctx(), shipment), read_id)
    if shown is None:
        raise NotFound(
            message("There is no read {read_id} in this shipment.", read_id=repr(read_id)),
            next_step=message("Go back to the shipment."),
        )
    return jsonify(shown_answer(shown))


def shown_answer(shown: Answer) -> dict[str, object]:
    """An answer for a script: as facts, and as the piece of page that shows it."""
    facts = {name: getattr(shown, name) for name in ("tone", "sound", "carton", "bay")}
    facts |= {name: say(getattr(shown, name)) for name in ("word", "sentence", "already")}
    return {"answer": {**facts, "read_id": shown.read_id}, "html": render_template(shown.template, page=shown)}


@pages.post("/s/<id:shipment>/scan-list")
def add_scan_list(shipment: str) -> Response:
    """A list of scans, all of it or nothing."""
    upload = request.files.get("list")
    if upload is None or not upload.filename:
        raise BadRequest(message("No scan list was chosen."), next_step=message("Choose a CSV or JSON lines file."))
    service.add_scans(ctx(), shipment, upload.filename, upload.read(), by=access().name)
    return _back(url_for(".shipment", shipment=shipment))


@pages.post("/s/<id:shipment>/photos")
def add_photos(shipment: str) -> Response:
    """One or more photos; each is kept at once and read in the background."""
    uploads = [upload for upload in request.files.getlist("photos") if upload.filename]
    if not uploads:
        raise BadRequest(
            message("No photo was chosen."), next_step=message("Take a photo or choose one, then send it.")
        )
    faults: list[PhotoError] = []
    for upload in uploads:
        try:
            name = upload.filename or "photo"
            service.add_photo(ctx(), shipment, name, upload.read(), place=frame.place(), by=by_whom())
        except PhotoError as fault:
            if len(uploads) == 1:
                raise
            faults.append(fault)
    if faults:
        return _some_failed(faults, len(uploads))
    return _back(url_for(".shipment", shipment=shipment), "photos")


def _some_failed(faults: list[PhotoError], sent: int) -> Response:
    return problem(
        422,
        message("Some photos were not accepted"),
        message("{number} of {sent} could not be used.", number=len(faults), sent=sent),
        message("Take those again."),
        details=tuple(joined(fault.message, fault.next_step) for fault in faults),
        kept=message("{number} of {sent} are kept and being read.", number=sent - len(faults), sent=sent),
    )


@pages.get("/s/<id:shipment>/photos/<photo>")
def photo(shipment: str, photo: str) -> Response:
    """One photo with its labels outlined."""
    return frame.render(photo_page(service.get_photo(ctx(), shipment, photo), shipment))


@pages.get("/s/<id:shipment>/photos/<photo>/print")
def photo_print(shipment: str, photo: str) -> Response:
    """What the printed text around a photo's unread labels may say."""
    return frame.render(print_page(service.read_print(ctx(), shipment, photo), shipment=shipment, photo=photo))


@pages.get("/s/<id:shipment>/photos/<photo>/<int:size_px>.jpg")
def photo_image(shipment: str, photo: str, size_px: int) -> Response:
    """The photo upright as JPEG; it never changes, since its id is the hash of its bytes."""
    if size_px not in PHOTO_SIZES_PX:
        raise BadRequest(
            message("There is no size {size}.", size=size_px),
            next_step=message("Ask for {sizes}.", sizes=listing(PHOTO_SIZES_PX, choice=True)),
        )
    response = Response(service.make_photo_jpeg(ctx(), shipment, photo, max_px=size_px), mimetype="image/jpeg")
    response.headers["Cache-Control"] = "private, max-age=31536000, immutable"
    return response


@pages.get("/s/<id:shipment>/questions/<question_id>")
def question(shipment: str, question_id: str) -> Response:
    """One question: the label beside the photos of each choice."""
    page = _page(shipment)
    asked = next((card for card in page.questions if card.question_id == question_id), None)
    if asked is None:
        raise _answered()
    return frame.render(QuestionPage(shipment, page.store, asked))


@pages.post("/s/<id:shipment>/questions/<question_id>")
@frame.once
def answer_question(shipment: str, question_id: str) -> Response:
    """Say which carton the label is, or that it is one seen again; that holds for every read of the question."""
    again = request.form.get("again") == "yes"
    carton = request.form.get("carton", "")
    asked = service.answer_question(ctx(), shipment, question_id, carton, by=by_whom(), again=again)
    return make_response(redirect(url_for(".shipment", shipment=shipment, answer=asked.read_ids[0]), 303))


def _answered() -> Conflict:
    return Conflict(
        message("This question is answered already."),
        next_step=message("Go back to the shipment; it shows what was decided."),
    )


@pages.get("/00/<digits>")
def linked_carton(digits: str) -> Response:
    """The carton whose label's QR code any phone camera read: a GS1 Digital Link with AI 00."""
    shipment, carton = service.find_carton_with_sscc(ctx(), digits, access())
    return make_response(redirect(url_for(".carton", shipment=shipment, carton=carton), 302))


@pages.get("/s/<id:shipment>/cartons/<id:carton>")
def carton(shipment: str, carton: str) -> Response:
    """One carton: contents, evidence, damage, notes."""
    return frame.render(carton_page(service.get_shipment(ctx(), shipment), carton, frame.local_now()))


@pages.get("/s/<id:shipment>/contents")
def contents(shipment: str) -> Response:
    """What is in the cartons, and what can be set with it."""
    return frame.render(contents_page(service.get_contents(ctx(), shipment), frame.local_now()))


@pages.get("/s/<id:shipment>/bay-sheets")
def bay_sheets(shipment: str) -> Response:
    """A sheet for each bay, to look at or to print."""
    return frame.render(sheets_page(service.list_bay_sheets(ctx(), shipment)))


@pages.get("/s/<id:shipment>/bay-sheets.pdf")
def bay_sheets_file(shipment: str) -> Response:
    """The bay sheets as PDF."""
    data = service.make_bay_sheets_pdf(ctx(), shipment, paper=paper(), speaker=speaker())
    return download(data, f"bay-sheets-{shipment}.pdf", "application/pdf", inline=True)


@pages.post("/s/<id:shipment>/notes")
@frame.once
def add_note(shipment: str) -> Response:
    """One note beside the reads, with a photo where one was taken. Fields left empty are not part of it."""
    kind = request.form.get("kind", "")
    fields = {
        name: value.strip() for name, value in request.form.items() if name not in NOT_OF_A_NOTE and value.strip()
    }
    if kind == "shortage_followed" and "carton" not in fields:
        raise BadRequest(
            message("No carton was chosen."),
            next_step=message("Tick the cartons that it is about, then send it again."),
        )
    if kind == "read_assigned":
        fields = {"carton": "", **fields}  # of none of the cartons
    if kind == "damage_noted":
        fields.pop("place", None)  # it is the photo's
        fields, photo = {"carton": "", **fields}, damage_photo()
        service.add_damage(ctx(), shipment, fields, photo, place=frame.place(), by=by_whom())
    elif kind == "region_settled":
        carton = carton_of_region(fields)
        service.resolve_region(ctx(), shipment, fields, carton, by=by_whom())
    elif kind == "place_searched" and len(request.form.getlist("carton")) > 1:
        place = searched_place(fields.get("place", ""))
        service.search_place(ctx(), shipment, place, request.form.getlist("carton"), by=by_whom())
    else:
        service.add_notes(ctx(), shipment, kind, each_of_several(fields), by=by_whom())
    return _back(url_for(".shipment", shipment=shipment), request.form.get("anchor", ""))
