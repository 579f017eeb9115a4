"""What a form of a note says: whose word it is, and notes that are more than their fields."""

from flask import request

from receiving import service
from receiving.errors import BadRequest
from receiving.messages import message
from receiving.model import Place
from web import frame
from web.access import access
from web.frame import ctx


def by_whom() -> str:
    """Who did it: the person who signed in; without accounts as sent with a record that waited, else as typed here."""
    return access().name or request.form.get("by", "").strip()[: frame.MAX_PERSON] or frame.person()


def settle_region(shipment: str, fields: dict[str, str]) -> None:
    """A region that was not read is a carton's label, which is then here, or no label."""
    said = fields.pop("as", "")
    if said == "carton" and not fields.get("carton"):
        raise BadRequest(
            message("No carton was chosen."),
            next_step=message("Choose the carton whose label it is, then send it again."),
        )
    carton = fields.get("carton", "") if said == "carton" else ""
    with ctx().transaction():
        # As a mapping: a field may have any name, also that of an argument.
        service.add_notes(ctx(), shipment, "region_settled", [{**fields, "carton": carton}], by=by_whom())
        if carton:
            seen = {"carton": carton, "reason": "its label on a photo, told by a person"}
            service.add_note(ctx(), shipment, "carton_seen", by=by_whom(), **seen)


def each_of_several(fields: dict[str, str]) -> list[dict[str, str]]:
    """The fields once for each read, note or carton that the form names: a label may carry several codes."""
    name = next((name for name in ("read_id", "withdrawn", "carton") if len(request.form.getlist(name)) > 1), None)
    return [{**fields, name: value} for value in request.form.getlist(name)] if name else [fields]


def damage_photo(shipment: str) -> dict[str, str]:
    """The photo that came with a note of damage, stored; nothing where none was taken."""
    upload = request.files.get("photo_file")
    if upload is None or not upload.filename:
        return {}
    row = service.add_photo(ctx(), shipment, upload.filename, upload.read(), place=frame.place(), by=by_whom())
    return {"photo": row.photo}


def search_place(shipment: str, place: str) -> None:
    """Several cartons were looked for in one place. Raises BadRequest for what is not a place."""
    if place not in set(Place):
        raise BadRequest(
            message("There is no place {place}.", place=repr(place[:40])),
            next_step=message("Choose one of the places shown."),
        )
    service.search_place(ctx(), shipment, Place(place), request.form.getlist("carton"), by=by_whom())
