"""Which changes of the code no test would notice: mutants of each room, run against the tests that execute the line.

    python tests/bench/mutants.py closing --seed 7 --sample 40      # needs the package coverage
    python tests/bench/mutants.py --list                            # the rooms, how many mutants each has

A mutant is one small change: a comparison turned or moved by one, `and` for `or`, another operator, a number one more
(a limit of a module: four times as large), True for False, a code or key of other text, a condition turned around, a
call, a raise or a step left out, a value replaced by None. Sentences for people, annotations, decorators, sizes of
caches and zip's own check of lengths are left alone. First the room's tests run once and it is noted which test
executes which line. Then each mutant of a random sample runs in a copy of the tree, with the tests that execute the
line, the quickest of each file in turn, until one fails. A mutant on a line that no test executes survives.

A sample is told with its seed. Mutants that change nothing anybody could see are named in ``equivalent_mutants.toml``
with the reason; they are counted apart and never silently left out. A test that takes ten times its CPU time, or forty
times its time, kills.

Kill rates are in DEVELOPERS.md. The working copy is made in ``--work`` (default: a new temporary folder).
"""

import argparse
import ast
import contextlib
import functools
import gc
import importlib
import json
import os
import random
import resource
import shutil
import signal
import sys
import tempfile
import time
import tomllib
import traceback
import types
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import asdict
from itertools import islice
from math import ceil
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
from tests.bench.mutant_rooms import ROOMS, Room
from tests.bench.mutating import Mutant, code_objects, function_at, is_of_module, mutants_of, statement_at

ROOT = Path(__file__).resolve().parents[2]
EQUIVALENT = Path(__file__).with_name("equivalent_mutants.toml")


LEFT_OUT = ("__init__.py",)
COPIED = (
    "receiving",
    "web",
    "tests",
    "sample_images",
    "docs",
    "pyproject.toml",
    "README.md",
    "DEVELOPERS.md",
    "CHANGELOG.md",
    "CONTRIBUTING.md",
    "LICENSE",
    "setup.py",
    "requirements.txt",
    "requirements-test.txt",
    "requirements-browser.txt",
    ".ci",
)
MOST_TESTS_S = 8.0
"""CPU seconds: of the tests that execute a line, this many are run, at least one, the quickest of each file in turn."""
MOST_OF_IMPORT_S = 40.0
"""The same for a line that is executed at import, which says less of who uses it: nearly all tests of a room."""
MOST_AGAIN_S = 60.0
"""The same for a mutant of a function that survived the first of them: it is tried again, with most of the others."""


def room_files(tree: Path, room: Room) -> list[str]:
    """The room's files, by their path in the tree."""
    found = {path for pattern in room.files for path in tree.glob(pattern) if path.name not in LEFT_OUT}
    return sorted(str(path.relative_to(tree)) for path in found)


def all_mutants(tree: Path, room: Room) -> list[Mutant]:
    """All mutants of a room."""
    return [m for path in room_files(tree, room) for m in mutants_of(path, (tree / path).read_bytes())]


def equivalent(mutant: Mutant, source: bytes) -> str:
    """Why nobody can see this change; empty where it is not on the list."""
    was, now = mutant.lines(source)
    for known in tomllib.loads(EQUIVALENT.read_text()).get("mutant", []) if EQUIVALENT.exists() else ():
        if (known["file"], known["was"].strip(), known["now"].strip()) == (mutant.path, was.strip(), now.strip()):
            return str(known["why"])
    return ""


@functools.cache
def imports(test: Path, module: str) -> bool:
    """True where this file of tests imports the module of this path, by its name or a name in it."""
    dotted = module.removesuffix(".py").replace("/", ".")
    for node in ast.walk(ast.parse(test.read_bytes())):
        if isinstance(node, ast.Import) and any(each.name == dotted for each in node.names):
            return True
        names = [f"{node.module}.{each.name}" for each in node.names] if isinstance(node, ast.ImportFrom) else []
        if dotted in names or (names and dotted == node.module):
            return True
    return False


# --- running: a process that has the libraries loaded is forked for each mutant -------------------------------------

LIBRARIES = (
    "numpy",
    "cv2",
    "hypothesis",
    "pytest",
    "_pytest.assertion.rewrite",
    "hypothesis.extra.numpy",
    "flask",
    "sqlite_utils",
    "openpyxl",
    "PIL.Image",
    "zxingcpp",
    "pyzbar.pyzbar",
    "biip",
    "msgspec",
    "scipy.optimize",
    "ortools.sat.python.cp_model",
    "reportlab.pdfgen.canvas",
    "cryptography.hazmat.primitives.asymmetric.ed25519",
    "networkx",
    "fpdf",
    "pypdfium2",
    "waitress",
    "pydifact.segmentcollection",
    "re2",
    "importlib.metadata",
    "sqlite3",
)


def load_libraries() -> None:
    """Import what tests import, but for what is mutated."""
    import warnings

    for name in LIBRARIES:
        with contextlib.suppress(ImportError), warnings.catch_warnings():
            warnings.simplefilter("ignore")
            importlib.import_module(name)


class Noted:
    """A plugin of pytest: which test executes which line of the room's files, and how long it takes."""

    def __init__(self, tree: Path, files: list[str]) -> None:
        import coverage

        self.files = files
        self.coverage = coverage.Coverage(
            data_file=None, config_file=False, include=[str(tree / path) for path in files]
        )
        self.took: dict[str, float] = defaultdict(float)
        self.bad: set[str] = set()

    def start(self) -> None:
        self.coverage.start()

    def pytest_collection_finish(self) -> None:
        """What a module does when it is imported is not a test's: import all before the first."""
        for path in self.files:
            with contextlib.suppress(ImportError):
                importlib.import_module(path.removesuffix(".py").replace("/", "."))

    def pytest_runtest_logstart(self, nodeid: str) -> None:
        self._forget_cached()
        self.coverage.switch_context(nodeid)
        self.began = time.process_time()

    def _forget_cached(self) -> None:
        """What one test left in a cache, the next would use without executing its lines."""
        for path in self.files:
            module = sys.modules.get(path.removesuffix(".py").replace("/", "."))
            for value in list(vars(module).values()) if module else ():
                if callable(clear := getattr(value, "cache_clear", None)):
                    clear()

    def pytest_runtest_logfinish(self, nodeid: str) -> None:
        self.took[nodeid] = time.process_time() - self.began

    def pytest_runtest_logreport(self, report: object) -> None:
        if report.outcome != "passed":
            self.bad.add(report.nodeid)

    def result(self, tree: Path) -> dict[str, object]:
        self.coverage.stop()
        data = self.coverage.get_data()
        lines: dict[str, dict[int, list[str]]] = {}
        for path in data.measured_files():
            by_line = data.contexts_by_lineno(path)
            lines[str(Path(path).relative_to(tree))] = {
                line: [name for name in names if name not in self.bad] for line, names in by_line.items()
            }
        return {"lines": lines, "took": self.took, "bad": sorted(self.bad)}


def in_a_child(work: object, limit_s: float, cpu_s: float = 0.0) -> tuple[int | None, str]:
    """Run ``work`` in a forked process: its status, None where it took too long, and what it printed.

    ``cpu_s`` ends it after so much CPU time, which a busy machine does not spend: a mutant that loops is soon told.
    """
    with tempfile.TemporaryFile() as output:
        child = os.fork()
        if not child:
            os.setsid()
            if cpu_s:
                resource.setrlimit(resource.RLIMIT_CPU, (ceil(cpu_s), ceil(cpu_s) + 5))
            os.dup2(output.fileno(), 1)
            os.dup2(output.fileno(), 2)
            status = 70
            try:
                status = int(work())
            except BaseException:
                traceback.print_exc()
            finally:
                sys.stdout.flush()
                sys.stderr.flush()
                os._exit(status)
        ends, status = time.monotonic() + limit_s, None
        while time.monotonic() < ends:
            done, code = os.waitpid(child, os.WNOHANG)
            if done:
                status = os.waitstatus_to_exitcode(code)
                break
            time.sleep(0.02)
        else:
            with contextlib.suppress(ProcessLookupError):
                os.killpg(child, signal.SIGKILL)
            os.waitpid(child, 0)
        with contextlib.suppress(ProcessLookupError):
            os.killpg(child, signal.SIGKILL)  # what a test of a broken program left running
        output.seek(0)
        return status, output.read().decode(errors="replace")


PYTEST = (
    "-q",
    "-p",
    "no:cacheprovider",
    "-p",
    "no:xdist",
    "--hypothesis-seed=0",
    "-x",
    "--no-header",
    "--tb=line",
    "-W",
    "ignore::pytest.PytestAssertRewriteWarning",
)


def run_tests(tree: Path, tests: list[str], scratch: Path, *plugins: object, options: tuple[str, ...] = PYTEST) -> int:
    """Run these tests in the tree; call it in a child."""
    import pytest

    for name in [name for name in sys.modules if name.partition(".")[0] in ("tests", "receiving", "web")]:
        del sys.modules[name]  # those of the tree that this script is in
    os.chdir(tree)
    os.environ["TMPDIR"] = str(scratch)
    tempfile.tempdir = None
    sys.path[:] = [str(tree), *(p for p in sys.path if p not in ("", str(ROOT), str(Path(__file__).parent)))]
    return int(pytest.main([*options, f"--basetemp={scratch / 'pytest'}", *tests], plugins=list(plugins)))


def cpu_limit_s(limit_s: float) -> float:
    """A quarter of the time by the clock, in CPU seconds."""
    return limit_s / 4


class Limited:
    """A plugin of pytest: ends the process where one test loops or waits.

    That is ten times its CPU time and ten seconds more, for what is set up once for several tests, which the run that
    was noted counted with the first; or by the clock, which a busy machine slows, forty times that and a minute.
    """

    def __init__(self, took: dict[str, float]) -> None:
        self.took = took

    def pytest_runtest_logstart(self, nodeid: str) -> None:
        took = self.took.get(nodeid, 30.0)
        for each, name in ((signal.ITIMER_PROF, signal.SIGPROF), (signal.ITIMER_REAL, signal.SIGALRM)):
            signal.signal(name, signal.SIG_DFL)
            signal.setitimer(each, 10 + 10 * took if each == signal.ITIMER_PROF else 60 + 40 * took)

    def pytest_runtest_logfinish(self) -> None:
        for each in (signal.ITIMER_PROF, signal.ITIMER_REAL):
            signal.setitimer(each, 0)


class Batch:
    """A plugin of pytest: once the tests are collected, tries mutants of functions, each in a fork of this process."""

    def __init__(self, tree: Path, out: Path, wanted: list[tuple[Mutant, list[str], float]]) -> None:
        self.tree, self.out, self.wanted = tree, out, wanted
        self.failed = ""

    def pytest_runtest_logreport(self, report: object) -> None:
        if report.failed and not self.failed:
            self.failed = report.nodeid

    def pytest_runtestloop(self, session: object) -> bool:
        found = {item.nodeid: item for item in session.items}
        with self.out.open("w") as out:
            for mutant, names, limit_s in self.wanted:
                how = self.out.with_suffix(".how")
                how.unlink(missing_ok=True)
                chosen = [found[name] for name in names if name in found]
                work = functools.partial(self._try, session, chosen, mutant, how)
                status, _ = in_a_child(work, limit_s, cpu_limit_s(limit_s))
                reason = how.read_text() if how.exists() else ""
                outcome = {None: "killed", 0: "survived", NOT_PATCHED: "again"}.get(status, "killed")
                answer = (outcome, "time" if status is None else reason or f"status {status}")
                out.write(json.dumps(answer) + "\n")
                out.flush()
        return True

    def _try(self, session: object, items: list[object], mutant: Mutant, how: Path) -> int:
        from _pytest import main as pytest_main

        if not patched(self.tree, mutant):
            return NOT_PATCHED
        session.items = items
        session.testscollected = len(items)
        with contextlib.suppress(session.Failed, session.Interrupted):
            pytest_main.pytest_runtestloop(session)
        how.write_text(self.failed or f"{len(items)} tests")
        return 1 if self.failed else 0


NOT_PATCHED = 71


def patched(tree: Path, mutant: Mutant) -> bool:
    """Give the loaded function the mutant's code; False where there is no such function."""
    path = tree / mutant.path
    with contextlib.suppress(ImportError):
        importlib.import_module(mutant.path.removesuffix(".py").replace("/", "."))
    name, first = function_at(path, mutant.line)
    new = [
        code
        for code in code_objects(compile(mutant.applied(path.read_bytes()), str(path), "exec"))
        if code.co_qualname == name and code.co_firstlineno == first
    ]
    old = [
        each
        for each in gc.get_objects()
        if isinstance(each, types.FunctionType)
        and each.__code__.co_filename == str(path)
        and each.__code__.co_qualname == name
        and each.__code__.co_firstlineno == first
    ]
    if len(new) != 1 or not old:
        return False
    for function in old:
        function.__code__ = new[0]
    return True


class Laboratory:
    """A copy of the tree in which mutants of one room are tried."""

    def __init__(self, name: str, work: Path) -> None:
        self.name, self.room = name, ROOMS[name]
        self.tree, self.scratch = work / "tree", work / "scratch"
        shutil.rmtree(self.tree, ignore_errors=True)
        self.scratch.mkdir(parents=True, exist_ok=True)
        self.tree.mkdir(parents=True)
        for part in COPIED:
            source = ROOT / part
            if source.is_dir():
                shutil.copytree(source, self.tree / part, ignore=shutil.ignore_patterns("__pycache__", ".venv"))
            elif source.exists():
                shutil.copy2(source, self.tree / part)
        shared = ROOT.parent / "shared"
        if shared.exists() and not (work / "shared").exists():
            (work / "shared").symlink_to(shared.resolve())
        self.mutants = all_mutants(self.tree, self.room)

    def note(self) -> None:
        """Run the room's tests once: which of them execute which line."""
        tests = [test for test in self.room.tests if (self.tree / test).exists()]
        files = room_files(self.tree, self.room)
        out = self.scratch / "noted.json"

        def work() -> int:
            plugin = Noted(self.tree, files)
            plugin.start()
            options = tuple(each for each in PYTEST if each != "-x")
            options += tuple(f"--deselect={each}" for each in self.room.left_out)
            status = run_tests(self.tree, tests, self.scratch, plugin, options=options)
            out.write_text(json.dumps(plugin.result(self.tree)))
            return status

        out.unlink(missing_ok=True)
        status, output = in_a_child(work, 3600)
        if not out.exists() or status not in (0, 1):  # 1: some tests fail, and are left out
            raise SystemExit(f"{self.name}: the tests could not be run (status {status}):\n{output[-3000:]}")
        noted = json.loads(out.read_text())
        self.took: dict[str, float] = noted["took"]
        self.bad = set(noted["bad"])
        self.lines = {path: {int(n): names for n, names in by.items()} for path, by in noted["lines"].items()}
        print(
            f"{self.name}: {len(self.took)} tests in {sum(self.took.values()):.0f} s, {len(noted['bad'])} of them "
            f"failed or were skipped and are left out; {len(self.mutants)} mutants",
            flush=True,
        )

    def is_of_import(self, mutant: Mutant) -> bool:
        """True where the line is executed when the module is imported, also by a function that is called then."""
        path = self.tree / mutant.path
        if is_of_module(path, mutant.line):
            return True
        lines = self.lines.get(mutant.path, {})
        return any("" in lines.get(line, ()) for line in statement_at(path, mutant.line))

    def killers(self, mutant: Mutant, most_s: float = MOST_TESTS_S) -> list[str]:
        """The tests that execute the mutant's line, the quickest of each file in turn, no more than the limit."""
        if not self.room.in_process:
            return list(self.room.tests)
        lines = self.lines.get(mutant.path, {})
        if self.is_of_import(mutant):
            most_s = MOST_OF_IMPORT_S
            # Executed when it is first imported, and used by whoever uses the module, or looks at its tables.
            files = {name.partition("::")[0] for by in lines.values() for name in by if name}
            # Who looks at a limit alone executes no line of its module.
            files |= {file for name in self.took if imports(self.tree / (file := name.partition("::")[0]), mutant.path)}
            # Values and tables alone: no test executes a line, any of the room's may use them.
            names = {n for n in self.took if n not in self.bad and (not files or n.partition("::")[0] in files)}
        else:
            statement = statement_at(self.tree / mutant.path, mutant.line)
            names = {name for line in statement for name in lines.get(line, ())}
        chosen, total = [], 0.0
        for name in self._in_turn(names):
            total += self.took.get(name, 0.0)
            if chosen and total > most_s:
                break
            chosen.append(name)
        return chosen

    def _others(self, mutant: Mutant, tried: list[str]) -> list[str]:
        """Further tests for one that survived these."""
        return [name for name in self.killers(mutant, MOST_TESTS_S + MOST_AGAIN_S) if name not in set(tried)]

    def _in_turn(self, names: set[str]) -> list[str]:
        """The quickest test of each file, then the second of each: tests of one file look at the same."""
        by_file: dict[str, list[str]] = defaultdict(list)
        for name in sorted(names, key=lambda each: (self.took.get(each, 0.0), each)):
            by_file[name.partition("::")[0]].append(name)
        turns = [(turn, self.took.get(name, 0.0), name) for own in by_file.values() for turn, name in enumerate(own)]
        return [name for _, _, name in sorted(turns)]

    def try_all(self, mutants: list[Mutant]) -> Iterator[tuple[Mutant, str, str]]:
        """Each mutant with its outcome: those of functions from one collection of the tests, the others one by one."""
        tests = {mutant: self.killers(mutant) for mutant in mutants}
        batch = [m for m in mutants if self.room.in_process and tests[m] and not self.is_of_import(m)]
        answers = self._tried_together(batch, tests)
        left = [m for m in batch if answers.get(m, ("", ""))[0] == "survived"]
        more = {mutant: self._others(mutant, tests[mutant]) for mutant in left}
        answers |= self._tried_together([mutant for mutant in left if more[mutant]], more)
        for mutant in mutants:
            outcome, how = answers.get(mutant, ("again", ""))
            yield mutant, *(self.try_mutant(mutant) if outcome == "again" else (outcome, how))

    def _limit_s(self, tests: list[str]) -> float:
        return 60 + 40 * sum(self.took.get(test, 30.0) for test in tests)

    def _tried_together(self, mutants: list[Mutant], tests: dict[Mutant, list[str]]) -> dict[Mutant, tuple[str, str]]:
        wanted = [(mutant, tests[mutant], self._limit_s(tests[mutant])) for mutant in mutants]
        if not wanted:
            return {}
        out = self.scratch / "tried.jsonl"
        out.unlink(missing_ok=True)
        files = sorted({name.partition("::")[0] for _, names, _ in wanted for name in names})
        limit_s = 600 + sum(limit_s for _, _, limit_s in wanted)
        plugin = Batch(self.tree, out, wanted)
        status, output = in_a_child(
            lambda: run_tests(self.tree, files, self.scratch, plugin, Limited(self.took)), limit_s
        )
        answers = [tuple(json.loads(line)) for line in out.read_text().splitlines()] if out.exists() else []
        if len(answers) < len(wanted):
            print(f"{self.name}: {len(wanted) - len(answers)} are tried one by one (status {status}) {output[-300:]}")
        return dict(zip(mutants, answers, strict=False))

    def try_mutant(self, mutant: Mutant) -> tuple[str, str]:
        """``killed``, ``survived`` or ``not run``, and how."""
        tests = self.killers(mutant)
        if not tests:
            return "survived", "no test executes the line"
        path = self.tree / mutant.path
        source, before = path.read_bytes(), path.stat()
        path.write_bytes(mutant.applied(source))
        os.utime(path, (before.st_atime + 5000, before.st_mtime + 5000))  # no compiled file fits it
        try:
            sys.dont_write_bytecode = True
            limit_s = self._limit_s(tests)
            status, output = in_a_child(
                lambda: run_tests(self.tree, tests, self.scratch, Limited(self.took)), limit_s, cpu_limit_s(limit_s)
            )
        finally:
            path.write_bytes(source)
            os.utime(path, (before.st_atime, before.st_mtime))
        if status is None:
            return "killed", "time"
        if status == 0:
            return "survived", f"{len(tests)} tests"
        failed = [line for line in output.splitlines() if line.startswith(("FAILED", "ERROR"))]
        return "killed", failed[0][:160] if failed else f"status {status}"


def sample(mutants: list[Mutant], tree: Path, seed: int, number: int) -> Iterator[Mutant]:
    """A random sample without repetition of those that compile; ``number`` 0 takes all."""
    order = random.Random(seed).sample(mutants, len(mutants))
    right = (mutant for mutant in order if mutant.is_one((tree / mutant.path).read_bytes()))
    yield from islice(right, number or None)


def main() -> None:
    """Sample, run, tell."""
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    asked.add_argument("rooms", nargs="*")
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--sample", type=int, default=40, help="mutants a room; 0: all")
    asked.add_argument("--only", default="", help="mutants of files whose path holds this")
    asked.add_argument("--work", type=Path)
    asked.add_argument("--list", action="store_true")
    options = asked.parse_args()
    if options.list:
        for name, room in ROOMS.items():
            print(f"{name:10} {len(all_mutants(ROOT, room)):5} mutants of {', '.join(room.files)}")
        return
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
    sys.dont_write_bytecode = False  # the first run compiles what the others only load
    os.environ |= dict.fromkeys(("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"), "1")
    load_libraries()
    with contextlib.ExitStack() as stack:
        work = options.work or Path(stack.enter_context(tempfile.TemporaryDirectory()))
        table = [try_room(name, work / name, options) for name in options.rooms or ROOMS]
    print(f"\nseed {options.seed}\n| room | mutants tried | killed | survived | equivalent | killed of the others |")
    print("|---|---|---|---|---|---|")
    for name, counts in table:
        others = counts["killed"] + counts["survived"]
        print(
            f"| {name} | {sum(counts.values())} | {counts['killed']} | {counts['survived']} | "
            f"{counts['equivalent']} | {100 * counts['killed'] / max(1, others):.0f} % |"
        )


def try_room(name: str, work: Path, options: argparse.Namespace) -> tuple[str, dict[str, int]]:
    """Try a sample of one room's mutants and print those that survive."""
    began = time.monotonic()
    room = Laboratory(name, work)
    if room.room.in_process:
        room.note()
    else:
        room.took = {}
    counts = dict.fromkeys(("killed", "survived", "equivalent"), 0)
    with (work / f"results-{options.seed}.jsonl").open("a") as results:
        chosen = sample([m for m in room.mutants if options.only in m.path], room.tree, options.seed, options.sample)
        for mutant, outcome, how in room.try_all(list(chosen)):
            source = (room.tree / mutant.path).read_bytes()
            why = equivalent(mutant, source) if outcome == "survived" else ""
            counts["equivalent" if why else outcome] += 1
            was, now = mutant.lines(source)
            results.write(json.dumps({**asdict(mutant), "outcome": outcome, "how": how, "was": was, "now": now}) + "\n")
            results.flush()
            if outcome == "survived":
                verdict = f"  equivalent: {why}" if why else f"  SURVIVED ({how})"
                print(f"{mutant.path}:{mutant.line} {mutant.kind}{verdict}\n    - {was}\n    + {now}", flush=True)
    print(f"{name}: {counts}, {time.monotonic() - began:.0f} s", flush=True)
    return name, counts


if __name__ == "__main__":
    main()
