"""What a form of a note says: whose word it is, and notes that are more than their fields."""

from flask import request

from receiving.errors import BadRequest
from receiving.messages import message
from receiving.model import Place
from web import frame
from web.access import access


def by_whom() -> str:
    """Who did it: the person who signed in; without accounts as sent with a record that waited, else as typed here."""
    return access().name or request.form.get("by", "").strip()[: frame.MAX_PERSON] or frame.person()


def carton_of_region(fields: dict[str, str]) -> str:
    """The carton whose label a region is said to be, taken out of the fields; empty where it is not a carton label.

    Raises BadRequest where none was chosen.
    """
    stated, carton = fields.pop("as", ""), fields.pop("carton", "")
    if stated != "carton":
        return ""
    if not carton:
        raise BadRequest(
            message("No carton was chosen."),
            next_step=message("Choose the carton whose label it is, then send it again."),
        )
    return carton


def each_of_several(fields: dict[str, str]) -> list[dict[str, str]]:
    """The fields once for each read, note or carton that the form names: a label may carry several codes."""
    name = next((name for name in ("read_id", "withdrawn", "carton") if len(request.form.getlist(name)) > 1), None)
    return [{**fields, name: value} for value in request.form.getlist(name)] if name else [fields]


def damage_photo() -> tuple[str, bytes] | None:
    """The name and bytes of the photo that came with a note of damage; None where none was taken."""
    upload = request.files.get("photo_file")
    return (upload.filename, upload.read()) if upload is not None and upload.filename else None


def searched_place(place: str) -> Place:
    """The place in which several cartons were looked for. Raises BadRequest for what is not a place."""
    if place not in set(Place):
        raise BadRequest(
            message("There is no place {place}.", place=repr(place[:40])),
            next_step=message("Choose one of the places shown."),
        )
    return Place(place)
