"""Public names of a package, imported when first used, so that commands start fast."""

from collections.abc import Callable, Mapping
from importlib import import_module
from typing import Any


def reexport(room: str, homes: Mapping[str, tuple[str, ...]]) -> Callable[[str], Any]:
    """The module ``__getattr__`` (PEP 562) for ``room``; ``homes`` gives each home module the names it hands on.

    No name may be called like its home: importing the home would put the module in the name's place.
    """
    home_of = {name: home for home, names in homes.items() for name in names}
    hidden = sorted(set(home_of) & set(homes))
    if hidden:
        raise ValueError(f"{room}: {hidden[0]} is a name and a module; rename the module")

    def open_door(name: str) -> Any:
        if name not in home_of:
            raise AttributeError(f"module {room!r} has no attribute {name!r}")
        return getattr(import_module(f"{room}.{home_of[name]}"), name)

    return open_door
