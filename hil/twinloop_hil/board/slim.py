"""A module's source as it is compiled for a board: texts that only a host reads stay at home, and names of whole numbers become the
numbers themselves. Nothing else is changed; a board's memory is what this is for.

On a board every name costs memory in each module that imports it, and there are hundreds of them in state.py alone. The host knows
their values, so it writes those in their places. A name that is assigned anywhere else than once at its module's top is left alone.
"""

from __future__ import annotations

import ast
import collections
import functools
from pathlib import Path
from types import SimpleNamespace

from ..firmware_files import PACKAGE

# Texts that only a host reads: names of a module, and the last column of the settings' table.
HOST_NAMES = {"twinloop.control.reason_texts": ("ALARM_TEXTS", "CAUSE_TEXTS", "STATUS_TEXTS", "RULE_TEXTS", "RULE_SETTINGS")}
HOST_COLUMN = {"twinloop.control.settings": "TABLE"}


class SlimError(RuntimeError):
    """A text that was to be left out is not there; one line."""


def assigned_name(node: ast.stmt) -> str:
    """The name that a plain assignment of a module gives a value to, empty for anything else."""
    if isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name):
        return node.targets[0].id
    return ""


def leave_out_host_texts(tree: ast.Module, module: str) -> None:
    """Drop what only a host reads. Raises SlimError when something of it is no longer there."""
    names = HOST_NAMES.get(module, ())
    column = HOST_COLUMN.get(module)
    there = {assigned_name(node) for node in tree.body}
    for name in (*names, *([column] if column else [])):
        if name not in there:
            raise SlimError(f"{module}: {name}, which is left out of a board's files, is not there any more")
    tree.body = [node for node in tree.body if assigned_name(node) not in names]
    for node in tree.body:
        if column and assigned_name(node) == column:
            for row in node.value.elts:
                row.elts[-1] = ast.Constant("")


def module_path(module: str) -> Path:
    """The file of a module of the package."""
    path = PACKAGE.parent / module.replace(".", "/")
    return path / "__init__.py" if path.is_dir() else path.with_suffix(".py")


def stored_names(tree: ast.Module) -> collections.Counter:
    """How often each name is given a value, arguments included; imports are not counted."""
    stored = [node.id for node in ast.walk(tree) if isinstance(node, ast.Name) and not isinstance(node.ctx, ast.Load)]
    return collections.Counter(stored + [node.arg for node in ast.walk(tree) if isinstance(node, ast.arg)])


@functools.cache
def numbers_of(module: str) -> dict[str, int]:
    """Numbers of a module of the package, from its file."""
    return numbers_in(ast.parse(module_path(module).read_text()), module)


def numbers_in(tree: ast.Module, module: str) -> dict[str, int]:
    """Names that are whole numbers for ever: written in capitals, assigned once and at the top, made of such numbers."""
    stored = stored_names(tree)
    known: dict[str, int] = {}
    imported, modules = imported_numbers(tree, module)
    seen = {**imported, **{local: SimpleNamespace(**numbers) for local, numbers in modules.items()}}
    for node in tree.body:
        name = assigned_name(node)
        if name.isupper() and stored[name] == 1:
            try:
                value = eval(compile(ast.Expression(node.value), module, "eval"), {"__builtins__": {}}, {**seen, **known})
            except (NameError, TypeError, AttributeError, KeyError):
                continue
            if type(value) is int:
                known[name] = value
    return known


def imported_numbers(tree: ast.Module, module: str) -> tuple[dict[str, int], dict[str, dict[str, int]]]:
    """What a module imports from the package: local name -> number, and local name of a module -> its numbers."""
    names: dict[str, int] = {}
    modules: dict[str, dict[str, int]] = {}
    for node in [node for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)]:
        source = absolute(node, module)
        if not source.startswith("twinloop"):
            continue
        for alias in node.names:
            local = alias.asname or alias.name
            if module_path(f"{source}.{alias.name}").exists():
                modules[local] = numbers_of(f"{source}.{alias.name}")
            elif alias.name in numbers_of(source):
                names[local] = numbers_of(source)[alias.name]
    return names, modules


class Inliner(ast.NodeTransformer):
    """Writes numbers in the place of names. `names`: name -> number; `modules`: local name of a module -> its numbers."""

    def __init__(self, names: dict[str, int], modules: dict[str, dict[str, int]]):
        self.names = names
        self.modules = modules

    def visit_Name(self, node):  # noqa: N802
        """A name that is read."""
        if isinstance(node.ctx, ast.Load) and node.id in self.names:
            return ast.copy_location(number(self.names[node.id]), node)
        return node

    def visit_Attribute(self, node):  # noqa: N802
        """A name of a module that is read."""
        if isinstance(node.value, ast.Name) and isinstance(node.ctx, ast.Load):
            found = self.modules.get(node.value.id, {}).get(node.attr)
            if found is not None:
                return ast.copy_location(number(found), node)
        return self.generic_visit(node)


def number(value: int) -> ast.expr:
    """A number as it is written; a negative one is a sign and a number."""
    return ast.Constant(value) if value >= 0 else ast.UnaryOp(ast.USub(), ast.Constant(-value))


def absolute(node: ast.ImportFrom, module: str) -> str:
    """The full name of the module that an import names."""
    if node.level == 0:
        return node.module or ""
    parts = module.split(".")[: -node.level]
    return ".".join([*parts, node.module]) if node.module else ".".join(parts)


class DropNumbers(ast.NodeTransformer):
    """Takes names that are numbers now out of the imports, and imports of which nothing is left."""

    def __init__(self, names: dict[str, int]):
        self.names = names

    def visit_ImportFrom(self, node):  # noqa: N802
        """What is left of it."""
        node.names = [alias for alias in node.names if (alias.asname or alias.name) not in self.names]
        return node if node.names else None


def slim(source: str, module: str) -> str:
    """The source of a module of the package as it goes on a board. Raises SlimError."""
    tree = ast.parse(source)
    leave_out_host_texts(tree, module)
    names, modules = imported_numbers(tree, module)
    shadowed = stored_names(tree).keys() & (names.keys() | modules.keys())
    if shadowed:
        raise SlimError(f"{module}: {', '.join(sorted(shadowed))}: imported, and something else in this module as well")
    own = numbers_in(tree, module)
    # Every module of the package reads numbers in place: nobody needs the names themselves any more.
    tree.body = [node for node in tree.body if assigned_name(node) not in own]
    tree = DropNumbers(names).visit(Inliner({**names, **own}, modules).visit(tree))
    return ast.unparse(ast.fix_missing_locations(tree))
