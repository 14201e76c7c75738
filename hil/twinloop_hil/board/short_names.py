"""Arguments renamed to words that every MicroPython has in ROM.

A call may name an argument, so MicroPython keeps those names: on flash in each module, and once on
the heap. Renamed are only arguments that no call in the firmware names.
"""

from __future__ import annotations

import ast
import functools
from collections.abc import Iterable

from ..firmware_files import PACKAGE, firmware_folder
from .slim import SlimError

# From MicroPython's static list, to which an .mpy file refers by number. The firmware passes none
# of them by name.
WORDS = ("self", "args", "end", "index", "count", "start", "stop", "step", "sep", "values", "items", "find")
# Code behind these may ask for an argument by a name that no syntax tree shows.
LOOKS_UP_NAMES = {"eval", "exec", "locals", "vars"}


def named_in_calls(trees: Iterable[ast.Module]) -> set[str]:
    """The arguments that some call names. Raises SlimError where a call may name any."""
    found = set()
    for node in [node for tree in trees for node in ast.walk(tree)]:
        if isinstance(node, ast.keyword):
            if node.arg is None:
                raise SlimError(f"{ast.unparse(node.value)}: passed with **, which may name any argument")
            found.add(node.arg)
        elif isinstance(node, ast.Name) and node.id in LOOKS_UP_NAMES:
            raise SlimError(f"{node.id}: may look up an argument by its name")
    return found


@functools.cache
def named_in_firmware() -> frozenset[str]:
    """The same over all that runs on a board: package, boot.py, main.py and the boards' data."""
    paths = [*PACKAGE.rglob("*.py"), *firmware_folder().glob("*.py"), *firmware_folder().glob("boards/*.py")]
    return frozenset(named_in_calls(ast.parse(path.read_text()) for path in paths))


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


def shorten_function(function: ast.FunctionDef | ast.Lambda, named: frozenset[str]) -> None:
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


def shorten(source: str, named: frozenset[str] | None = None) -> str:
    """The source with short arguments, except `named`: usually those that some call names."""
    tree = ast.parse(source)
    for node in ast.walk(tree):
        if isinstance(node, (ast.FunctionDef, ast.Lambda)):
            shorten_function(node, named_in_firmware() if named is None else named)
    return ast.unparse(tree)
