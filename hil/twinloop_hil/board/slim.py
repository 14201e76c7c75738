"""A module's source as it is compiled for a board, made smaller to save the board's memory.

Every name costs memory in each module that uses it, and state.py alone has hundreds. The host knows
their values: it writes numbers in place of names, and finished tuples in place of the code that
makes them. Texts for the host are left out. Only names assigned exactly once, at the top level of
their module, are replaced.
"""

from __future__ import annotations

import ast
import binascii
import builtins
import collections
import copy
import functools
from pathlib import Path
from types import SimpleNamespace

from twinloop.control import reasons, tables

from ..firmware_files import PACKAGE

# For the host only, by module.
HOST_NAMES = {
    "twinloop.reason_texts": ("ALARM_TEXTS", "CAUSE_TEXTS", "STATUS_TEXTS", "RULE_TEXTS", "RULE_SETTINGS"),
    "twinloop.control.settings": ("TOPOLOGY_NAMES", "CROSSOVER_NAMES", "NO_YES", "FLOW_SENSOR_NAMES", "FAN_PLACE_NAMES", "TABLE"),
    "twinloop.store": ("schema_crc",),
    "twinloop.control.conditions": ("CONDITION_NAMES",),
    "twinloop.event_log": ("KIND_NAMES",),
    "twinloop.link.calls": ("request",),
    "twinloop.control.rules": ("ROWS", "needs"),
}
# Texts that a board looks up by number, below this one; a tuple costs less than a map. A display
# shows reasons, never what an output waits for.
LOOKED_UP = {"twinloop.reason_texts": {"REASON_TEXTS": reasons.WAIT_VALVE}}
# The module that makes the tables; a board gets them finished.
MAKER = "twinloop.control.tables"
# One-line functions to inline: on a board the call costs more than the line.
IN_PLACE = {"twinloop.control.state": ("trusted",), "twinloop.control.rules": ("holds", "mark")}
# What the code that makes numbers and tuples may use.
MAKERS = {name: getattr(builtins, name) for name in ("len", "range", "tuple", "enumerate")}
LIBRARY = {"binascii": binascii}
# A larger number or a longer text is an object in each place: finished, but kept under its name.
SMALL = 1 << 30
SHORT = 10


class SlimError(RuntimeError):
    """The source cannot be slimmed; one line."""


def assigned_name(node: ast.stmt) -> str:
    """The name that a plain assignment or a function defines; empty for any other statement."""
    if isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name):
        return node.targets[0].id
    return node.name if isinstance(node, ast.FunctionDef) else ""


def leave_out_host_texts(tree: ast.Module, module: str) -> None:
    """Drop everything for the host only. Raises SlimError when some of it no longer exists."""
    names = HOST_NAMES.get(module, ())
    there = {assigned_name(node) for node in tree.body}
    for name in names:
        if name not in there:
            raise SlimError(f"{module}: {name}, which boards do not get, does not exist any more")
    tree.body = [node for node in tree.body if assigned_name(node) not in names]


def need_no_host_texts(tree: ast.Module, module: str) -> None:
    """Raise SlimError if what is left uses something for the host only, of any module."""
    modules = module_names(tree, module)
    for node in ast.walk(tree):
        if isinstance(node, ast.Name):
            found = node.id if node.id in HOST_NAMES.get(module, ()) else ""
        elif isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name):
            found = node.attr if node.attr in HOST_NAMES.get(modules.get(node.value.id, ""), ()) else ""
        elif isinstance(node, ast.ImportFrom):
            found = " ".join(alias.name for alias in node.names if alias.name in HOST_NAMES.get(absolute(node, module), ()))
        else:
            continue
        if found:
            raise SlimError(f"{module}: uses {found}, which boards do not get")


def finish_tables(tree: ast.Module, world: dict, module: str) -> None:
    """Replace the code that makes tuples and numbers by these, and drop the tables."""
    kept = []
    for node in tree.body:
        value = world.get(assigned_name(node)) if isinstance(node, ast.Assign) else None
        top = LOOKED_UP.get(module, {}).get(assigned_name(node))
        if top is not None:
            value = tuple(value.get(key, "") for key in range(max(key for key in value if key < top) + 1))
            node.value = ast.parse(repr(value), mode="eval").body
        if isinstance(value, (tables.Table, tables.Words)):
            continue
        if isinstance(value, (tuple, int)) and any(isinstance(part, ast.Call) for part in ast.walk(node.value)):
            node.value = ast.parse(repr(value), mode="eval").body
        kept.append(node)
    tree.body = kept


def module_path(module: str) -> Path:
    path = PACKAGE.parent / module.replace(".", "/")
    return path / "__init__.py" if path.is_dir() else path.with_suffix(".py")


def stored_names(tree: ast.Module) -> collections.Counter:
    """How often each name is assigned, including as an argument but not by imports."""
    stored = [node.id for node in ast.walk(tree) if isinstance(node, ast.Name) and not isinstance(node.ctx, ast.Load)]
    return collections.Counter(stored + [node.arg for node in ast.walk(tree) if isinstance(node, ast.arg)])


@functools.cache
def world_of(module: str) -> dict:
    """The names and values at the top level of a package module, found without an import."""
    return world_in(ast.parse(module_path(module).read_text()), module)


def world_in(tree: ast.Module, module: str) -> dict:
    """The same from a tree; skips statements that need more than the package and a few builtins."""
    world: dict = {"__builtins__": MAKERS}
    for node in tree.body:
        if isinstance(node, ast.ImportFrom):
            world |= imported_world(node, module)
        elif isinstance(node, ast.Import):
            world |= {alias.name: LIBRARY[alias.name] for alias in node.names if alias.name in LIBRARY}
        elif assigned_name(node):
            try:
                exec(compile(ast.Module([node], []), module, "exec"), world)
            except (NameError, TypeError, AttributeError, KeyError):
                continue
    return world


def imported_world(node: ast.ImportFrom, module: str) -> dict:
    """What an import brings from the package: local name -> value, or a namespace for a module."""
    source = absolute(node, module)
    if not source.startswith("twinloop"):
        return {}
    there = vars(tables) if source == MAKER else None
    found: dict = {}
    for alias in node.names:
        local = alias.asname or alias.name
        if there is None and module_path(f"{source}.{alias.name}").exists():
            found[local] = SimpleNamespace(**world_of(f"{source}.{alias.name}"))
        elif alias.name in (there or world_of(source)):
            found[local] = (there or world_of(source))[alias.name]
    return found


def numbers_in(tree: ast.Module, world: dict) -> dict[str, int | str]:
    """The numbers and short texts of a module: upper-case names, assigned once at the top level."""
    stored = stored_names(tree)
    names = [name for name in map(assigned_name, tree.body) if name.isupper() and stored[name] == 1]
    return {name: world[name] for name in names if costs_no_object(world.get(name))}


def costs_no_object(value) -> bool:
    """Whether MicroPython keeps this value within the code."""
    return (type(value) is int and abs(value) < SMALL) or (type(value) is str and len(value) <= SHORT)


@functools.cache
def numbers_of(module: str) -> dict[str, int | str]:
    """The same for a module of the package, read from its file."""
    return numbers_in(ast.parse(module_path(module).read_text()), world_of(module))


def imported_numbers(tree: ast.Module, module: str) -> tuple[dict[str, int | str], dict[str, dict[str, int | str]]]:
    """The constants that a module imports: by local name, and by local module name."""
    names: dict[str, int | str] = {}
    modules: dict[str, dict[str, int | str]] = {}
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
    """Replaces names by numbers: `names`, and the constants in `modules` by local module name."""

    def __init__(self, names: dict[str, int | str], modules: dict[str, dict[str, int | str]]):
        self.names = names
        self.modules = modules

    def visit_Name(self, node):  # noqa: N802
        if isinstance(node.ctx, ast.Load) and node.id in self.names:
            return ast.copy_location(number(self.names[node.id]), node)
        return node

    def visit_Attribute(self, node):  # noqa: N802
        if isinstance(node.value, ast.Name) and isinstance(node.ctx, ast.Load):
            found = self.modules.get(node.value.id, {}).get(node.attr)
            if found is not None:
                return ast.copy_location(number(found), node)
        return self.generic_visit(node)


def number(value: int | str) -> ast.expr:
    """A constant as an expression; a negative number is a sign and a number."""
    return ast.Constant(value) if type(value) is str or value >= 0 else ast.UnaryOp(ast.USub(), ast.Constant(-value))


@functools.cache
def lines_of(module: str) -> dict[str, ast.FunctionDef]:
    """The functions of a module to inline, with constants replaced."""
    tree = ast.parse(module_path(module).read_text())
    inliner = Inliner({**imported_numbers(tree, module)[0], **numbers_of(module)}, imported_numbers(tree, module)[1])
    wanted = IN_PLACE.get(module, ())
    return {node.name: inliner.visit(node) for node in tree.body if isinstance(node, ast.FunctionDef) and node.name in wanted}


class Placer(ast.NodeTransformer):
    """Inlines one-line functions. `modules`: local module name -> full name."""

    def __init__(self, modules: dict[str, str]):
        self.modules = modules

    def line(self, call: ast.Call) -> ast.stmt | None:
        """The function's line with the call's arguments, or None for a call that stays."""
        func = call.func
        if not isinstance(func, ast.Attribute) or not isinstance(func.value, ast.Name):
            return None
        found = lines_of(self.modules.get(func.value.id, "")).get(func.attr) if func.value.id in self.modules else None
        if found is None or any(isinstance(node, ast.Call) for arg in call.args for node in ast.walk(arg)):
            return None
        values = dict(zip((arg.arg for arg in found.args.args), call.args, strict=True))

        class Filler(ast.NodeTransformer):
            def visit_Name(self, node):  # noqa: N802
                return copy.deepcopy(values.get(node.id, node))

        return Filler().visit(copy.deepcopy(found.body[-1]))

    def visit_Expr(self, node):  # noqa: N802
        """Inline a call whose value is not used."""
        line = self.line(node.value) if isinstance(node.value, ast.Call) else None
        return node if line is None else line

    def visit_Call(self, node):  # noqa: N802
        """Inline a call whose value is used."""
        self.generic_visit(node)
        line = self.line(node)
        return line.value if isinstance(line, ast.Return) else node


class Truths(ast.NodeTransformer):
    """Asks an integer itself in place of a comparison with 0. No other type is compared with 0."""

    def visit_Compare(self, node):  # noqa: N802
        """`not x` for `x == 0`, which is the same truth value."""
        self.generic_visit(node)
        return ast.UnaryOp(ast.Not(), node.left) if compares_with_0(node, ast.Eq) else node

    def visit_test(self, node):
        """What only its truth matters of: `x` for `x != 0` as well."""
        self.generic_visit(node)
        node.test = truth_of(node.test)
        return node

    visit_If = visit_While = visit_IfExp = visit_test  # noqa: N815

    def visit_UnaryOp(self, node):  # noqa: N802
        """The same behind `not`."""
        self.generic_visit(node)
        if isinstance(node.op, ast.Not):
            node.operand = truth_of(node.operand)
        return node


def compares_with_0(node: ast.expr, kind: type[ast.cmpop]) -> bool:
    """Whether this is one comparison of a kind, of something with 0."""
    if not isinstance(node, ast.Compare) or len(node.ops) != 1 or not isinstance(node.ops[0], kind):
        return False
    right = node.comparators[0]
    return isinstance(right, ast.Constant) and type(right.value) is int and right.value == 0


def truth_of(node: ast.expr) -> ast.expr:
    """An expression that is as true as this one."""
    if isinstance(node, ast.BoolOp):
        node.values = [truth_of(value) for value in node.values]
    return node.left if compares_with_0(node, ast.NotEq) else node


def absolute(node: ast.ImportFrom, module: str) -> str:
    """The absolute name of the module in an import."""
    if node.level == 0:
        return node.module or ""
    parts = module.split(".")[: -node.level]
    return ".".join([*parts, node.module]) if node.module else ".".join(parts)


class DropNumbers(ast.NodeTransformer):
    """Removes imports of inlined names, and of modules from which nothing else is used."""

    def __init__(self, names: dict[str, int | str], modules: dict[str, dict[str, int | str]]):
        self.names = names
        self.modules = modules

    def visit_Module(self, node):  # noqa: N802
        """Note the names that are still used."""
        self.used = {part.id for part in ast.walk(node) if isinstance(part, ast.Name)}
        return self.generic_visit(node)

    def visit_ImportFrom(self, node):  # noqa: N802
        """The import without needless names, or None."""
        node.names = [alias for alias in node.names if self.is_needed(alias.asname or alias.name)]
        return node if node.names else None

    def is_needed(self, local: str) -> bool:
        return local not in self.names and (local not in self.modules or local in self.used)


def slim(source: str, module: str) -> str:
    """The source of a module as it goes on a board. Raises SlimError."""
    tree = ast.parse(source)
    world = world_in(tree, module)
    own = numbers_in(tree, world)
    finish_tables(tree, world, module)
    leave_out_host_texts(tree, module)
    tree.body = [node for node in tree.body if not isinstance(node, ast.ImportFrom) or absolute(node, module) != MAKER]
    names, modules = imported_numbers(tree, module)
    shadowed = stored_names(tree).keys() & (names.keys() | modules.keys())
    if shadowed:
        raise SlimError(f"{module}: {', '.join(sorted(shadowed))}: imported as a constant, but assigned in this module as well")
    # Every module gets the numbers inlined, so no module needs the names.
    tree.body = [node for node in tree.body if assigned_name(node) not in own]
    tree = Placer(module_names(tree, module)).visit(tree)
    tree = DropNumbers(names, modules).visit(Inliner({**names, **own}, modules).visit(tree))
    tree = Truths().visit(tree)
    need_no_host_texts(tree, module)
    return ast.unparse(ast.fix_missing_locations(tree))


def module_names(tree: ast.Module, module: str) -> dict[str, str]:
    """Local name -> full name of each package module that a module imports."""
    found = {}
    for node in tree.body:
        if isinstance(node, ast.ImportFrom):
            source = absolute(node, module)
            found |= {alias.asname or alias.name: f"{source}.{alias.name}" for alias in node.names}
    return found
