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
    try:
        return _run(given)
    except KeyboardInterrupt:
        print("Stopped.", file=sys.stderr)
        return 1


def _run(given: list[str]) -> int:
    from receiving import cli, setup

    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):  # a terminal that cannot show a letter shows its code instead
            stream.reconfigure(errors="backslashreplace")
    for_tests = given[:1] == ["test"]
    if setup.libraries_present(for_tests=for_tests):
        return cli.run(given)
    # Help, the version and a wrong word are answered at once: they need no library.
    if cli.parse(given).command == "doctor" and not setup.ready():
        return cli.run(given)
    return setup.continue_in_environment(given, for_tests=for_tests)


if __name__ == "__main__":
    sys.exit(main())
