"""Source whose arithmetic checks itself: results stay small integers of a 32-bit MicroPython.

On such a board an integer beyond 30 bits and a sign is an object on the heap. Operators, the sign
and abs make new values; comparisons, min and max do not.
"""

import ast

from ..control import core, syntax_edits

SMALL_LOW = -(1 << 30)
SMALL_HIGH = (1 << 30) - 1
REFUSE = "refuse_integer"
# The value of an operation, and what becomes of it. A call for each would take twice the time.
CHECK = f"_value if {SMALL_LOW} <= (_value := 0) <= {SMALL_HIGH} else {REFUSE}(_value, 'place')"


class LeavesSmallIntegersError(Exception):
    """A result was too large; says where and what."""


def refuse_integer(value, place):
    raise LeavesSmallIntegersError(f"{place}: {value}")


class Wrapper(ast.NodeTransformer):
    """Wraps every arithmetic operation inside functions; imports compute constants only."""

    def __init__(self, module):
        self.module = module
        self.inside = False
        self.wrapped = 0

    def visit_FunctionDef(self, node):  # noqa: N802
        self.inside = True
        self.generic_visit(node)
        self.inside = False
        return node

    def check(self, node):
        """The node inside an expression that checks its value."""
        if not self.inside:
            return node
        self.wrapped += 1
        checked = ast.parse(CHECK, mode="eval").body
        checked.test.comparators[0].value = node
        checked.orelse.args[1] = ast.Constant(f"{self.module}:{node.lineno}")
        return ast.copy_location(checked, node)

    def visit_BinOp(self, node):  # noqa: N802
        return self.check(self.generic_visit(node))

    def visit_UnaryOp(self, node):  # noqa: N802
        node = self.generic_visit(node)
        return node if isinstance(node.op, ast.Not) else self.check(node)

    def visit_Call(self, node):  # noqa: N802
        node = self.generic_visit(node)
        return self.check(node) if ast.unparse(node.func) == "abs" else node

    def visit_comprehension(self, node):
        """Leave what it goes over: Python allows no assignment there."""
        node.ifs = [self.visit(test) for test in node.ifs]
        return node

    def visit_AugAssign(self, node):  # noqa: N802
        """Rewrite `a[i] += b` as `a[i] = a[i] + b`: no index has side effects."""
        target = ast.parse(ast.unparse(node.target), mode="eval").body
        node = self.generic_visit(node)
        value = self.check(ast.copy_location(ast.BinOp(target, node.op, node.value), node))
        return ast.copy_location(ast.Assign([node.target], value), node)


def checked_core(*edits):
    """A core with these edits that checks itself, and the number of checked operations."""
    edited = syntax_edits.changes(*edits)
    sources, wrapped = {}, 0
    # tables.py runs at imports on a host only.
    for module in set(core.MODULES) - {"tables"}:
        wrapper = Wrapper(module)
        source = edited.get(module) or (core.CONTROL / f"{module}.py").read_text()
        sources[module] = ast.unparse(ast.fix_missing_locations(wrapper.visit(ast.parse(source))))
        wrapped += wrapper.wrapped
    return core.load_changed(sources, {REFUSE: refuse_integer}), wrapped
