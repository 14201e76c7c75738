"""Names renamed to words that every MicroPython has in ROM: arguments, attributes, constants.

Any other name costs flash in each module that has it, and the heap once. A name is renamed only if
no code on a board can reach it but what is renamed with it:

- an argument, if no call in the firmware names it;
- an attribute, if the firmware uses it as `self.NAME` only, in classes of its own;
- a constant of a module, if no other module mentions its name.

Functions and classes keep their names, which tracebacks tell.
"""

from __future__ import annotations

import ast
import functools
from collections.abc import Iterable
from typing import NamedTuple

from ..firmware_files import PACKAGE, firmware_folder
from .slim import SlimError, assigned_name, stored_names

# From MicroPython's static list, to which an .mpy file refers by number. For arguments; the
# firmware passes none of them by name.
WORDS = ("self", "args", "end", "index", "count", "start", "stop", "step", "sep", "values", "items", "find")
# For attributes and constants.
MORE_WORDS = (
    *("abs", "all", "any", "append", "bool", "builtins", "bytearray", "bytecode", "bytes", "callable", "chr", "classmethod"),
    *("close", "copy", "dict", "dir", "divmod", "endswith", "extend", "format", "from_bytes", "get", "getattr"),
    *("hasattr", "hash", "id", "insert", "int", "isalpha", "isdigit", "isinstance", "islower", "isspace", "issubclass"),
    *("isupper", "iter", "join", "key", "keys", "len", "list", "little", "lower", "lstrip", "main", "map"),
    *("next", "object", "open", "ord", "pop", "popitem", "pow", "print", "range", "read", "readinto", "readline", "remove"),
    *("replace", "repr", "reverse", "rfind", "rindex", "round", "rsplit", "rstrip", "send", "set", "setdefault", "sort"),
    *("sorted", "split", "startswith", "staticmethod", "str", "strip", "sum", "throw", "to_bytes", "tuple", "type"),
    *("update", "upper", "value", "write", "zip"),
)
# Code behind these may reach a name that no syntax tree shows.
LOOK_UP = {"eval", "exec", "locals", "vars", "globals", "setattr", "delattr", "__dict__", "__getattr__", "__slots__"}
LOOK_UP_BY_TEXT = {"getattr", "hasattr"}
BASES = {"Exception"}


class Known(NamedTuple):
    """What all code on a board says about its names."""

    # Arguments that some call names.
    named: frozenset[str]
    # Attributes of our own classes, used by nobody else, with their words.
    attributes: dict[str, str]
    # Names that a module may mention of another: attributes and imports.
    mentioned: frozenset[str]


def look_up(trees: Iterable[ast.Module]) -> Known:
    """What these trees say, which have to be all. Raises SlimError for names reached unseen."""
    nodes = [node for tree in trees for node in ast.walk(tree)]
    for node in nodes:
        need_no_hidden_names(node)
    used = [node for node in nodes if isinstance(node, ast.Attribute)]
    elsewhere = {node.attr for node in used if not (isinstance(node.value, ast.Name) and node.value.id == "self")}
    imported = {name for node in nodes if isinstance(node, ast.alias) for name in node.name.split(".")}
    named = {node.arg for node in nodes if isinstance(node, ast.keyword)}
    texts = {node.args[1].value for node in nodes if is_look_up_by_text(node)}
    defined = {node.name for node in nodes if isinstance(node, (ast.FunctionDef, ast.ClassDef))}
    defined |= {name for node in nodes if isinstance(node, ast.ClassDef) for name in map(assigned_name, node.body)}
    stored = {node.attr for node in used if isinstance(node.ctx, ast.Store)}
    private = stored - elsewhere - imported - texts - defined - {*WORDS, *MORE_WORDS}
    words = [word for word in MORE_WORDS if word not in stored | defined]
    # The longest first: there may be more attributes than words.
    attributes = dict(zip(sorted(private, key=lambda name: (-len(name), name)), words, strict=False))
    mentioned = imported | texts | {node.attr for node in used}
    return Known(frozenset(named), attributes, frozenset(mentioned))


def is_look_up_by_text(node: ast.AST) -> bool:
    return isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in LOOK_UP_BY_TEXT


def need_no_hidden_names(node: ast.AST) -> None:
    """Raise SlimError if this node may reach a name unseen, or uses `self` in a way of its own."""
    if isinstance(node, ast.keyword) and node.arg is None:
        raise SlimError(f"{ast.unparse(node.value)}: passed with **, which may name any argument")
    name = node.id if isinstance(node, ast.Name) else node.attr if isinstance(node, ast.Attribute) else assigned_name(node)
    if name in LOOK_UP or (is_look_up_by_text(node) and not isinstance(node.args[1], ast.Constant)):
        raise SlimError(f"{ast.unparse(node).splitlines()[0]}: may reach any name")
    if isinstance(node, ast.ClassDef):
        foreign = [ast.unparse(base) for base in node.bases if ast.unparse(base) not in BASES]
        if foreign or node.keywords:
            raise SlimError(f"class {node.name}: derived from {', '.join(foreign)}, whose attributes are not known")
    if isinstance(node, ast.Module) and selves(node) != methods(node):
        raise SlimError("self: has to be the first argument of a method, and nothing else")


def selves(tree: ast.Module) -> int:
    """How often `self` is bound in a module."""
    return stored_names(tree)["self"]


def methods(tree: ast.Module) -> int:
    """How many functions right in a class begin with `self`."""
    inside = [node for part in ast.walk(tree) if isinstance(part, ast.ClassDef) for node in part.body]
    return sum(isinstance(node, ast.FunctionDef) and [arg.arg for arg in arguments(node)][:1] == ["self"] for node in inside)


@functools.cache
def on_boards() -> Known:
    """What all that runs on a board says: package, boot.py, main.py and the boards' data."""
    paths = [*PACKAGE.rglob("*.py"), *firmware_folder().glob("*.py"), *firmware_folder().glob("boards/*.py")]
    return look_up([ast.parse(path.read_text()) for path in paths])


def arguments(function: ast.FunctionDef | ast.Lambda) -> list[ast.arg]:
    every = function.args
    last = [arg for arg in (every.vararg, every.kwarg) if arg]
    return [*every.posonlyargs, *every.args, *every.kwonlyargs, *last]


def names_bound(node: ast.AST) -> list[str]:
    """The names to which this very node gives a meaning by their text; a `global` counts."""
    if isinstance(node, ast.ClassDef):
        return [part.id for part in ast.walk(node) if isinstance(part, ast.Name)]
    if isinstance(node, (ast.FunctionDef, ast.ExceptHandler)):
        return [node.name or ""]
    if isinstance(node, ast.arg):
        return [node.arg]
    if isinstance(node, (ast.Import, ast.ImportFrom)):
        return [alias.asname or alias.name.split(".")[0] for alias in node.names]
    return node.names if isinstance(node, (ast.Global, ast.Nonlocal)) else []


def bound_inside(parts: list[ast.AST]) -> set[str]:
    """Names that a function's body binds by more than assignments: an argument so called stays."""
    return {name for node in parts for name in names_bound(node)}


def free_words(parts: list[ast.AST], taken: set[str]) -> list[str]:
    """The words that nothing in a function's body uses, and that are not in `taken`."""
    used = {node.id for node in parts if isinstance(node, ast.Name)}
    return [word for word in WORDS if word not in used | taken]


def short_function(function: ast.FunctionDef | ast.Lambda, named: frozenset[str]) -> None:
    """Rename the arguments of one function. Defaults belong to the scope around it and stay."""
    body = function.body if isinstance(function, ast.FunctionDef) else [function.body]
    parts = [node for part in body for node in ast.walk(part)]
    there = bound_inside(parts)
    words = free_words(parts, there | named | {arg.arg for arg in arguments(function)})
    for arg in arguments(function):
        if words and arg.arg not in named and arg.arg not in there and arg.arg not in WORDS:
            word = words.pop(0)
            for node in parts:
                if isinstance(node, ast.Name) and node.id == arg.arg:
                    node.id = word
            arg.arg = word


def short_arguments(tree: ast.Module, named: frozenset[str]) -> None:
    """Rename arguments, except those that some call names."""
    for node in ast.walk(tree):
        if isinstance(node, (ast.FunctionDef, ast.Lambda)):
            short_function(node, named)


def short_attributes(tree: ast.Module, words: dict[str, str]) -> None:
    """Rename attributes."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Attribute):
            node.attr = words.get(node.attr, node.attr)


def short_constants(tree: ast.Module, mentioned: frozenset[str]) -> None:
    """Rename what a module assigns once, at its top level, and no other module may mention."""
    nodes = list(ast.walk(tree))
    names = {node.id for node in nodes if isinstance(node, ast.Name)}
    stored = stored_names(tree)
    bound = bound_inside([node for node in nodes if not isinstance(node, ast.ClassDef)])
    bound |= {node.name for node in nodes if isinstance(node, ast.ClassDef)}
    own = [assigned_name(node) for node in tree.body if isinstance(node, ast.Assign) and len(node.targets) == 1]
    private = [name for name in own if name and stored[name] == 1 and name not in mentioned | bound | {*MORE_WORDS}]
    free = [word for word in MORE_WORDS if word not in names | bound]
    words = dict(zip(private, free, strict=False))
    for node in nodes:
        if isinstance(node, ast.Name):
            node.id = words.get(node.id, node.id)


def shorten(source: str, known: Known | None = None) -> str:
    """The source of a module of the firmware under short names."""
    tree, known = ast.parse(source), known or on_boards()
    short_attributes(tree, known.attributes)
    short_constants(tree, known.mentioned)
    short_arguments(tree, known.named)
    return ast.unparse(tree)


def shorten_program(source: str, known: Known | None = None) -> str:
    """The source of a program that looks into the image, under the image's names."""
    tree, words = ast.parse(source), (known or on_boards()).attributes
    short_attributes(tree, words)
    # A method may have the name of one of our attributes.
    for node in [part for cls in ast.walk(tree) if isinstance(cls, ast.ClassDef) for part in cls.body]:
        if isinstance(node, ast.FunctionDef):
            node.name = words.get(node.name, node.name)
    return ast.unparse(tree)
