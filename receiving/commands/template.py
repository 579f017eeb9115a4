"""``receiving template``: an empty manifest, layout and pattern file to fill in, each explained inside."""

import argparse
from importlib import resources
from pathlib import Path

from receiving.cli import DONE
from receiving.commands.files import write_file
from receiving.commands.terminal import show
from receiving.errors import BadRequest
from receiving.messages import message

FILES = ("manifest.csv", "layout.toml", "patterns.toml")


def run(options: argparse.Namespace) -> int:
    """Write the files that are not there yet; one that is there stops all, and none is written."""
    folder: Path = options.out
    _check(folder)
    for name in FILES:
        write_file(folder / name, template(name))
        show(str(folder / name))
    load = f"receiving import {folder / FILES[0]} {folder / FILES[1]}"
    show(message("Fill them in, then load them: {command}", command=load))
    show(message("The pattern file is needed only where labels carry texts of your own shippers; the photos tell."))
    return DONE


def template(name: str) -> bytes:
    """The template of this name."""
    return (resources.files("receiving.commands") / "templates" / name).read_bytes()


def _check(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as fault:
        raise BadRequest(
            message("The folder {folder} cannot be used: {fault}.", folder=str(folder), fault=fault.strerror),
            next_step=message("Choose another with --out FOLDER."),
        ) from fault
    there = [str(folder / name) for name in FILES if (folder / name).exists()]
    if there:
        raise BadRequest(
            message("Already there: {files}; nothing was written.", files=", ".join(there)),
            next_step=message("Choose another --out FOLDER."),
        )
