"""``receiving backup``: the data folder as one archive or brought up to date in a folder, also while it is served."""

import argparse
from dataclasses import asdict

from receiving import service
from receiving.cli import DONE
from receiving.commands.files import check_not_inside, check_output
from receiving.commands.terminal import show, show_json


def run(options: argparse.Namespace) -> int:
    """Write the copy and say what it holds; status 1 where the data are damaged, and the copy before stays."""
    check_not_inside(options.out, options.data)
    if not options.out.is_dir():
        check_output(options.out, [])
    made = service.back_up(options.data, options.out)
    if options.json:
        show_json({"archive": str(options.out), **asdict(made)})
    else:
        photos = f"{made.photos} photo{'' if made.photos == 1 else 's'}"
        new = "" if made.written == made.photos else f" ({made.written} of them new)"
        show(
            f"{options.out}: the database and {photos}{new}, {made.size / 1_000_000:.1f} MB written; all is undamaged."
        )
        for photo in made.renewed:
            show(f"The copy of photo {photo[:12]}… was damaged there since; it was copied again from the original.")
        show(f"To use it: receiving restore {options.out} --data FOLDER")
    return DONE
