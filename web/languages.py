"""Choosing the language of the pages, for this browser, whoever uses it."""

from flask import Blueprint, Response, make_response, redirect, request

from receiving.errors import BadRequest
from receiving.messages import message
from web import frame
from web.access import own_path
from web.speech import LANGUAGE_COOKIE, languages

pages = Blueprint("languages", __name__)


@pages.post("/language")
def choose() -> Response:
    """Show the pages in this language from now on. Raises BadRequest for one that there is none of."""
    code = request.form.get("language", "")
    if code not in {each.code for each in languages()}:
        raise BadRequest(
            message("There is no language {code} here.", code=repr(code[:20])),
            next_step=message("Choose one of those at the foot of a page."),
        )
    response = make_response(redirect(own_path(request.form.get("back", "")), 303))
    frame.remember(response, LANGUAGE_COOKIE, code)
    return response
