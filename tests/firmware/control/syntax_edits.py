"""Edits of the control core's syntax tree: how the tests take a protection away. The shipped code has no switch for that.

An edit names a function or a constant, not its module: "latch_over", or "latches.wake" where several modules have one of that name.
Sources are written without the prefixes of imports: TANK_OVER, whether the module says TANK_OVER or s.TANK_OVER.
"""

import ast
import copy
import functools
import re
from typing import NamedTuple

from . import core


class Edit(NamedTuple):
    """One change of one module. `change` gets the tree and returns how many places it changed."""

    module: str
    what: str
    change: object


@functools.cache
def parsed(module):
    """The tree of a shipped module; to be read, not changed."""
    return ast.parse((core.CONTROL / f"{module}.py").read_text())


@functools.cache
def defined(module):
    """The functions and constants that a module defines."""
    names = set()
    for node in parsed(module).body:
        if isinstance(node, ast.FunctionDef):
            names.add(node.name)
        elif isinstance(node, ast.Assign):
            names |= {target.id for target in node.targets if isinstance(target, ast.Name)}
    return names


def home(name):
    """(module, name) of a function or constant of the core, given as `name` or as `module.name`."""
    module, _, name = name.rpartition(".")
    homes = [module] if module else [one for one in core.MODULES if name in defined(one)]
    if len(homes) != 1 or name not in defined(homes[0]):
        raise AssertionError(f"{name} was changed nowhere: {' and '.join(homes) or 'no module'} of the core has it")
    return homes[0], name


def bound(tree):
    """What a module's imports bind: (names of modules with the module they stand for, names taken out of modules)."""
    modules, names = {}, set()
    for node in tree.body:
        if isinstance(node, ast.ImportFrom):
            for alias in node.names:
                if node.module is None:
                    modules[alias.asname or alias.name] = alias.name
                else:
                    names.add(alias.asname or alias.name)
    return modules, names


class Plain(ast.NodeTransformer):
    """Writes an expression without prefixes, and some tests in one spelling: trust in a sensor, a condition, a flag."""

    def __init__(self, modules):
        self.modules = modules

    def visit_Attribute(self, node):  # noqa: N802
        if isinstance(node.value, ast.Name) and node.value.id in self.modules:
            return ast.Name(node.attr, ast.Load())
        return self.generic_visit(node)

    def visit_UnaryOp(self, node):  # noqa: N802
        negated = self.spelled_out(node.operand, "{} > HELD", "{} == 0") if isinstance(node.op, ast.Not) else None
        return negated or self.generic_visit(node)

    def visit_Call(self, node):  # noqa: N802
        return self.spelled_out(node, "{} <= HELD", "{} != 0") or self.generic_visit(node)

    def visit_Compare(self, node):  # noqa: N802
        node = self.generic_visit(node)
        if isinstance(node.left, ast.Subscript) and isinstance(node.ops[0], ast.Eq) and ast.unparse(node.comparators) == "1":
            return ast.Compare(node.left, [ast.NotEq()], [ast.Constant(0)])
        return node

    def spelled_out(self, node, trust, condition):
        """A call of `trusted` or `holds` as the comparison that it stands for, None for anything else."""
        name = ast.unparse(node.func).rpartition(".")[2] if isinstance(node, ast.Call) else ""
        if name not in ("trusted", "holds"):
            return None
        last = ast.unparse(self.visit(copy.deepcopy(node.args[-1])))
        text = trust.format(f"state[{last}_STATUS]") if name == "trusted" else condition.format(f"state[CONDITIONS] & {last}")
        return ast.parse(text, mode="eval").body


def plain(node, modules=()):
    """A piece of source as the edits write it."""
    node = ast.parse(node) if isinstance(node, str) else copy.deepcopy(node)
    return ast.unparse(ast.fix_missing_locations(Plain(modules).visit(node)))


class Resolver(ast.NodeTransformer):
    """Puts the module's own prefixes before the names of new text; what the module does not import is imported."""

    def __init__(self, tree):
        self.tree = tree
        self.modules, self.names = bound(tree)

    def visit_Name(self, node):  # noqa: N802
        own = {one.name for one in self.tree.body if isinstance(one, ast.FunctionDef)}
        own |= {one.targets[0].id for one in self.tree.body if isinstance(one, ast.Assign) and isinstance(one.targets[0], ast.Name)}
        homes = [module for module in core.MODULES if node.id in defined(module)]
        if node.id in own or node.id in self.names or not node.id.isupper() and len(homes) != 1 or not homes:
            return node
        for prefix, module in self.modules.items():
            if module in homes:
                return ast.Attribute(ast.Name(prefix, ast.Load()), node.id, node.ctx)
        self.tree.body.insert(1, ast.ImportFrom(homes[0], [ast.alias(node.id)], 1))
        self.names.add(node.id)
        return node


def resolved(tree, text, mode="exec"):
    """New text as the edited module has to write it."""
    return Resolver(tree).visit(ast.parse(text, mode=mode)).body


@functools.cache
def unedited(source):
    """A source as it is after an edit that changes nothing."""
    return ast.unparse(ast.parse(source))


def edited_source(source, edit):
    """The source after the edit. The edit must hit exactly one place, and must leave another program."""
    tree = ast.parse(source)
    places = edit.change(tree)
    after = ast.unparse(ast.fix_missing_locations(tree))
    if places != 1 or after == unedited(source):
        raise AssertionError(f"the edit of {edit.module} ({edit.what}) changed {places} places")
    return after


def changes(*edits):
    """Sources by module name after the edits, one after the other."""
    sources = {}
    for edit in edits:
        source = sources.get(edit.module) or (core.CONTROL / f"{edit.module}.py").read_text()
        sources[edit.module] = edited_source(source, edit)
    return sources


def without(*edits):
    """A copy of the control core in which the edits were made."""
    return core.load_changed(changes(*edits))


def row_names(tree):
    """What each row of the table is called here: its reason, and its conditions where another row has the same reason."""
    modules, _ = bound(tree)
    rows = module_value(tree, "ROWS").elts
    reasons = [plain(row.elts[2], modules) for row in rows]
    conditions = [plain(row.elts[0], modules).strip("(),").replace(", ", " | ") for row in rows]
    return [
        reason if reasons.count(reason) == 1 else f"{reason}: {condition}"
        for reason, condition in zip(reasons, conditions, strict=True)
    ]


def no_row(name):
    """The row with this name is deleted from the table."""

    def change(tree):
        rows = module_value(tree, "ROWS").elts
        kept = [row for row, known in zip(rows, row_names(tree), strict=True) if known != name]
        places = len(rows) - len(kept)
        rows[:] = kept
        return places

    return Edit("rules", f"row {name} deleted", change)


def functions(tree, name):
    """The functions of this name in the module."""
    return [node for node in tree.body if isinstance(node, ast.FunctionDef) and node.name == name]


def body_gone(function, value=None):
    """The function returns a constant and does nothing."""
    module, function = home(function)

    def change(tree):
        found = functions(tree, function)
        for node in found:
            node.body = [ast.Return(ast.Constant(value))]
        return len(found)

    return Edit(module, f"{function} only returns {value}", change)


class Visitor(ast.NodeTransformer):
    """Changes one function, and counts the places that it changed."""

    def __init__(self, tree):
        self.modules, _ = bound(tree)
        self.places = 0

    def visit_all(self, tree, function):
        """Visit the functions of this name; how many places were changed."""
        for node in functions(tree, function):
            self.visit(node)
        return self.places


class Remover(Visitor):
    """Deletes a statement."""

    def __init__(self, tree, text):
        super().__init__(tree)
        self.text = text

    def generic_visit(self, node):
        super().generic_visit(node)
        if isinstance(node, ast.stmt) and plain(node, self.modules).split("\n")[0] == self.text:
            self.places += 1
            return ast.Pass()
        return node


def statement_gone(function, text):
    """One statement of a function, given by its first line as ast.unparse writes it, is deleted."""
    module, function = home(function)
    return Edit(module, f"{function} without '{text}'", lambda tree: Remover(tree, plain(text)).visit_all(tree, function))


class Swapper(Visitor):
    """Replaces an expression."""

    def __init__(self, tree, old, new):
        super().__init__(tree)
        self.old = old
        self.new = resolved(tree, new, "eval")

    def generic_visit(self, node):
        if isinstance(node, ast.expr) and plain(node, self.modules) == self.old:
            self.places += 1
            return self.new
        return super().generic_visit(node)


def swapped(function, old, new):
    """One expression of a function, given as ast.unparse writes it, is replaced by another."""
    module, function = home(function)
    return Edit(
        module,
        f"{function}: {new} in place of {old}",
        lambda tree: Swapper(tree, plain(old), new).visit_all(tree, function),
    )


class Denier(Visitor):
    """Takes conditions as ones that never hold."""

    def __init__(self, tree, conditions):
        super().__init__(tree)
        self.conditions = conditions

    def generic_visit(self, node):
        if isinstance(node, ast.Call) and ast.unparse(node.func).endswith("holds") and self.names(node.args[-1]):
            self.places += 1
            return ast.Constant(False)
        if self.names(node):
            self.places += 1
            return ast.Constant(0)
        return super().generic_visit(node)

    def names(self, node):
        """Whether this is the name of one of them."""
        return isinstance(node, (ast.Name, ast.Attribute)) and plain(node, self.modules) in self.conditions


def denied(function, *conditions):
    """The function takes conditions of the table as ones that never hold; each must be named in it once."""
    module, function = home(function)

    def change(tree):
        places = Denier(tree, conditions).visit_all(tree, function)
        return places == len(conditions)

    return Edit(module, f"{function} without {' and '.join(conditions)}", change)


class Decider(Visitor):
    """Replaces a comparison by its outcome."""

    def __init__(self, tree, name, outcome):
        super().__init__(tree)
        self.name = name
        self.outcome = outcome

    def generic_visit(self, node):
        if isinstance(node, ast.Compare) and self.name in re.findall(r"\w+", plain(node, self.modules)):
            self.places += 1
            return ast.Constant(self.outcome)
        return super().generic_visit(node)


def decided(function, name, outcome):
    """The one comparison of a function that mentions a name always has this outcome."""
    module, function = home(function)
    return Edit(
        module,
        f"{function}: the comparison with {name} is {outcome}",
        lambda tree: Decider(tree, name, outcome).visit_all(tree, function),
    )


def planted(function, text):
    """A statement is put in front of the function's own ones, after its docstring."""
    module, function = home(function)

    def change(tree):
        found = functions(tree, function)
        for node in found:
            node.body[1:1] = resolved(tree, text)
        return len(found)

    return Edit(module, f"{function} with '{text}'", change)


def constant(name, new):
    """A constant of the module gets another value."""
    module, name = home(name)

    def change(tree):
        found = [node for node in tree.body if isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) == name]
        for node in found:
            node.value = resolved(tree, new, "eval")
        return len(found)

    return Edit(module, f"{name} = {new}", change)


def module_value(tree, name):
    """The value that the module assigns to a name."""
    (node,) = [node for node in tree.body if isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) == name]
    return node.value
