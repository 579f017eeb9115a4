"""Start a command; on a fresh machine, set up the environment first."""

from __future__ import annotations

import sys


def main(arguments: list[str] | None = None) -> int:
    """Run ``receiving`` with these arguments; gives the exit status."""
    given = sys.argv[1:] if arguments is None else arguments
    if sys.version_info < (3, 11):
        print(
            f"receiving: Python 3.11 or newer is needed; this is {sys.version.split()[0]}. "
            "Start it with a newer one, for example: python3.11 -m receiving demo",
            file=sys.stderr,
        )
        return 1
    from receiving import setup

    for_tests = given[:1] == ["test"]
    if not setup.libraries_present(for_tests=for_tests):
        return setup.continue_in_environment(given, for_tests=for_tests)
    from receiving.cli import run

    return run(given)


if __name__ == "__main__":
    sys.exit(main())
