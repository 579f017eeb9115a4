"""A template that is filled later gets every value that it names: what is missing would be a fault when it is said."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
VALUE = re.compile(r"{(\w+)")


def templates_in(node: ast.AST) -> set[str]:
    """The names of the values in all templates that are made within this part of a module."""
    calls = [n for n in ast.walk(node) if isinstance(n, ast.Call) and ast.unparse(n.func) in ("message", "plural")]
    texts = [a.value for call in calls for a in call.args if isinstance(a, ast.Constant) and isinstance(a.value, str)]
    return {name for text in texts for name in VALUE.findall(text)}


def filled_tables(tree: ast.Module) -> Iterator[tuple[str, set[str], set[str]]]:
    """Each table of templates that is filled by a key, with the values that its templates name and what it is given."""
    tables = {
        target.id: statement.value
        for statement in tree.body
        if isinstance(statement, ast.Assign | ast.AnnAssign) and statement.value
        for target in (statement.targets if isinstance(statement, ast.Assign) else [statement.target])
        if isinstance(target, ast.Name)
    }
    for call in ast.walk(tree):
        if not (isinstance(call, ast.Call) and isinstance(call.func, ast.Attribute) and call.func.attr == "filled"):
            continue
        of = call.func.value
        if isinstance(of, ast.Subscript) and isinstance(of.value, ast.Name) and of.value.id in tables:
            given = {word.arg for word in call.keywords if word.arg}
            yield of.value.id, templates_in(tables[of.value.id]), given


def test_every_table_of_templates_is_given_all_that_its_templates_name() -> None:
    found = [
        (path.name, *table)
        for path in sorted((ROOT / "receiving").rglob("*.py"))
        for table in filled_tables(ast.parse(path.read_bytes()))
    ]
    assert len(found) >= 5, "the tables are found"
    assert [(path, table, named - given) for path, table, named, given in found if named - given] == []


def test_what_is_not_given_is_found() -> None:
    source = 'T = {1: message("{a} and {b}")}\ndef f():\n    return T[1].filled(a=1, c=2)\n'
    assert list(filled_tables(ast.parse(source))) == [("T", {"a", "b"}, {"a", "c"})]
