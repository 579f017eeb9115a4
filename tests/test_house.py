"""The laws of the house, held against the code's own imports."""

import ast
import re
import subprocess
import sys
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

from tests.use_cases import use_cases_of_views, writes_outside_transactions

PROJECT = Path(__file__).resolve().parent.parent
MODULES = sorted([*PROJECT.glob("receiving/**/*.py"), *PROJECT.glob("web/**/*.py")])

ROOMS = ("expected", "reading", "matching", "staging", "closing")
PURE = ("model", "matching", "staging", "dispatch")
NAMES_OF_REASONS = ("receiving.reexport", "receiving.matching")
"""Words are made of reasons, and a room's reasons stand in the room."""
IMPURE_LIBRARIES = frozenset(
    (
        "asyncio",
        "cv2",
        "flask",
        "glob",
        "http",
        "io",
        "multiprocessing",
        "openpyxl",
        "os",
        "pathlib",
        "pickle",
        "PIL",
        "pi_heif",
        "pydifact",
        "pyx12",
        "pyzbar",
        "reportlab",
        "secrets",
        "shutil",
        "signal",
        "socket",
        "sqlite3",
        "sqlite_utils",
        "subprocess",
        "sys",
        "tempfile",
        "threading",
        "time",
        "urllib",
        "uuid",
        "waitress",
        "zxingcpp",
    )
)
EDGES = {
    "prometheus_client": ("web.manners",),
    "cryptography": ("receiving.closing.record", "web.certificates"),
    "argon2": ("receiving.service.signing_in",),
    "arabic_reshaper": ("receiving.closing.writing",),
    "babel": ("receiving.language",),
    "bidi": ("receiving.closing.writing",),
    "biip": ("receiving.reading",),
    "cv2": ("receiving.reading",),
    "flask": ("web",),
    "openpyxl": ("receiving.expected", "receiving.sheets"),
    "pydifact": (),
    "pyx12": (),
    "pyzbar": ("receiving.reading.decoders",),
    "reportlab": ("receiving.closing",),
    "sqlite3": ("receiving.store", "receiving.commands.doctor"),
    "sqlite_utils": ("receiving.store",),
    "waitress": ("web",),
    "zxingcpp": ("receiving.reading", "receiving.closing"),
}

IMPORTED_WHEN_NEEDED = {
    "receiving.__main__": {"receiving": "sets up the environment before anything of it is imported"},
    "receiving.commands.doctor": {
        "receiving": "says what is wrong with the data, where the libraries for it are missing too",
        "receiving.commands.data_folder": "as above",
    },
    "receiving.commands.test": {"pytest": "is there for tests alone"},
    "receiving.dispatch.options": {"scipy.stats": "0.4 s, for an interval that is shown"},
    "receiving.dispatch.swaps": {
        "scipy.optimize": "0.4 s, and few programmes have cartons to swap",
        "scipy.sparse": "as above",
        "numpy": "as above",
    },
    "receiving.expected.table_files": {"openpyxl": "0.2 s, for workbooks alone"},
    "receiving.matching.allocation": {
        "scipy.optimize": "0.4 s, where stock for several positions has to be shared out",
        "scipy.sparse": "as above",
        "numpy": "as above",
    },
    "receiving.matching.assignment": {
        "scipy.optimize": "0.4 s, where several labels want one carton",
        "numpy": "as above",
    },
    "receiving.reading.decoders": {"pyzbar": "fails to import where the library zbar is not installed"},
    "receiving.reading.gs1": {
        "biip": "0.1 s, for element strings alone",
        "biip.gs1_application_identifiers": "as above",
    },
    "receiving.reading.image": {"pi_heif": "for HEIF photos alone"},
    "receiving.reading.pool": {
        "cv2": "belongs to a reader's own process",
        "receiving.reading.photo": "as above",
        "receiving.reading.guided.reader": "as above",
    },
    "receiving.reading.printed": {"rapidocr": "is optional"},
    "receiving.service.company_sign_on": {
        "authlib.oauth2.rfc7636": "0.2 s, where a company signs its people on",
        "authlib.oidc.discovery": "as above",
        "authlib.oidc.core": "as above",
        "joserfc": "as above",
        "joserfc.errors": "as above",
        "joserfc.jwk": "as above",
    },
    "receiving.service.stores": {"holidays": "65 ms, where a store's country is known"},
    "receiving.setup": {
        "venv": "only where an environment is made",
        "ctypes.util": "as above",
        "fcntl": "is there on POSIX alone",
    },
    "receiving.sheets": {
        "openpyxl": "0.2 s, for workbooks alone",
        "openpyxl.cell": "as above",
        "openpyxl.styles": "as above",
    },
    "receiving.staging.bounds": {"numpy": "0.1 s, for the bound of space"},
    "receiving.staging.constraints": {"ortools.sat.python": "is large, for the longer search alone"},
    "receiving.staging.trips": {"receiving.staging.by_weight": "brings scipy, where weight fills the carts"},
    "receiving.store.connection": {
        "receiving.store.schema": "brings sqlite-utils, 0.3 s, which commands without data do not need",
        "receiving.store.library": "as above",
    },
    "receiving.workers": {"resource": "is there on POSIX alone"},
    "web.serve": {"resource": "is there on POSIX alone"},
    "web.tls": {"fcntl": "is there on POSIX alone"},
    "web.units": {"web.frame": "the frame draws pages, and they show measures"},
}
"""What is imported inside a function, and why: everything else stands at the top, where a reader sees who calls whom.

A room hands on functions with a heavy library by `reexport(…, at_first_call=…)`. Times are CPU time of the import.
"""


def name_of(path: Path) -> str:
    parts = list(path.relative_to(PROJECT).with_suffix("").parts)
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


@cache
def nodes_of(path: Path) -> tuple[ast.AST, ...]:
    return tuple(ast.walk(ast.parse(path.read_text())))


@cache
def imports_of(path: Path) -> tuple[str, ...]:
    return tuple(_imports_of(path))


def _imports_of(path: Path) -> Iterator[str]:
    package = name_of(path) if path.stem == "__init__" else name_of(path).rpartition(".")[0]
    for node in nodes_of(path):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            base = ".".join(package.split(".")[: len(package.split(".")) - node.level + 1]) if node.level else ""
            source = ".".join(part for part in (base, node.module or "") if part)
            yield source
            yield from (f"{source}.{alias.name}" for alias in node.names)


def within(name: str, *packages: str) -> bool:
    return any(name == package or name.startswith(f"{package}.") for package in packages)


def broken(rule: str, path: Path, imported: str) -> str:
    return f"{path.relative_to(PROJECT)} imports {imported}: {rule}"


def test_pure_rooms_import_no_file_clock_network_or_image_library() -> None:
    faults = [
        broken("this room is pure", path, imported)
        for path in MODULES
        if within(name_of(path), *(f"receiving.{room}" for room in PURE))
        for imported in imports_of(path)
        if imported.split(".")[0] in IMPURE_LIBRARIES
    ]
    assert not faults, "\n".join(faults)


def test_pure_rooms_ask_no_clock() -> None:
    asked = {"now", "utcnow", "today"}
    faults = [
        f"{path.relative_to(PROJECT)}:{node.lineno} asks the clock"
        for path in MODULES
        if within(name_of(path), *(f"receiving.{room}" for room in PURE))
        for node in nodes_of(path)
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr in asked
    ]
    assert not faults, "\n".join(faults)


def test_pure_rooms_draw_only_from_generators_with_a_stated_seed() -> None:
    """``from random import Random`` and ``Random(seed)``: the same input gives the same answer, on every machine."""
    faults = []
    for path in MODULES:
        if not within(name_of(path), *(f"receiving.{room}" for room in PURE)):
            continue
        faults += [
            f"{path.relative_to(PROJECT)} imports {imported}: only random.Random"
            for imported in imports_of(path)
            if within(imported, "random") and imported not in ("random", "random.Random")
        ]
        for node in nodes_of(path):
            if isinstance(node, ast.Import) and any(alias.name == "random" for alias in node.names):
                faults.append(f"{path.relative_to(PROJECT)} imports random itself: its functions have no stated seed")
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "Random":
                seeded = node.args and not (isinstance(node.args[0], ast.Constant) and node.args[0].value is None)
                if not seeded:
                    faults.append(f"{path.relative_to(PROJECT)}:{node.lineno} draws without a stated seed")
    assert not faults, "\n".join(faults)


def test_pure_rooms_keep_no_generator_of_their_own() -> None:
    """Whoever needs numbers that look random takes `random.Random`: a known generator, tested by others."""
    recurrences = {1103515245, 1664525, 22695477, 69069, 214013, 6364136223846793005}
    faults = [
        f"{path.relative_to(PROJECT)}:{node.lineno} is a generator of our own"
        for path in MODULES
        for node in nodes_of(path)
        if isinstance(node, ast.Constant) and node.value in recurrences
    ]
    assert not faults, "\n".join(faults)


def test_rooms_do_not_import_each_other() -> None:
    faults = [
        broken("rooms meet in the service alone", path, imported)
        for room in ROOMS
        for path in MODULES
        if within(name_of(path), f"receiving.{room}")
        for imported in imports_of(path)
        if within(imported, *(f"receiving.{other}" for other in ROOMS if other != room))
    ]
    assert not faults, "\n".join(faults)


def test_arrows_point_from_the_web_to_the_model() -> None:
    inner = {
        "receiving.model": ("receiving.model", "receiving.messages"),
        "receiving.errors": ("receiving.errors", "receiving.messages"),
        "receiving.messages": ("receiving.messages",),
        "receiving.language": ("receiving.language", "receiving.messages", "receiving.errors", "receiving.reexport"),
        "receiving.wording": ("receiving.wording", "receiving.messages", "receiving.model", *NAMES_OF_REASONS),
        "receiving.dispatch": ("receiving.dispatch", "receiving.model", "receiving.errors", "receiving.messages"),
        "receiving.workers": ("receiving.workers", "receiving.errors", "receiving.messages", "receiving.workers"),
        "receiving.store": ("receiving.store", "receiving.model", "receiving.errors", "receiving.messages"),
        **{
            f"receiving.{room}": (
                f"receiving.{room}",
                "receiving.model",
                "receiving.errors",
                "receiving.reexport",
                "receiving.messages",
                "receiving.sheets",
                "receiving.workers",
                *(("receiving.wording",) if room == "closing" else ()),  # papers are read by people
            )
            for room in ROOMS
        },
        "web": (
            "web",
            "receiving.service",
            "receiving.model",
            "receiving.errors",
            "receiving.dispatch",
            "receiving.language",
            "receiving.messages",
            "receiving.wording",
        ),
    }
    faults = [
        broken(f"only {', '.join(allowed)} may be used there", path, imported)
        for package, allowed in inner.items()
        for path in MODULES
        if within(name_of(path), package)
        for imported in imports_of(path)
        if within(imported, "receiving", "web") and imported != "receiving" and not within(imported, *allowed)
    ]
    assert not faults, "\n".join(faults)


def test_the_domain_knows_nothing_of_the_web() -> None:
    starts_it = ("receiving.commands.serve",)
    faults = [
        broken("only the commands that serve may", path, imported)
        for path in MODULES
        if within(name_of(path), "receiving") and name_of(path) not in starts_it
        for imported in imports_of(path)
        if within(imported, "web", "flask", "waitress")
    ]
    assert not faults, "\n".join(faults)


@pytest.mark.parametrize("library", sorted(EDGES))
def test_a_vendor_library_is_called_at_its_edge_alone(library: str) -> None:
    faults = [
        broken(f"{library} belongs to {', '.join(EDGES[library])}", path, imported)
        for path in MODULES
        if not within(name_of(path), *EDGES[library])
        for imported in imports_of(path)
        if within(imported, library)
    ]
    assert not faults, "\n".join(faults)


def imported_inside_functions(path: Path) -> set[str]:
    functions = (node for node in nodes_of(path) if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef))
    imports = [node for function in functions for node in ast.walk(function)]
    named = {
        alias.name.removesuffix(".pyzbar") for node in imports if isinstance(node, ast.Import) for alias in node.names
    }
    return named | {node.module or "" for node in imports if isinstance(node, ast.ImportFrom)}


def test_imports_stand_at_the_top_but_for_those_with_a_reason() -> None:
    found = {name_of(path): imported for path in MODULES if (imported := imported_inside_functions(path))}
    allowed = {module: set(reasons) for module, reasons in IMPORTED_WHEN_NEEDED.items()}
    assert found == allowed


def test_every_csv_that_leaves_is_written_in_one_place() -> None:
    writers = [
        name_of(path)
        for path in MODULES
        for node in nodes_of(path)
        if isinstance(node, ast.Attribute) and ast.unparse(node) in ("csv.writer", "csv.DictWriter")
    ]
    assert writers == ["receiving.sheets"]


BESIDE_THE_USE_CASE = {
    "run_once": "does what follows once, however often it is sent",
    "get_version": "the validator of a conditional request (RFC 9110, 13.1): a page is made where it changed",
    "get_list_version": "as above",
    "find_manager_by_pin": "says who confirms; a wrong PIN counts though all that follows is undone",
}
SHOWN_ONCE = {
    "web.people.add": {"add_account", "list_people"},
    "web.people.change": {"reset_password", "list_people"},
    "web.people.make_link": {"make_link", "list_links"},
    "web.tokens.make": {"make_api_token", "list_api_tokens"},
    "web.webhooks.make": {"make_webhook", "get_webhooks_view"},
    "web.webhooks.change_secret": {"rotate_webhook_secret", "get_webhooks_view"},
}
"""Views that show a secret this once, above the list that it belongs to."""


def test_a_view_calls_one_use_case() -> None:
    found = {
        view: [call for call in calls if call not in BESIDE_THE_USE_CASE]
        for view, calls in use_cases_of_views(PROJECT / "web").items()
    }
    several = {view: calls for view, calls in found.items() if len(calls) > 1}
    assert {view: set(calls) for view, calls in several.items()} == SHOWN_ONCE
    assert all(len(calls) == 2 for calls in several.values())
    assert sum(len(calls) == 1 for calls in found.values()) > 100  # nearly all ask for something


def test_what_counts_the_use_cases_of_a_view_sees_ways_and_functions_that_are_handed_on(tmp_path: Path) -> None:
    (tmp_path / "web").mkdir()
    (tmp_path / "web" / "app.py").write_text(
        "from functools import partial\n"
        "def shown(a):\n    return service.shown(ctx(), a)\n"
        "@pages.get('/either')\ndef either(a):\n"
        "    if a:\n        return service.one(ctx())\n    return service.two(ctx())\n"
        "@pages.get('/both')\ndef both(a):\n    x = service.one(ctx())\n    return render(partial(shown, x))\n"
        "@pages.get('/inner')\ndef inner(shown):\n"
        "    def part():\n        return service.one(ctx(), shown)\n    return render(part, shown)\n"
        "@pages.post('/refused')\ndef refused(a):\n    try:\n        service.one(ctx())\n"
        "    except Conflict:\n        return shown(a)\n    return service.label_words()\n"
    )
    found = use_cases_of_views(tmp_path / "web")
    assert {view.removeprefix("web.app."): len(calls) for view, calls in found.items()} == {
        "either": 1,
        "both": 2,
        "inner": 1,
        "refused": 1,
    }


def test_every_use_case_writes_in_a_transaction() -> None:
    """Rows of lists alone are stored without: they follow from what is stored, and name the state they were made of."""
    found = writes_outside_transactions(PROJECT / "receiving")
    assert {each.split(".")[0] for each in found} == {"list_pages"}, found


def test_what_looks_for_writes_outside_transactions_finds_them(tmp_path: Path) -> None:
    for folder in ("store", "service"):
        (tmp_path / folder).mkdir()
    (tmp_path / "store" / "rows.py").write_text(
        "class Rows:\n    def add(self):\n        self._insert(1)\n    def rows(self):\n        return 1\n"
    )
    (tmp_path / "service" / "cases.py").write_text(
        "def bare(ctx):\n    with ctx.store() as store:\n        if store.rows():\n            store.add()\n"
        "def whole(ctx):\n    with ctx.transaction() as store:\n        store.add()\n"
        "def _inner(store):\n    store.add()\n"
        "def around(ctx):\n    with ctx.store() as store:\n        _inner(store)\n"
        "def safe(ctx):\n    with ctx.store() as store, ctx.transaction():\n        _inner(store)\n"
    )
    assert writes_outside_transactions(tmp_path) == ["cases.bare: add", "cases.around: _inner"]


def test_sql_is_in_the_store_alone() -> None:
    verbs = ("SELECT ", "INSERT ", "UPDATE ", "DELETE FROM ", "CREATE TABLE ", "PRAGMA ")
    faults = [
        f"{path.relative_to(PROJECT)}:{node.lineno}: {node.value[:40]!r}"
        for path in MODULES
        if not within(name_of(path), "receiving.store")
        for node in nodes_of(path)
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and node.value.startswith(verbs)
    ]
    assert not faults, "\n".join(faults)


def test_no_module_is_a_drawer_for_everything_and_none_is_too_long() -> None:
    drawers = [path for path in MODULES if {"utils", "helpers", "misc", "common"} & set(path.stem.split("_"))]
    assert not drawers
    # A room's public API is a list of names, which is as long as the room has names.
    with_logic = [path for path in MODULES if path.name != "__init__.py"]
    long = {str(p.relative_to(PROJECT)): n for p in with_logic if (n := len(p.read_text().splitlines())) > 500}
    assert not long


def test_commands_start_without_heavy_libraries() -> None:
    heavy = (
        "babel",
        "cv2",
        "numpy",
        "PIL",
        "zxingcpp",
        "scipy",
        "biip",
        "flask",
        "openpyxl",
        "reportlab",
        "sqlite_utils",
    )
    code = f"import receiving.cli, sys; print([m for m in {(*heavy, 'sqlite_utils')!r} if m in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=PROJECT)
    assert done.stdout.strip() == "[]"


def test_importing_the_service_loads_none_of_its_modules() -> None:
    code = "import receiving.service, sys; print([m for m in sys.modules if m.startswith(('receiving.', 'web'))])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=PROJECT)
    assert done.stdout.strip() == "['receiving.reexport', 'receiving.service']"


def test_importing_a_room_loads_no_heavy_library() -> None:
    heavy = ("cv2", "PIL", "zxingcpp", "scipy", "biip", "openpyxl", "reportlab", "pyx12", "pydifact")
    rooms = ", ".join(f"receiving.{room}" for room in ROOMS)
    code = f"import {rooms}, sys; print([m for m in {heavy!r} if m in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=PROJECT)
    assert done.stdout.strip() == "[]"


VERBS = """
add answer apply await back can change check close come confirm decide draft draw end erase expect find finish get group
has import is issue keep learn leave list load make may name needs offer open preview propose prune qr read refuse
remove reset resolve restore resume revise revoke rotate run save search sees select send set show sign take try verify
void wait withdraw work write
"""
"""What the name of a use case begins with. ``qr`` stands for what it makes; ``has``, ``is``, ``can``,
``may``, ``sees`` and ``needs`` answer yes or no."""
HANDED_ON_BY_THEIR_NOUN = {
    "aisle_before": "of staging: the aisle in front of a bay, asked of values",
    "notes_in_force": "of model: a question to values, not a use case",
}


def test_use_cases_are_verbs_and_words_of_facts_end_in_words() -> None:
    tree = ast.parse((PROJECT / "receiving/service/__init__.pyi").read_text())
    names = [alias.name for n in ast.walk(tree) if isinstance(n, ast.ImportFrom) for alias in n.names]
    functions = [str(name) for name in names if str(name)[:1].islower()]
    assert len(functions) > 200
    nouns = {n for n in functions if n.split("_")[0] not in VERBS.split() and not n.endswith("_words")}
    assert nouns == set(HANDED_ON_BY_THEIR_NOUN)


VERBS_OF_OTHER_ROOMS = """
clear compare copy count forget limit load log note notify record refresh register remember say serve store use warm
"""
"""With `VERBS`, what a function that gives nothing back is called by, in all rooms and in the web."""
PARTICIPLES_WITH_A_REASON = {
    "receiving/messages.py: joined": "a message as `plural` and `listing` are: named by what it is in a sentence",
    "web/replacement.py: issued": "a view, whose name is that of its page in links",
}
MIGRATION = re.compile(r"m\d{3}_")


def test_functions_are_verbs_or_named_by_what_they_give() -> None:
    verbs = {*VERBS.split(), *VERBS_OF_OTHER_ROOMS.split()}
    participles, nouns = set(), set()
    for path in MODULES:
        for node in ast.parse(path.read_text()).body:
            if not isinstance(node, ast.FunctionDef) or node.name.startswith("_"):
                continue
            first, _, rest = node.name.partition("_")
            gives_nothing = node.returns is not None and ast.unparse(node.returns) == "None"
            if not rest and first.endswith("ed"):
                participles.add(f"{path.relative_to(PROJECT)}: {node.name}")
            if gives_nothing and first not in verbs and not MIGRATION.match(node.name):
                nouns.add(f"{path.relative_to(PROJECT)}: {node.name}")
    assert participles == set(PARTICIPLES_WITH_A_REASON)
    assert not nouns


WORDS_OF_OUR_OWN = frozenset(
    (
        "dearer", "desk", "door", "doors", "foreign", "noting", "pile", "piles", "revising", "said", "seeing", "settle",
        "settled", "standing", "stood", "stray", "strays", "told", "unexplained", "unsettled", "viewing", "visitor",
    )
)  # fmt: skip
"""Words for which computing or the trade has a name: what to say instead is in docs/glossary.md."""
THEIR_REASONS = {
    "receiving/model/closing.py: said": "a field of a sealed receipt: what is stored keeps its name",
    "web/api_types.py: settled": "a key of an answer to programs: they rely on it",
}
WORD_IN_A_NAME = re.compile("[A-Z]+(?![a-z])|[A-Z]?[a-z]+")


def names_that_others_read(path: Path) -> Iterator[str]:
    """The names of a module, and of its classes, functions, parameters, constants and fields."""
    yield path.stem
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.FunctionDef | ast.ClassDef):
            yield node.name
        elif isinstance(node, ast.arg):
            yield node.arg
        elif isinstance(node, ast.Name) and isinstance(node.ctx, ast.Store):
            yield node.id
        elif isinstance(node, ast.Attribute) and isinstance(node.ctx, ast.Store):
            yield node.attr


def test_names_are_the_terms_of_the_field() -> None:
    found = set()
    for path in MODULES:
        for name in names_that_others_read(path):
            if WORDS_OF_OUR_OWN & {word.lower() for word in WORD_IN_A_NAME.findall(name)}:
                found.add(f"{path.relative_to(PROJECT)}: {name}")
    assert found == set(THEIR_REASONS)


SHOWN_IN_PHOTOS = frozenset(("pile", "piles"))
"""The benches and the pages' tests photograph a pile of cartons: there it is the thing itself, no term of staging."""


def test_names_of_tests_and_of_their_values_are_the_terms_of_the_field_too() -> None:
    found = set()
    for path in [*(PROJECT / "tests").rglob("*.py"), *(PROJECT / "docs").rglob("*.py")]:
        for name in names_that_others_read(path):
            words = {word.lower() for word in WORD_IN_A_NAME.findall(name)}
            sentence = name.startswith("test_") and name != path.stem
            if (WORDS_OF_OUR_OWN - SHOWN_IN_PHOTOS) & words and not sentence:
                found.add(f"{path.relative_to(PROJECT)}: {name}")
    assert not found


PHRASES_OF_OUR_OWN = re.compile(
    r"\b(dearer|worked off|so many|unexplained share"
    r"|sign by sign|hidden signs?|slips? of the keys?|(?:stays?|still) proved|shown this once|shipped (?:patterns|ones)"
    r"|of like (?:shape|size)|stands nowhere|the print around|(?:floor|aisle|stacks?) before [a-z]+ bay"
    r"|(?:it|he|she|this|that|which|what) is no (?!longer|more|less|other)[a-z]+)\b",
    re.IGNORECASE,
)
"""What a reader would stumble over in prose: docs/glossary.md has what to say instead."""


def test_prose_is_in_the_terms_of_the_field() -> None:
    kinds = ("py", "pyi", "html", "js", "css", "md")
    rooms = ("receiving", "web", "tests", "docs")
    paths = [path for room in rooms for kind in kinds for path in (PROJECT / room).rglob(f"*.{kind}")]
    paths += PROJECT.glob("*.md")
    assert len(paths) > 500
    own = (Path(__file__).resolve(), PROJECT / "docs" / "glossary.md", PROJECT / "CHANGELOG.md")
    found = {
        f"{path.relative_to(PROJECT)}: {match.group()}"
        for path in paths
        if path not in own
        for match in PHRASES_OF_OUR_OWN.finditer(path.read_text())
    }
    assert not found
