"""``receiving backup``: the data folder as one archive or brought up to date in a folder, also while it is served."""

import argparse
from dataclasses import asdict
from pathlib import Path

from receiving import service
from receiving.cli import DONE
from receiving.commands.files import check_output
from receiving.commands.terminal import show, show_json
from receiving.errors import BadRequest


def run(options: argparse.Namespace) -> int:
    """Write the copy and say what it holds; status 1 where the data are damaged, and the copy before stays."""
    _refuse_the_folder_itself(options.out, options.data)
    made = service.back_up(options.data, options.out)
    if options.json:
        show_json({"archive": str(options.out), **asdict(made)})
    else:
        photos = f"{made.photos} photo{'' if made.photos == 1 else 's'}"
        new = "" if made.written == made.photos else f" ({made.written} of them new)"
        show(
            f"{options.out}: the database and {photos}{new}, {made.size / 1_000_000:.1f} MB written; all is undamaged."
        )
        show(f"To use it: receiving restore {options.out} --data FOLDER")
    return DONE


def _refuse_the_folder_itself(archive: Path, data: Path) -> None:
    """An archive must not take the place of what it copies, nor lie where it would be lost with it."""
    if archive.resolve().is_relative_to(data.resolve()):
        raise BadRequest(
            f"{archive} is in the data folder that it would copy; nothing was written.",
            next_step="Choose another place for --out, best on another disk.",
        )
    check_output(archive, [])
