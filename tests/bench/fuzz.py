"""Coverage-guided search for bytes that an edge of the service does not answer properly (12 edges, see TARGETS).

    python tests/bench/fuzz.py label_text -max_total_time=600          # options are those of libFuzzer
    python tests/bench/fuzz.py label_text --keep                       # the smallest set that covers as much, kept

Needs the package atheris. A search goes on from the corpus that is kept and from ``--work`` (a folder, default
``/tmp/fuzz``), where it writes what it finds. It stops at the first exception that is not the documented one, at an
input that takes longer than 10 s, and at 2 GB of memory; the input then lies in the folder as ``crash-…``,
``timeout-…`` or ``oom-…``.
"""

import argparse
import shlex
import shutil
import subprocess
import sys
from pathlib import Path

import atheris

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
with atheris.instrument_imports(include=["receiving", "web", "biip", "openpyxl"]):
    from tests.fuzz.corpus import inputs, write_archive
    from tests.fuzz.forms import FORM_TARGETS
    from tests.fuzz.targets import TARGETS

ALL = {**TARGETS, **FORM_TARGETS}


def main() -> None:
    """Search, or keep what was found."""
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    asked.add_argument("target", choices=ALL)
    asked.add_argument("--work", type=Path, default=Path("/tmp/fuzz"))
    asked.add_argument("--keep", action="store_true", help="write the minimised corpus into the tests")
    asked.add_argument("--inner", action="store_true", help=argparse.SUPPRESS)
    options, others = asked.parse_known_args()
    target = ALL[options.target]
    if options.inner:
        atheris.Setup([str(_command_again(options.target, options.work)), *others], target.check)
        atheris.Fuzz()
    found = options.work / options.target
    found.mkdir(parents=True, exist_ok=True)
    for number, seed in enumerate((*target.seeds, *inputs(options.target))):
        (found / f"seed-{number}").write_bytes(seed)
    limits = ["-timeout=10", "-rss_limit_mb=2048", f"-max_len={target.longest}", f"-artifact_prefix={found.parent}/"]
    if options.keep:
        small = options.work / f"{options.target}-small"
        shutil.rmtree(small, ignore_errors=True)
        small.mkdir()
        again = _command_again(options.target, options.work)
        subprocess.run([again, *limits, "-merge=1", small, found], check=True)
        write_archive(options.target, [path.read_bytes() for path in sorted(small.iterdir())])
        return
    atheris.Setup([sys.argv[0], *limits, *others, str(found)], target.check)
    atheris.Fuzz()


def _command_again(target: str, work: Path) -> Path:
    """A program that starts this script with the target: libFuzzer starts itself by its first word when it merges."""
    words = [sys.executable, __file__, target, "--work", str(work), "--inner"]
    script = work / f"{target}.sh"
    script.write_text(f'#!/bin/sh\nexec {shlex.join(words)} "$@"\n')
    script.chmod(0o755)
    return script


if __name__ == "__main__":
    main()
