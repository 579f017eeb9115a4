"""``receiving backup``: the data folder as one archive, also while the page is served."""

import argparse
from dataclasses import asdict
from pathlib import Path

from receiving import service
from receiving.cli import DONE
from receiving.commands.files import check_output
from receiving.commands.terminal import show, show_json
from receiving.errors import BadRequest


def run(options: argparse.Namespace) -> int:
    """Write the archive and say what it holds."""
    _refuse_the_folder_itself(options.out, options.data)
    made = service.back_up(options.data, options.out)
    if options.json:
        show_json({"archive": str(options.out), **asdict(made)})
    else:
        size = f"{made.size / 1_000_000:.1f} MB"
        show(f"{options.out}: the database and {made.photos} photo{'' if made.photos == 1 else 's'}, {size}.")
        show("To use it, unpack it into an empty folder and serve that: receiving serve --data FOLDER")
    return DONE


def _refuse_the_folder_itself(archive: Path, data: Path) -> None:
    """An archive must not take the place of what it copies, nor lie where it would be lost with it."""
    if archive.resolve().is_relative_to(data.resolve()):
        raise BadRequest(
            f"{archive} is in the data folder that it would copy; nothing was written.",
            next_step="Choose another place for --out, best on another disk.",
        )
    check_output(archive, [])
