"""``receiving serve``: the page, served by waitress."""

import argparse

from receiving import service
from receiving.cli import DONE


def run(options: argparse.Namespace) -> int:
    """Serve until stopped."""
    from web.serve import serve

    with service.Desk.at(options.data, workers=options.workers) as desk:
        service.resume_photos(desk)
        serve(desk, host=options.host, port=options.port)
    return DONE
