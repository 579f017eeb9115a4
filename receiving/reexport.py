"""Public names of a package, imported when first used, so that commands start fast.

A package's stub (``__init__.pyi``, PEP 484) is the one list of its public names: a type checker reads it, and so does
`reexport`, which gives the package its ``__getattr__`` (PEP 562).
"""

import ast
import functools
import sys
from collections.abc import Callable, Collection
from importlib import import_module
from pathlib import Path
from typing import Any


def reexport(room: str, *, at_first_call: Collection[str] = ()) -> tuple[Callable[[str], Any], list[str]]:
    """The ``__getattr__`` and the ``__all__`` of the package ``room``, by the stub beside its ``__init__.py``.

    Functions of the modules ``at_first_call``, which import a heavy library (reportlab, OpenCV), are handed on as
    stand-ins that import their module when they are first called. So a module imports its library at its top, and its
    callers import the function at theirs. No name may be called like its module: importing the module would put it in
    the name's place.
    """
    folder = Path(str(sys.modules[room].__file__)).parent
    homes = _read_stub(folder / "__init__.pyi")
    if hidden := sorted(set(homes) & {path.stem for path in folder.glob("*.py")}):
        raise ValueError(f"{room}: {hidden[0]} is a name and a module; rename the module")
    late = {f"{room}.{module}" for module in at_first_call}

    def public_name(name: str) -> Any:
        if name not in homes:
            raise AttributeError(f"module {room!r} has no attribute {name!r}")
        home = homes[name]
        is_late = home in late and name[0].islower()  # classes are wanted whole
        value = _stand_in(room, home, name) if is_late else getattr(import_module(home), name)
        setattr(sys.modules[room], name, value)  # found there from now on
        return value

    return public_name, sorted(homes)


def _read_stub(path: Path) -> dict[str, str]:
    """By public name: its module."""
    tree = ast.parse(path.read_text(encoding="utf-8"), str(path))
    imports = (node for node in tree.body if isinstance(node, ast.ImportFrom) and node.module)
    return {alias.name: str(node.module) for node in imports for alias in node.names}


@functools.cache  # one stand-in a function: a worker process finds it by its name and compares it
def _stand_in(room: str, home: str, name: str) -> Callable[..., Any]:
    def stand_in(*args: Any, **named: Any) -> Any:
        return getattr(import_module(home), name)(*args, **named)

    stand_in.__module__, stand_in.__name__, stand_in.__qualname__ = room, name, name
    stand_in.home = home  # type: ignore[attr-defined]  # where its docstring is
    return stand_in
