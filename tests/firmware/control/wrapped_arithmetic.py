"""The control core with every result of its arithmetic checked: no value may leave the small integers of a 32-bit MicroPython.

On such a board an integer beyond 30 bits and a sign becomes an object on the heap. Calls that return one of their arguments (min,
max) and comparisons make no new value; abs and the sign do, and are checked like the operators.
"""

import ast

from . import core, ranges

CHECK = "checked_integer"


class LeavesSmallIntegersError(Exception):
    """A result was too large, and where that was."""


class Wrapper(ast.NodeTransformer):
    """Wrap every arithmetic operation inside functions; what modules compute at import is constant and checked elsewhere."""

    def __init__(self, module):
        self.module = module
        self.inside = 0
        self.wrapped = 0

    def visit_FunctionDef(self, node):  # noqa: N802
        self.inside += 1
        self.generic_visit(node)
        self.inside -= 1
        return node

    def check(self, node):
        if not self.inside:
            return node
        self.wrapped += 1
        place = ast.Constant(f"{self.module}:{node.lineno}")
        return ast.copy_location(ast.Call(ast.Name(CHECK, ast.Load()), [node, place], []), node)

    def visit_BinOp(self, node):  # noqa: N802
        return self.check(self.generic_visit(node))

    def visit_UnaryOp(self, node):  # noqa: N802
        node = self.generic_visit(node)
        return node if isinstance(node.op, ast.Not) else self.check(node)

    def visit_Call(self, node):  # noqa: N802
        node = self.generic_visit(node)
        return self.check(node) if ast.unparse(node.func) == "abs" else node

    def visit_AugAssign(self, node):  # noqa: N802
        """`a[i] += b` is `a[i] = a[i] + b`: the index has no effect of its own in this core."""
        node = self.generic_visit(node)
        here = ast.parse(ast.unparse(node.target), mode="eval").body
        value = ast.copy_location(ast.BinOp(here, node.op, node.value), node)
        return ast.copy_location(ast.Assign([node.target], self.check(value)), node)


def checked_integer(value, place):
    """The value, when it is a small integer."""
    if not ranges.SMALL_LOW <= value <= ranges.SMALL_HIGH:
        raise LeavesSmallIntegersError(f"{place}: {value}")
    return value


def wrapped_core(*edits):
    """A copy of the control core that checks itself, and how many operations it checks; the edits are made before."""
    changes = {}
    count = 0
    for module in core.MODULES:
        tree = ast.parse((core.CONTROL / f"{module}.py").read_text())
        for edit in edits:
            if edit.module == module:
                edit.change(tree)
        wrapper = Wrapper(module)
        changes[module] = ast.unparse(ast.fix_missing_locations(wrapper.visit(ast.fix_missing_locations(tree))))
        count += wrapper.wrapped
    copy = core.load_changed(changes)
    for module in vars(copy).values():
        setattr(module, CHECK, checked_integer)
    return copy, count
