"""Edits of the control core's syntax tree: how the tests take a protection away. The shipped code has no switch for that."""

import ast
import functools
from typing import NamedTuple

from . import core


class Edit(NamedTuple):
    """One change of one module. `change` gets the tree and returns how many places it changed."""

    module: str
    what: str
    change: object


@functools.cache
def plain(source):
    """A source as it is after an edit that changes nothing."""
    return ast.unparse(ast.parse(source))


def edited_source(source, edit):
    """The source after the edit. The edit must hit exactly one place, and must leave another program."""
    tree = ast.parse(source)
    places = edit.change(tree)
    after = ast.unparse(ast.fix_missing_locations(tree))
    if places != 1 or after == plain(source):
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
    rows = module_value(tree, "ROWS").elts
    reasons = [ast.unparse(row.elts[2]).removeprefix("why.") for row in rows]
    conditions = [ast.unparse(row.elts[0]) for row in rows]
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


def body_gone(module, function, value=None):
    """The function returns a constant and does nothing."""

    def change(tree):
        found = [node for node in tree.body if isinstance(node, ast.FunctionDef) and node.name == function]
        for node in found:
            node.body = [ast.Return(ast.Constant(value))]
        return len(found)

    return Edit(module, f"{function} only returns {value}", change)


def statement_gone(module, function, text):
    """One statement of a function, given by its first line as ast.unparse writes it, is deleted."""

    class Remover(ast.NodeTransformer):
        places = 0

        def generic_visit(self, node):
            super().generic_visit(node)
            if isinstance(node, ast.stmt) and ast.unparse(node).split("\n")[0] == text:
                self.places += 1
                return ast.Pass()
            return node

    return Edit(module, f"{function} without '{text}'", lambda tree: visit_function(tree, function, Remover()))


def swapped(module, function, old, new):
    """One expression of a function, given as ast.unparse writes it, is replaced by another."""

    class Swapper(ast.NodeTransformer):
        places = 0

        def generic_visit(self, node):
            if isinstance(node, ast.expr) and ast.unparse(node) == old:
                self.places += 1
                return ast.parse(new, mode="eval").body
            return super().generic_visit(node)

    return Edit(module, f"{function}: {new} in place of {old}", lambda tree: visit_function(tree, function, Swapper()))


def planted(module, function, text):
    """A statement is put in front of the function's own ones, after its docstring."""

    def change(tree):
        found = [node for node in tree.body if isinstance(node, ast.FunctionDef) and node.name == function]
        for node in found:
            node.body[1:1] = ast.parse(text).body
        return len(found)

    return Edit(module, f"{function} with '{text}'", change)


def constant(module, name, new):
    """A constant of the module gets another value."""

    def change(tree):
        found = [node for node in tree.body if isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) == name]
        for node in found:
            node.value = ast.parse(new, mode="eval").body
        return len(found)

    return Edit(module, f"{name} = {new}", change)


def module_value(tree, name):
    """The value that the module assigns to a name."""
    (node,) = [node for node in tree.body if isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) == name]
    return node.value


def visit_function(tree, function, visitor):
    """Let a visitor change one function of the module; how many places it changed."""
    for node in tree.body:
        if isinstance(node, ast.FunctionDef) and node.name == function:
            visitor.visit(node)
    return visitor.places
