"""Edits of the core's syntax tree that take a protection away; the core has no switch for that.

A function or constant is named without its module: "latch_over", or "latches.wake" where two
modules have one of that name. A place in a function is named by words that occur only there:
"TANK_OVER = 1", "hottest >="; the smallest test, call or statement with all the words is meant.
Sources, found or new, are written without the prefixes of imports.
"""

import ast
import copy
import functools
import re
from typing import NamedTuple

from ...mutants.edits import COMPARISONS, children, put
from . import core


class Edit(NamedTuple):
    """A change of one module.

    `change(tree, name)` makes it and returns the number of places changed.
    """

    where: str
    what: str
    change: object

    @property
    def module(self):
        """The module that is changed."""
        return home(self.where)


@functools.cache
def defined(module):
    """The functions and constants that a module defines, by name."""
    body = ast.parse((core.CONTROL / f"{module}.py").read_text()).body
    constants = {ast.unparse(target) for node in body if isinstance(node, ast.Assign) for target in node.targets}
    return constants | {node.name for node in body if isinstance(node, ast.FunctionDef)}


def home(where):
    """The module of a function or constant, given as `name` or `module.name`."""
    module, _, name = where.rpartition(".")
    homes = [one for one in core.MODULES if name in defined(one) and module in ("", one)]
    if len(homes) != 1:
        raise AssertionError(f"{where} changed nothing: it is in {' and '.join(homes) or 'no module'}")
    return homes[0]


def prefixes(tree):
    """The prefixes of a module's imports, each with the module that it stands for."""
    imports = [node.names for node in tree.body if isinstance(node, ast.ImportFrom) and node.module is None]
    return {alias.asname or alias.name: alias.name for aliases in imports for alias in aliases}


class Stripper(ast.NodeTransformer):
    """Takes the prefixes off."""

    def __init__(self, names):
        self.names = names

    def visit_Attribute(self, node):  # noqa: N802
        if isinstance(node.value, ast.Name) and node.value.id in self.names:
            return ast.Name(node.attr, ast.Load())
        return self.generic_visit(node)


class Resolver(ast.NodeTransformer):
    """Puts the edited module's prefixes into new source, and imports what the module lacks."""

    def __init__(self, tree):
        self.tree = tree
        self.known = {node.id for node in ast.walk(tree) if isinstance(node, ast.Name)}
        self.known |= {alias.asname or alias.name for node in tree.body if isinstance(node, ast.ImportFrom) for alias in node.names}

    def visit_Name(self, node):  # noqa: N802
        homes = [module for module in core.MODULES if node.id in defined(module)]
        if node.id in self.known or not homes:
            return node
        for prefix, module in prefixes(self.tree).items():
            if module in homes:
                return ast.Attribute(ast.Name(prefix, ast.Load()), node.id, ast.Load())
        self.tree.body.insert(1, ast.ImportFrom(homes[0], [ast.alias(node.id)], 1))
        return node


def resolved(tree, source, mode="eval"):
    """New source in the spelling of the edited module."""
    return Resolver(tree).visit(ast.parse(source, mode=mode)).body


def plain(tree, node):
    """A piece of the module's tree as source without prefixes."""
    return ast.unparse(Stripper(prefixes(tree)).visit(copy.deepcopy(node)))


def words_of(source):
    """Names, numbers and operators of a piece of source."""
    return set(re.findall(r"\w+|[^\w\s()\[\],.:]+", source))


def functions(tree, name):
    """The functions of this name in the module."""
    return [node for node in tree.body if isinstance(node, ast.FunctionDef) and node.name == name]


def below(node):
    """(holder, key, child, is a test) of every node below, outer nodes first."""
    for holder, key, child in children(node):
        by_place = key == "test" or isinstance(node, ast.BoolOp) or (isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not))
        by_place |= isinstance(node, ast.Assign) and isinstance(child, ast.Call)
        yield holder, key, child, isinstance(child, ast.Compare) or by_place
        yield from below(child)


def is_term(child, test):
    """Whether this is a single test: no `and`, `or` or `not`."""
    negation = isinstance(child, ast.UnaryOp) and isinstance(child.op, ast.Not)
    return test and isinstance(child, ast.expr) and not negation and not isinstance(child, ast.BoolOp)


def is_comparison(child, test):
    return isinstance(child, ast.Compare)


def is_statement(child, test):
    return isinstance(child, ast.stmt)


def called(child):
    """The name of the called function without its module; empty when this is no call."""
    return ast.unparse(child.func).rpartition(".")[2] if isinstance(child, ast.Call) else ""


def is_choice(child, test):
    return called(child) in ("min", "max")


def is_trust(child, test):
    return called(child) == "trusted"


def is_condition(child, test):
    return called(child) == "holds"


def is_expression(child, test):
    return isinstance(child, ast.expr)


def places(tree, function, kind, words):
    """(holder, key, child) of the smallest nodes of a kind that contain all the words."""
    wanted = words_of(words)
    found = [
        (holder, key, child)
        for node in functions(tree, function)
        for holder, key, child, test in below(node)
        if kind(child, test) and wanted <= words_of(plain(tree, child).split(":\n")[0])
    ]
    return [one for one in found if not any(other[2] in ast.walk(one[2]) for other in found if other[2] is not one[2])]


def edit_of(function, what, kind, words, new):
    """An edit of the place with these words; `new` gets the old node and returns the new one."""

    def change(tree, name):
        found = places(tree, name, kind, words)
        for holder, key, child in found:
            put(holder, key, new(child))
        return len(found)

    return Edit(function, what, change)


def never(function, words):
    """The test with these words is taken as false."""
    return edit_of(function, f"never {words}", is_term, words, lambda node: ast.Constant(False))


def always(function, words):
    """The test with these words is taken as true."""
    return edit_of(function, f"always {words}", is_term, words, lambda node: ast.Constant(True))


def edge(function, words):
    """The threshold itself changes sides: >= becomes >, and so on."""

    def beside(node):
        return ast.Compare(node.left, [*node.ops[:-1], COMPARISONS[type(node.ops[-1])][0]()], node.comparators)

    return edit_of(function, f"edge of {words}", is_comparison, words, beside)


def gone(function, words):
    """The statement with these words is left out."""
    return edit_of(function, f"without {words}", is_statement, words, lambda node: ast.Pass())


def only(function, words, place):
    """The min or max with these words returns its first (0) or second (1) argument."""
    return edit_of(function, f"argument {place} of {words}", is_choice, words, lambda node: node.args[place])


def trusts(function, sensor):
    """The function trusts a sensor whatever its status."""
    return edit_of(function, f"{sensor} trusted", is_trust, sensor, lambda node: ast.Constant(True))


def doubts(function, sensor):
    """The function does not trust a sensor whatever its status."""
    return edit_of(function, f"{sensor} not trusted", is_trust, sensor, lambda node: ast.Constant(False))


def ignores(function, condition):
    """The function behaves as if a condition of the table never held."""

    def change(tree, name):
        found = places(tree, name, is_condition, condition)
        for holder, key, _ in found:
            put(holder, key, ast.Constant(False))
        return min(len(found), 1)

    return Edit(function, f"ignores {condition}", change)


def swapped(function, old, new):
    """An expression, written as ast.unparse writes it, is replaced by another."""

    def change(tree, name):
        found = [place for place in places(tree, name, is_expression, old) if plain(tree, place[2]) == old]
        for holder, key, _ in found:
            put(holder, key, resolved(tree, new))
        return len(found)

    return Edit(function, f"{new} in place of {old}", change)


def returns(function, value=None):
    """The function returns a constant and does nothing."""

    def change(tree, name):
        for node in functions(tree, name):
            node.body = [ast.Return(ast.Constant(value))]
        return len(functions(tree, name))

    return Edit(function, f"only returns {value}", change)


def planted(function, source):
    """A statement is inserted after the function's docstring."""

    def change(tree, name):
        for node in functions(tree, name):
            node.body[1:1] = resolved(tree, source, "exec")
        return len(functions(tree, name))

    return Edit(function, f"with {source}", change)


def assignments(tree, name):
    """The assignments of the module to a name."""
    return [node for node in tree.body if isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) == name]


def moved(constant, by):
    """A constant is greater by this much."""

    def change(tree, name):
        found = assignments(tree, name)
        for node in found:
            node.value = ast.Constant(ast.literal_eval(node.value) + by)
        return len(found)

    return Edit(constant, f"moved by {by}", change)


def row_names(tree):
    """The name of each row: its reason, plus its conditions where rows share a reason."""
    (table,) = assignments(tree, "ROWS")
    reasons = [plain(tree, row.elts[2]) for row in table.value.elts]
    conditions = [" | ".join(plain(tree, condition) for condition in row.elts[0].elts) for row in table.value.elts]
    return [
        reason if reasons.count(reason) == 1 else f"{reason}: {condition}"
        for reason, condition in zip(reasons, conditions, strict=True)
    ]


def no_row(row):
    """The row of this name is deleted from the table."""

    def change(tree, _):
        (table,) = assignments(tree, "ROWS")
        rows = table.value.elts
        kept = [one for one, known in zip(rows, row_names(tree), strict=True) if known != row]
        gone = len(rows) - len(kept)
        rows[:] = kept
        return gone

    return Edit("rules.ROWS", f"{row} deleted", change)


@functools.cache
def unedited(source):
    """A source as an edit without effect would leave it."""
    return ast.unparse(ast.parse(source))


def edited_source(source, edit):
    """The source after the edit, which has to hit exactly one place and change the program."""
    tree = ast.parse(source)
    found = edit.change(tree, edit.where.rpartition(".")[2])
    after = ast.unparse(tree)
    if found != 1 or after == unedited(source):
        raise AssertionError(f"{edit.where}, {edit.what}: changed {found} places")
    return after


def changes(*edits):
    """Sources by module name after all edits."""
    sources = {}
    for edit in edits:
        source = sources.get(edit.module) or (core.CONTROL / f"{edit.module}.py").read_text()
        sources[edit.module] = edited_source(source, edit)
    return sources


def without(*edits):
    """A copy of the control core with these edits."""
    return core.load_changed(changes(*edits))
