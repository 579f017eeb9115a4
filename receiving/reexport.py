"""Public names of a package, imported when first used, so that commands start fast."""

import functools
from collections.abc import Callable, Mapping
from importlib import import_module
from typing import Any


def reexport(
    room: str, homes: Mapping[str, tuple[str, ...]], *, at_first_call: Mapping[str, tuple[str, ...]] | None = None
) -> Callable[[str], Any]:
    """The module ``__getattr__`` (PEP 562) for ``room``; ``homes`` gives each home module the names it hands on.

    ``at_first_call`` does the same for functions whose home imports a heavy library (reportlab, OpenCV): whoever
    imports such a function gets a stand-in, which imports the home when it is first called. So the home imports its
    library at its top, and its callers import the function at theirs. No name may be called like its home: importing
    the home would put the module in the name's place.
    """
    late = at_first_call or {}
    home_of = {name: home for home, names in homes.items() for name in names}
    late_home_of = {name: home for home, names in late.items() for name in names}
    hidden = sorted({*home_of, *late_home_of} & {*homes, *late})
    if hidden:
        raise ValueError(f"{room}: {hidden[0]} is a name and a module; rename the module")

    def public_name(name: str) -> Any:
        if name in late_home_of:
            return _stand_in(room, late_home_of[name], name)
        if name not in home_of:
            raise AttributeError(f"module {room!r} has no attribute {name!r}")
        return getattr(import_module(f"{room}.{home_of[name]}"), name)

    return public_name


@functools.cache  # one stand-in a function: a worker process finds it by its name and compares it
def _stand_in(room: str, home: str, name: str) -> Callable[..., Any]:
    def stand_in(*args: Any, **named: Any) -> Any:
        return getattr(import_module(f"{room}.{home}"), name)(*args, **named)

    stand_in.__module__, stand_in.__name__, stand_in.__qualname__ = room, name, name
    stand_in.home = f"{room}.{home}"  # type: ignore[attr-defined]  # where its docstring is
    return stand_in
