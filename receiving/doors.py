"""A room's door that opens only when used: names are imported at first use, so that commands start fast."""

import importlib
from collections.abc import Callable, Mapping
from typing import Any


def hand_on(room: str, homes: Mapping[str, str]) -> Callable[[str], Any]:
    """The module ``__getattr__`` (PEP 562) for ``room``: each public name comes from its home module at first use.

    No name may be called like its home: importing the home would put the module in the name's place.
    """
    hidden = [name for name, home in homes.items() if name == home]
    if hidden:
        raise ValueError(f"{room}: {hidden[0]} is a name and a module; rename the module")

    def __getattr__(name: str) -> Any:  # noqa: N807
        if name not in homes:
            raise AttributeError(f"module {room!r} has no attribute {name!r}")
        return getattr(importlib.import_module(f"{room}.{homes[name]}"), name)

    return __getattr__
