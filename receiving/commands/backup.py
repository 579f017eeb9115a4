"""``receiving backup``: the data folder as one archive or brought up to date in a folder, also while it is served."""

import argparse
from dataclasses import asdict

from receiving import service
from receiving.cli import DONE
from receiving.commands.files import check_not_inside, check_output
from receiving.commands.terminal import show, show_json
from receiving.messages import Text, figure, message, plural
from receiving.store import BackedUp


def run(options: argparse.Namespace) -> int:
    """Write the copy and say what it holds; status 1 where the data are damaged, and the copy before stays."""
    check_not_inside(options.out, options.data)
    if not options.out.is_dir():
        check_output(options.out, [])
    made = service.back_up(options.data, options.out)
    if options.json:
        show_json({"archive": str(options.out), **asdict(made)})
    else:
        show(_written(str(options.out), made))
        for photo in made.renewed:
            show(
                message(
                    "The copy of photo {photo}… was damaged there since; it was copied again from the original.",
                    photo=photo[:12],
                )
            )
        use = f"receiving restore {options.out} --data FOLDER"
        show(message("To use it: {command}", command=use))
    return DONE


def _written(out: str, made: BackedUp) -> Text:
    values = {"file": out, "size": figure(made.size / 1_000_000, 1)}
    if made.written == made.photos:
        return plural(
            made.photos,
            "{file}: the database and {number} photo, {size} MB written; all is undamaged.",
            "{file}: the database and {number} photos, {size} MB written; all is undamaged.",
            **values,
        )
    return plural(
        made.photos,
        "{file}: the database and {number} photo ({new} of them new), {size} MB written; all is undamaged.",
        "{file}: the database and {number} photos ({new} of them new), {size} MB written; all is undamaged.",
        new=made.written,
        **values,
    )
