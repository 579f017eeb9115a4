"""``receiving backup``: the data folder as one archive, also while the page is served."""

import argparse
import json
from dataclasses import asdict

from receiving import service
from receiving.cli import DONE


def run(options: argparse.Namespace) -> int:
    """Write the archive and say what it holds."""
    made = service.back_up(options.data, options.out)
    if options.json:
        print(json.dumps({"archive": str(options.out), **asdict(made)}, ensure_ascii=False))
    else:
        size = f"{made.size / 1_000_000:.1f} MB"
        print(f"{options.out}: the database and {made.photos} photo{'' if made.photos == 1 else 's'}, {size}.")
        print("To use it, unpack it into an empty folder and serve that: receiving serve --data FOLDER")
    return DONE
