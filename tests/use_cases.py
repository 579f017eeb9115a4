"""Which use cases a view calls, on the way through it that calls the most: read from the syntax tree of ``web``.

A use case is a function of ``receiving.service`` that is given the context. A view's way goes on in the functions of
``web`` that it calls or hands on. A branch is one way or the other, and what a refused use case did is undone: the way
through a handler begins before its ``try``.
"""

import ast
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

Calls = tuple[str, ...]
ROUTES = frozenset(("get", "post", "route", "put", "delete", "operation"))
ALSO_READ = frozenset(("local_now", "shown_units"))
"""Functions of web that ask how this request's words are said, as its language does: in which zone, in which units."""


@dataclass(frozen=True)
class Function:
    """A function of a module of web."""

    module: str
    node: ast.FunctionDef
    around: str = ""
    outer_names: frozenset[str] = frozenset()

    @property
    def name(self) -> str:
        """Its dotted name, with that of the function ``around`` it."""
        return ".".join(filter(None, (self.module, self.around, self.node.name)))

    @cached_property
    def inner(self) -> dict[str, ast.FunctionDef]:
        """The functions that are defined in it."""
        return {n.name: n for n in ast.walk(self.node) if isinstance(n, ast.FunctionDef) and n is not self.node}

    @cached_property
    def own_names(self) -> frozenset[str]:
        """Its parameters and variables, which hide functions of the same name."""
        parameters = self.node.args
        named = {each.arg for each in (*parameters.posonlyargs, *parameters.args, *parameters.kwonlyargs)}
        stored = (n.id for n in ast.walk(self.node) if isinstance(n, ast.Name) and isinstance(n.ctx, ast.Store))
        return frozenset((*named, *stored)) | self.outer_names


class Web:
    """All functions of web, and what they import from each other."""

    def __init__(self, folder: Path) -> None:
        self.functions: dict[str, Function] = {}
        self._imported: dict[str, dict[str, str]] = {}
        self._found: dict[str, Calls] = {}
        self._open: list[str] = []
        for path in sorted(folder.rglob("*.py")):
            module = ".".join(path.relative_to(folder.parent).with_suffix("").parts).removesuffix(".__init__")
            tree = ast.parse(path.read_text())
            self.functions |= {
                f"{module}.{n.name}": Function(module, n) for n in tree.body if isinstance(n, ast.FunctionDef)
            }
            self._imported[module] = {
                alias.asname or alias.name: f"{n.module}.{alias.name}"
                for n in tree.body
                if isinstance(n, ast.ImportFrom) and n.module
                for alias in n.names
            }

    def views(self) -> list[Function]:
        """The functions that answer requests."""
        return [each for each in self.functions.values() if any(map(_is_route, each.node.decorator_list))]

    def calls(self, function: Function) -> Calls:
        """The use cases on the way through this function that calls the most, in order."""
        if function.name in self._open or function.node.name in ALSO_READ:
            return ()
        if function.name not in self._found:
            self._open.append(function.name)
            goes_on, ends = self._block(function, function.node.body)
            self._open.pop()
            self._found[function.name] = _longest(goes_on, ends) or ()
        return self._found[function.name]

    def _block(self, of: Function, statements: Iterable[ast.stmt]) -> tuple[Calls | None, Calls | None]:
        """The longest way that goes on behind these statements, and the longest that ends in them; None: none does."""
        way: Calls | None = ()
        ends: Calls | None = None
        for each in statements:
            if way is None:
                break
            way, ended = self._statement(of, each, way)
            ends = _longest(ends, ended)
        return way, ends

    def _statement(self, of: Function, each: ast.stmt, way: Calls) -> tuple[Calls | None, Calls | None]:
        match each:
            case ast.Return(value=value) | ast.Raise(exc=value):
                return None, way + self._in(of, value)
            case ast.If():
                tested = way + self._in(of, each.test)
                parts = (self._block(of, each.body), self._block(of, each.orelse))
                return _longest(*(_add(tested, on) for on, _ in parts)), _longest(
                    *(_add(tested, end) for _, end in parts)
                )
            case ast.Try():
                handled = (self._block(of, handler.body) for handler in each.handlers)
                return _either(way, self._block(of, [*each.body, *each.orelse]), *handled)
            case ast.For() | ast.While():
                way += self._in(of, each.iter if isinstance(each, ast.For) else each.test)
                on, end = self._block(of, each.body)
                return way + (on or ()), _add(way, end)
            case ast.With():
                way += tuple(call for item in each.items for call in self._in(of, item.context_expr))
                on, end = self._block(of, each.body)
                return _add(way, on), _add(way, end)
            case ast.FunctionDef():
                return way, None
            case _:
                parts = [self._in(of, child) for child in ast.iter_child_nodes(each) if isinstance(child, ast.expr)]
                return way + tuple(call for part in parts for call in part), None

    def _in(self, of: Function, node: ast.AST | None) -> Calls:
        """The use cases that an expression calls."""
        if node is None or isinstance(node, ast.Constant):
            return ()
        if isinstance(node, ast.IfExp):
            return self._in(of, node.test) + (_longest(self._in(of, node.body), self._in(of, node.orelse)) or ())
        called = self._named(of, node)
        if called is not None:
            return self.calls(called)
        own: Calls = (ast.unparse(node.func),) if isinstance(node, ast.Call) and _is_use_case(node) else ()
        return own + tuple(call for child in ast.iter_child_nodes(node) for call in self._in(of, child))

    def _named(self, of: Function, node: ast.AST) -> Function | None:
        """The function of web that this name means here."""
        if isinstance(node, ast.Name):
            if node.id in of.inner:
                return Function(of.module, of.inner[node.id], of.node.name, of.own_names)
            if node.id in of.own_names:
                return None
            return self._known(f"{of.module}.{node.id}", self._imported.get(of.module, {}).get(node.id, ""))
        if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name):
            return self._known(f"{self._imported.get(of.module, {}).get(node.value.id, '')}.{node.attr}")
        return None

    def _known(self, *names: str) -> Function | None:
        return next((self.functions[name] for name in names if name in self.functions), None)


def _is_route(node: ast.expr) -> bool:
    return isinstance(node, ast.Call) and ast.unparse(node.func).split(".")[-1] in ROUTES


def _is_use_case(call: ast.Call) -> bool:
    return bool(call.args) and ast.unparse(call.args[0]).startswith(("ctx()", "frame.ctx()"))


def _either(way: Calls, *blocks: tuple[Calls | None, Calls | None]) -> tuple[Calls | None, Calls | None]:
    """One of these blocks is gone through: the longest way that goes on behind them, and that ends in them."""
    return _longest(*(_add(way, on) for on, _ in blocks)), _longest(*(_add(way, end) for _, end in blocks))


def _add(way: Calls, more: Calls | None) -> Calls | None:
    return None if more is None else way + more


def _longest(*ways: Calls | None) -> Calls | None:
    there: Sequence[Calls] = [way for way in ways if way is not None]
    return max(there, key=len) if there else None


def use_cases_of_views(folder: Path) -> Mapping[str, Calls]:
    """By view: its use cases, without ``service.`` before them."""
    web = Web(folder)
    return {view.name: tuple(call.removeprefix("service.") for call in web.calls(view)) for view in web.views()}


def writes_outside_transactions(receiving: Path) -> list[str]:
    """Where a use case has the store write outside of ``ctx.transaction()``, as ``module.function: method``.

    A function that is given the store writes in its caller's transaction, so calling it counts as writing.
    """
    writers = _writing_methods(receiving / "store")
    modules = {path.stem: ast.parse(path.read_text()) for path in sorted((receiving / "service").glob("*.py"))}
    given: set[str] = set()
    while True:
        found = [
            (module, *each)
            for module, tree in modules.items()
            for each in _writes(tree, "", "", writers | given, given)
        ]
        more = {function for _, function, _, how in found if how == "given"} - given
        if not more:
            return [f"{module}.{function}: {method}" for module, function, method, how in found if how != "given"]
        given |= more


def _writing_methods(store: Path) -> frozenset[str]:
    signs = ("self._writing", "self._insert", "self.transaction", "INSERT ", "UPDATE ", "DELETE ")
    functions = (n for path in store.glob("*.py") for n in ast.walk(ast.parse(path.read_text())))
    return frozenset(
        n.name
        for n in functions
        if isinstance(n, ast.FunctionDef)
        and n.args.args
        and n.args.args[0].arg == "self"
        and any(sign in ast.unparse(n) for sign in signs)
    )


def _writes(
    node: ast.AST, function: str, how: str, writers: frozenset[str], given: set[str]
) -> list[tuple[str, str, str]]:
    """The writes below a node that stand in no transaction: function, what writes, and in what else it stands."""
    if isinstance(node, ast.FunctionDef):
        function = function or node.name
        how = "given" if any(each.arg == "store" for each in node.args.args) else how if how == "transaction" else ""
    if isinstance(node, ast.With):
        entered = " ".join(ast.unparse(item.context_expr) for item in node.items)
        how = "transaction" if "ctx.transaction(" in entered else how if how == "transaction" else "outside"
    found = []
    if isinstance(node, ast.Call) and how != "transaction":
        called = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
        of_store = isinstance(node.func, ast.Attribute) and ast.unparse(node.func.value) == "store"
        handed = called in given and any(isinstance(each, ast.Name) and each.id == "store" for each in node.args)
        if (of_store and called in writers) or handed:
            found.append((function, called, how or "outside"))
    return found + [
        each for child in ast.iter_child_nodes(node) for each in _writes(child, function, how, writers, given)
    ]
