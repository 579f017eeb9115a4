"""Texts and papers as files to save or to open."""

import re
from collections.abc import Iterator

from flask import Response, request

_OUTSIDE = re.compile(r"[^A-Za-z0-9._-]+")


def file_name(text: str) -> str:
    """A file name that every system takes, made of any id.

    >>> file_name('labels-S-2041/A "x".pdf')
    'labels-S-2041-A-x-.pdf'
    """
    return _OUTSIDE.sub("-", text)


def download(data: str | bytes | Iterator[str], name: str, mimetype: str, *, inline: bool = False) -> Response:
    """A file of this name, to save, or to look at where ``inline``."""
    response = Response(data, mimetype=mimetype)
    how = "inline" if inline else "attachment"
    response.headers["Content-Disposition"] = f'{how}; filename="{file_name(name)}"'
    return response


def paper() -> str:
    """The paper size that this request asks for: A4 or US Letter."""
    return "Letter" if request.args.get("paper") == "Letter" else "A4"
