"""Write the reference of the rooms from their docstrings: what each room is for, and every public name of it.

    python docs/make_reference.py --out reference.md

It is made when it is wanted and not kept, so that it is never older than the code. Words are explained in glossary.md.
"""

import argparse
import inspect
import sys
from collections.abc import Iterator
from importlib import import_module
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
ROOMS = (
    *("model", "expected", "reading", "matching", "staging", "closing", "dispatch"),
    *("wording", "language", "store", "service"),
)


def reference() -> str:
    """The whole reference as Markdown."""
    return "\n".join(["# Reference", "", "Words of the trade: [glossary.md](glossary.md).", *map(_room, ROOMS)]) + "\n"


def _room(name: str) -> str:
    module = import_module(f"receiving.{name}")
    names = sorted(getattr(module, "__all__", ()), key=str.lower)
    return "\n".join(["", f"## receiving.{name}", "", inspect.getdoc(module) or "", "", *_entries(module, names)])


def _entries(module: object, names: list[str]) -> Iterator[str]:
    for name in names:
        value = at_home(getattr(module, name))
        if inspect.isclass(value) or inspect.isroutine(value):
            yield f"- `{name}{_signature(value)}`: {first_sentence(value)}"
        else:
            yield f"- `{name}`: a constant of type {type(value).__name__}."


def at_home(value: object) -> object:
    """The function that a stand-in of `receiving.reexport` stands for, which has the signature and the docstring."""
    home = getattr(value, "home", None)
    return getattr(import_module(home), value.__name__) if isinstance(home, str) else value  # type: ignore[attr-defined]


def _signature(value: object) -> str:
    if inspect.isclass(value):
        return ""
    try:
        return str(inspect.signature(value))  # type: ignore[arg-type]
    except ValueError:
        return "(…)"


def first_sentence(value: object) -> str:
    """The first paragraph of the docstring on one line; empty where there is none, or only one made by a library."""
    text = inspect.getdoc(value) or ""
    return " ".join(text.split("\n\n", 1)[0].split())


def main() -> None:
    """Write the file that was named."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--out", type=Path, required=True, help="the Markdown file to write")
    parser.parse_args().out.write_text(reference(), encoding="utf-8")


if __name__ == "__main__":
    main()
