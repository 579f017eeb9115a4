"""Each template shows what its page value holds: no name that is not there, and no field that nobody shows."""

import dataclasses
import importlib
import inspect
import pkgutil
import re
import types
import typing
from collections.abc import Iterator

import pytest
from flask import Flask
from jinja2 import nodes

import web.pages
import web.pages.shipment

Names = dict[str, object]


def page_types() -> list[type]:
    modules = [importlib.import_module(f"web.pages.{each.name}") for each in pkgutil.iter_modules(web.pages.__path__)]
    found = {kind for module in modules for kind in vars(module).values() if inspect.isclass(kind)}
    return sorted((kind for kind in found if hasattr(kind, "template")), key=lambda kind: kind.__name__)


class TemplateTypes:
    """Follows the types of a page through its template: loops, includes, macros, attributes."""

    def __init__(self, app: Flask) -> None:
        self.env = app.jinja_env
        self.parsed: dict[str, nodes.Template] = {}
        self.faults: list[str] = []
        self.used: set[tuple[type, str]] = set()

    def check(self, template: str, page: type) -> None:
        self._walk_all(self._parse(template).body, {"page": page})

    def _parse(self, name: str) -> nodes.Template:
        if name not in self.parsed:
            source, _, _ = self.env.loader.get_source(self.env, name)
            self.parsed[name] = self.env.parse(source, name)
        return self.parsed[name]

    def _walk_all(self, body: list[nodes.Node], names: Names) -> None:
        for node in body:
            self._walk(node, names)

    def _walk(self, node: nodes.Node, names: Names) -> None:
        if isinstance(node, nodes.For):
            self._type(node.iter, names)
            inner = {**names, node.target.name: _element(self._type(node.iter, names))}
            self._walk_all(node.body, inner)
            self._walk_all(node.else_, names)
        elif isinstance(node, nodes.With):
            inner = {**names, **{t.name: self._type(v, names) for t, v in zip(node.targets, node.values, strict=True)}}
            self._walk_all(node.body, inner)
        elif isinstance(node, nodes.Include | nodes.Extends):
            self._walk_all(self._parse(node.template.value).body, names)
        elif isinstance(node, nodes.Macro):
            self._walk_all(node.body, {**names, **{argument.name: None for argument in node.args}})
        elif isinstance(node, nodes.Expr):
            self._type(node, names)
        else:
            self._walk_all(list(node.iter_child_nodes()), names)

    def _type(self, node: nodes.Expr, names: Names) -> object:
        if isinstance(node, nodes.Name):
            return names.get(node.name)
        if isinstance(node, nodes.Getattr):
            return self._attribute(self._type(node.node, names), node.attr)
        if isinstance(node, nodes.Getitem):
            return _element(self._type(node.node, names))
        if isinstance(node, nodes.Call):
            self._call(node, names)
            return None
        for child in node.iter_child_nodes(only=None):
            self._type(child, names) if isinstance(child, nodes.Expr) else self._walk(child, names)
        return None

    def _call(self, call: nodes.Call, names: Names) -> None:
        given = [self._type(argument, names) for argument in call.args]
        for keyword in call.kwargs:
            self._type(keyword.value, names)
        target = call.node
        if isinstance(target, nodes.Getattr) and isinstance(target.node, nodes.Name) and target.node.name == "parts":
            self._macro(target.attr, given)
        elif isinstance(target, nodes.Name) and target.name == "drawn_once" and isinstance(call.args[0], nodes.Name):
            self._macro(call.args[0].name, given[1:])

    def _macro(self, name: str, given: list[object]) -> None:
        macro = next(m for m in self._parse("_parts.html").find_all(nodes.Macro) if m.name == name)
        self._walk_all(macro.body, dict(zip([a.name for a in macro.args], given, strict=False)))

    def _attribute(self, owner: object, name: str) -> object:
        if not dataclasses.is_dataclass(owner) or not isinstance(owner, type):
            return None
        self.used.add((owner, name))
        hints = typing.get_type_hints(owner)
        if name in hints:
            return _plain(hints[name])
        kind = inspect.getattr_static(owner, name, None)
        if kind is None:
            self.faults.append(f"{owner.__name__} has no {name}")
        return typing.get_type_hints(kind.fget)["return"] if isinstance(kind, property) else None


def _plain(hint: object) -> object:
    """The type itself, without ``| None`` and ``ClassVar``."""
    if isinstance(hint, types.UnionType):
        return next(part for part in typing.get_args(hint) if part is not type(None))
    return typing.get_args(hint)[0] if typing.get_origin(hint) is typing.ClassVar else hint


def _element(hint: object) -> object:
    arguments = typing.get_args(hint)
    return arguments[0] if typing.get_origin(hint) is tuple and arguments else None


def fields_of(kind: object, seen: set[object]) -> Iterator[tuple[type, str]]:
    """Every field of a page and of the values that it holds."""
    kind = _plain(kind)
    if typing.get_origin(kind) is tuple:
        yield from fields_of(_element(kind), seen)
    if not (isinstance(kind, type) and dataclasses.is_dataclass(kind)) or kind in seen:
        return
    seen.add(kind)
    hints = typing.get_type_hints(kind)
    for field in dataclasses.fields(kind):
        yield kind, field.name
        yield from fields_of(hints[field.name], seen)


@pytest.mark.parametrize("page", page_types(), ids=lambda kind: kind.__name__)
def test_a_template_uses_only_what_its_page_holds(app: Flask, page: type) -> None:
    checker = TemplateTypes(app)
    checker.check(page.template, page)
    assert checker.faults == []
    assert checker.used, f"{page.template} shows nothing of {page.__name__}"


def test_every_field_of_every_page_is_shown_somewhere(app: Flask) -> None:
    checker = TemplateTypes(app)
    for page in page_types():
        checker.check(page.template, page)
    shown = {(owner.__name__, name) for owner, name in checker.used}
    shown |= {(base.__name__, name) for owner, name in checker.used for base in owner.__mro__}
    fields = {(owner.__name__, name) for page in page_types() for owner, name in fields_of(page, set())}
    inherited = {(page.__name__, name) for page in page_types() for base in page.__mro__[1:-1] for name in _names(base)}
    assert sorted(fields - shown - inherited) == []


def _names(kind: type) -> set[str]:
    return {field.name for field in dataclasses.fields(kind)} if dataclasses.is_dataclass(kind) else set()


def test_the_contract_notices_a_name_that_is_not_there(app: Flask) -> None:
    checker = TemplateTypes(app)
    template = app.jinja_env.parse("{% for card in page.missing %}{{ card.colour }}{% endfor %}")
    checker._walk_all(template.body, {"page": web.pages.shipment.ShipmentPage})
    assert checker.faults == ["CartonCard has no colour"]


# --- the names of a page ------------------------------------------------------------------------------------------


NO_VIEW_OF_ITS_OWN = {"base.html": "the frame of all pages", "problem.html": "any view's, where it cannot go on"}


def snake(name: str) -> str:
    return re.sub("(?<=[a-z])(?=[A-Z])", "_", name).lower()


def test_a_page_and_its_template_have_one_name() -> None:
    for page in page_types():
        stem = page.template.removesuffix(".html").removeprefix("_")
        names = {snake(page.__name__), snake(page.__name__.removesuffix("Page").removesuffix("Part"))}
        assert stem.removeprefix("office_") in names or stem in names, f"{page.__name__}: {page.template}"


def test_each_template_of_a_page_has_the_name_of_the_view_that_shows_it(app: Flask) -> None:
    views = {tuple(endpoint.split(".")) for endpoint in app.view_functions if "." in endpoint}
    named = {f"{view}.html" for _, view in views} | {f"{blueprint}_{view}.html" for blueprint, view in views}
    named |= {f"office_{view}.html" for blueprint, view in views if blueprint == "office_shipment"}
    templates = {name for name in app.jinja_env.list_templates() if name.endswith(".html") and name[0] != "_"}
    assert len(templates) > 40
    assert templates - named == set(NO_VIEW_OF_ITS_OWN)


def test_a_blueprint_has_the_name_of_its_module(app: Flask) -> None:
    assert {name: part.import_name for name, part in app.blueprints.items()} == {
        name: f"web.{name}" for name in app.blueprints
    }
