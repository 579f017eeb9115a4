"""The mutants of a Python file: one small change each, found in its syntax tree and made in its text."""

import ast
import codecs
import contextlib
import types
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True)
class Mutant:
    """A change of one place: bytes ``start`` to ``end`` of the file become ``text``."""

    path: str
    line: int
    kind: str
    start: int
    end: int
    text: str

    def applied(self, source: bytes) -> bytes:
        """The file with this change."""
        return source[: self.start] + self.text.encode() + source[self.end :]

    def lines(self, source: bytes) -> tuple[str, str]:
        """The changed lines as they were and as they are, for a person to read."""
        first = source.rfind(b"\n", 0, self.start) + 1
        last = source.find(b"\n", self.end)
        parts = (source[first:last], source[first : self.start] + self.text.encode() + source[self.end : last])
        was, now = ("\n".join(line.strip() for line in part.decode().splitlines()) for part in parts)
        return was, now

    def is_one(self, source: bytes) -> bool:
        """True where it compiles and changes the program."""
        try:
            return ast.dump(ast.parse(self.applied(source))) != ast.dump(ast.parse(source))
        except SyntaxError:
            return False


COMPARED = {
    ast.Lt: ("<", ("<=", ">=")),
    ast.LtE: ("<=", ("<", ">")),
    ast.Gt: (">", (">=", "<=")),
    ast.GtE: (">=", (">", "<")),
    ast.Eq: ("==", ("!=",)),
    ast.NotEq: ("!=", ("==",)),
    ast.In: ("in", ("not in",)),
    ast.NotIn: ("not in", ("in",)),
    ast.Is: ("is", ("is not",)),
    ast.IsNot: ("is not", ("is",)),
}
OPERATED = {
    ast.Add: ("+", "-"),
    ast.Sub: ("-", "+"),
    ast.Mult: ("*", "/"),
    ast.Div: ("/", "*"),
    ast.FloorDiv: ("//", "*"),
    ast.Mod: ("%", "*"),
    ast.BitOr: ("|", "&"),
    ast.BitAnd: ("&", "|"),
}


FOR_PEOPLE = ("strict", "metavar")
"""Arguments that nothing is decided by: zip's own check, and how a command's help calls a value."""


class Mutants(ast.NodeVisitor):
    """Collects the mutants of a file."""

    def __init__(self, path: str, source: bytes) -> None:
        self.path, self.source = path, source
        self.starts = [0]
        for line in source.splitlines(keepends=True):
            self.starts.append(self.starts[-1] + len(line))
        self.found: list[Mutant] = []
        self.depth = 0

    def at(self, line: int, column: int) -> int:
        return self.starts[line - 1] + column

    def span(self, node: ast.AST) -> tuple[int, int]:
        return self.at(node.lineno, node.col_offset), self.at(node.end_lineno, node.end_col_offset)

    def add(self, node: ast.AST, kind: str, text: str, span: tuple[int, int] | None = None) -> None:
        start, end = span or self.span(node)
        self.found.append(Mutant(self.path, node.lineno, kind, start, end, text))

    def between(self, left: ast.AST, right: ast.AST, old: str, new: str, kind: str) -> None:
        start, end = self.span(left)[1], self.span(right)[0]
        gap = self.source[start:end].decode()
        if old in gap:
            self.add(left, kind, gap.replace(old, new, 1), (start, end))

    def visit_If(self, node: ast.If) -> None:
        if "TYPE_CHECKING" in ast.unparse(node.test):
            return
        self.turned(node.test)
        self.generic_visit(node)

    def visit_While(self, node: ast.While) -> None:
        self.turned(node.test)
        self.generic_visit(node)

    def visit_IfExp(self, node: ast.IfExp) -> None:
        self.turned(node.test)
        self.generic_visit(node)

    def visit_comprehension(self, node: ast.comprehension) -> None:
        for test in node.ifs:
            self.turned(test)
        self.generic_visit(node)

    def turned(self, test: ast.expr) -> None:
        if isinstance(test, ast.Compare) and len(test.ops) == 1:
            return  # turned as a comparison
        start, end = self.span(test)
        text = self.source[start:end].decode()
        self.add(
            test,
            "condition turned",
            text[4:] if isinstance(test, ast.UnaryOp) and text.startswith("not ") else f"not ({text})",
        )

    def visit_Compare(self, node: ast.Compare) -> None:
        operands = [node.left, *node.comparators]
        for operator, left, right in zip(node.ops, operands, operands[1:], strict=False):
            old, others = COMPARED[type(operator)]
            for new in others:
                self.between(left, right, old, new, "comparison")
        self.generic_visit(node)

    def visit_BoolOp(self, node: ast.BoolOp) -> None:
        old, new = ("and", "or") if isinstance(node.op, ast.And) else ("or", "and")
        for left, right in zip(node.values, node.values[1:], strict=False):
            self.between(left, right, old, new, "and/or")
        self.generic_visit(node)

    def visit_BinOp(self, node: ast.BinOp) -> None:
        if type(node.op) in OPERATED and not _is_text(node.left) and not _is_text(node.right):
            old, new = OPERATED[type(node.op)]
            self.between(node.left, node.right, old, new, "operator")
        self.generic_visit(node)

    def visit_Constant(self, node: ast.Constant) -> None:
        value = node.value
        if isinstance(value, bool):
            self.add(node, "constant", str(not value))
        elif isinstance(value, int):
            self.add(node, "number", str(value * 4 if not self.depth and value else value + 1))
        elif isinstance(value, float):
            self.add(node, "number", repr(value * 4 if value else 1.0))
        elif isinstance(value, str) and value and " " not in value and node.lineno == node.end_lineno:
            self.add(node, "text", repr(_other_text(value)))

    def visit_JoinedStr(self, node: ast.JoinedStr) -> None:
        return  # Python 3.11 does not say where the parts of it stand

    def visit_Expr(self, node: ast.Expr) -> None:
        if isinstance(node.value, ast.Constant):
            return  # a docstring
        if isinstance(node.value, ast.Call | ast.Await):
            self.add(node, "step left out", "pass")
        self.generic_visit(node)

    def visit_Raise(self, node: ast.Raise) -> None:
        self.add(node, "raise left out", "pass")
        # What an error says is for people; that it comes is what counts.

    def visit_AugAssign(self, node: ast.AugAssign) -> None:
        self.add(node, "step left out", "pass")
        self.generic_visit(node)

    def visit_Return(self, node: ast.Return) -> None:
        # False and None are one answer to whoever asks whether; that False becomes True is a mutant of its own.
        plain = isinstance(node.value, ast.Constant) and (node.value.value is None or node.value.value is False)
        if node.value is not None and not plain:
            self.add(node, "result", "return None")
        self.generic_visit(node)

    def visit_Assign(self, node: ast.Assign) -> None:
        names = [target.id for target in node.targets if isinstance(target, ast.Name)]
        if {"__all__", "_HOMES", "__getattr__"} & set(names):
            return
        if self.depth and not isinstance(node.value, ast.Constant) and isinstance(node.targets[0], ast.Name):
            self.add(node, "value", "None", self.span(node.value))
        self.generic_visit(node)

    def visit_AnnAssign(self, node: ast.AnnAssign) -> None:
        if node.value is not None:
            self.visit(node.value)

    def visit_Break(self, node: ast.Break) -> None:
        self.add(node, "break", "continue")

    def visit_Continue(self, node: ast.Continue) -> None:
        self.add(node, "continue", "break")

    def visit_Call(self, node: ast.Call) -> None:
        name = ast.unparse(node.func)
        if name in ("TypeVar", "ParamSpec", "cast", "lru_cache", "Blueprint", "NewType"):
            return
        for child in (node.func, *node.args, *(word.value for word in node.keywords if word.arg not in FOR_PEOPLE)):
            self.visit(child)

    def _function(self, node: ast.FunctionDef | ast.AsyncFunctionDef) -> None:
        for default in (*node.args.defaults, *filter(None, node.args.kw_defaults)):
            self.visit(default)
        self.depth += 1
        for statement in node.body:
            self.visit(statement)
        self.depth -= 1

    visit_FunctionDef = visit_AsyncFunctionDef = _function  # noqa: N815  # ast's names

    def visit_ClassDef(self, node: ast.ClassDef) -> None:
        for statement in node.body:
            self.visit(statement)


def _other_text(value: str) -> str:
    """Another text; the name of a codec is the same name with a character behind it, so it gets a letter too."""
    with contextlib.suppress(LookupError, ValueError):  # a value error: a text with the character of number 0
        codecs.lookup(f"{value}~")
        return f"{value}~x"
    return f"{value}~"


def _is_text(node: ast.expr) -> bool:
    return isinstance(node, ast.JoinedStr) or (isinstance(node, ast.Constant) and isinstance(node.value, str))


def mutants_of(path: str, source: bytes) -> list[Mutant]:
    """All mutants of a file, of which a few may not compile."""
    collected = Mutants(path, source)
    collected.visit(ast.parse(source))
    return list(dict.fromkeys(collected.found))


def code_objects(code: types.CodeType) -> Iterator[types.CodeType]:
    yield code
    for const in code.co_consts:
        if isinstance(const, types.CodeType):
            yield from code_objects(const)


def function_at(path: Path, line: int) -> tuple[str, int]:
    """The qualified name and first line of the outermost function that holds a line in its body."""

    def walk(nodes: list[ast.stmt], prefix: str) -> tuple[str, int]:
        for node in nodes:
            if isinstance(node, ast.ClassDef) and node.lineno <= line <= (node.end_lineno or 0):
                return walk(node.body, f"{prefix}{node.name}.")
            if isinstance(node, ast.FunctionDef) and node.lineno <= line <= (node.end_lineno or 0):
                return f"{prefix}{node.name}", min([node.lineno, *(d.lineno for d in node.decorator_list)])
        return "", 0

    return walk(ast.parse(path.read_bytes()).body, "")


def statement_at(path: Path, line: int) -> range:
    """The lines of the innermost plain statement that holds this line."""
    best = range(line, line + 1)
    size = 10**9
    for node in ast.walk(ast.parse(path.read_bytes())):
        if not isinstance(node, ast.stmt) or not node.lineno <= line <= (node.end_lineno or 0):
            continue
        last = node.end_lineno or node.lineno
        body = getattr(node, "body", None)
        if body and not isinstance(node, ast.FunctionDef | ast.ClassDef):
            last = max(node.lineno, body[0].lineno - 1)
        if node.lineno <= line <= last and last - node.lineno < size and not isinstance(node, ast.FunctionDef):
            best, size = range(node.lineno, last + 1), last - node.lineno
    return best


def is_of_module(path: Path, line: int) -> bool:
    """True where the line is executed when the module is imported: constants, fields, defaults."""
    for node in ast.walk(ast.parse(path.read_bytes())):
        if isinstance(node, ast.FunctionDef) and node.body[0].lineno <= line <= (node.end_lineno or 0):
            return False
    return True
