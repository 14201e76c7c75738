"""Edits of the control core's syntax tree, which take a protection away: the shipped code has no switch for that.

A function or a constant is named without its module: "latch_over", or "latches.wake" where two modules have one of that name.
A place in a function is named by words that occur there and nowhere else in it: "TANK_OVER = 1", "hottest >=". The smallest
test, call or statement with all the words is meant. Prefixes of imports are left out, for what is found and for new source.
"""

import ast
import copy
import functools
import re
from typing import NamedTuple

from ...mutants.edits import COMPARISONS, children, put
from . import core


class Edit(NamedTuple):
    """One change of one module. `change` gets the tree and returns in how many places it could have changed it."""

    module: str
    what: str
    change: object


@functools.cache
def defined(module):
    """Names of the functions and constants that a module defines."""
    body = ast.parse((core.CONTROL / f"{module}.py").read_text()).body
    constants = {ast.unparse(target) for node in body if isinstance(node, ast.Assign) for target in node.targets}
    return constants | {node.name for node in body if isinstance(node, ast.FunctionDef)}


def home(name):
    """(module, name) of a function or constant of the core, given as `name` or as `module.name`."""
    module, _, name = name.rpartition(".")
    homes = [one for one in core.MODULES if name in defined(one) and module in ("", one)]
    if len(homes) != 1:
        raise AssertionError(f"{name} changed nothing: it is in {' and '.join(homes) or 'no module'}")
    return homes[0], name


def prefixes(tree):
    """The names under which a module imports its neighbours, and which neighbours they are."""
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
    """Lets new source name constants and functions of other modules as the edited module does; imports what it lacks."""

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
    """New source as the edited module has to write it."""
    return Resolver(tree).visit(ast.parse(source, mode=mode)).body


def plain(tree, node):
    """A piece of the module's tree as source without prefixes."""
    return ast.unparse(Stripper(prefixes(tree)).visit(copy.deepcopy(node)))


def words_of(source):
    """Names, numbers and operators of a piece of source."""
    return set(re.findall(r"\w+|[^\w\s()\[\],.:]+", source))


def below(node):
    """(holder, key, child, whether the child is a test) of everything in a piece of the tree, outer before inner."""
    for holder, key, child in children(node):
        by_place = key == "test" or isinstance(node, ast.BoolOp) or (isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not))
        by_place |= isinstance(node, ast.Assign) and isinstance(child, ast.Call)
        yield holder, key, child, isinstance(child, ast.Compare) or by_place
        yield from below(child)


def is_term(child, test):
    """Whether this is a test that is not made of others."""
    negation = isinstance(child, ast.UnaryOp) and isinstance(child.op, ast.Not)
    return test and isinstance(child, ast.expr) and not negation and not isinstance(child, ast.BoolOp)


def is_comparison(child, test):
    return isinstance(child, ast.Compare)


def is_statement(child, test):
    return isinstance(child, ast.stmt)


def is_choice(child, test):
    return isinstance(child, ast.Call) and ast.unparse(child.func) in ("min", "max")


def is_expression(child, test):
    return isinstance(child, ast.expr)


def places(tree, function, kind, words):
    """(holder, key, child) of the smallest pieces of this kind in which all the words occur."""
    wanted = words_of(words)
    nodes = [node for node in tree.body if isinstance(node, ast.FunctionDef) and node.name == function]
    found = [
        (holder, key, child)
        for node in nodes
        for holder, key, child, test in below(node)
        if kind(child, test) and wanted <= words_of(plain(tree, child).split(":\n")[0])
    ]
    return [one for one in found if not any(other[2] in ast.walk(one[2]) for other in found if other[2] is not one[2])]


def edit_of(function, what, kind, words, new):
    """An edit of the place with these words; `new` gets the tree and the old node and returns the new one."""
    module, function = home(function)

    def change(tree):
        found = places(tree, function, kind, words)
        for holder, key, child in found:
            put(holder, key, new(tree, child))
        return len(found)

    return Edit(module, f"{function}: {what}", change)


def never(function, words):
    """The test with these words is taken as false."""
    return edit_of(function, f"never {words}", is_term, words, lambda tree, node: ast.Constant(False))


def always(function, words):
    """The test with these words is taken as true."""
    return edit_of(function, f"always {words}", is_term, words, lambda tree, node: ast.Constant(True))


def edge(function, words):
    """The threshold itself falls on the other side: >= becomes >, and so on."""

    def beside(tree, node):
        return ast.Compare(node.left, [*node.ops[:-1], COMPARISONS[type(node.ops[-1])][0]()], node.comparators)

    return edit_of(function, f"edge of {words}", is_comparison, words, beside)


def gone(function, words):
    """The statement with these words is left out."""
    return edit_of(function, f"without {words}", is_statement, words, lambda tree, node: ast.Pass())


def only(function, words, place):
    """The min or max with these words gives its first (0) or second (1) argument."""
    return edit_of(function, f"argument {place} of {words}", is_choice, words, lambda tree, node: node.args[place])


def trusts(function, sensor):
    """The function takes a sensor as trusted, whatever its status."""
    return of_trust(function, sensor, True)


def doubts(function, sensor):
    """The function takes a sensor as not trusted, whatever its status."""
    return of_trust(function, sensor, False)


def of_trust(function, sensor, trusted):
    """An edit of the test of a sensor's status."""

    def outcome(tree, node):
        return ast.Constant(trusted != isinstance(getattr(node, "ops", [None])[0], ast.Gt))

    def is_trust(child, test):
        words = words_of(ast.unparse(child))
        return is_term(child, test) and ("trusted" in words and sensor in words or f"{sensor}_STATUS" in words)

    return edit_of(function, f"{sensor} {'' if trusted else 'not '}trusted", is_trust, "", outcome)


def ignores(function, *conditions):
    """The function takes conditions of the table as ones that never hold."""
    module, function = home(function)

    def is_condition(child, test):
        return (
            isinstance(child, (ast.Name, ast.Attribute))
            or isinstance(child, ast.Call)
            and ast.unparse(child.func).endswith("holds")
        )

    def change(tree):
        found = [place for condition in conditions for place in places(tree, function, is_condition, condition)]
        for holder, key, child in found:
            put(holder, key, ast.Constant(False if isinstance(child, ast.Call) else 0))
        return len(found) == len(conditions)

    return Edit(module, f"{function}: ignores {' and '.join(conditions)}", change)


def swapped(function, old, new):
    """An expression, written as ast.unparse writes it, is replaced by another."""
    module, function = home(function)

    def change(tree):
        found = [place for place in places(tree, function, is_expression, old) if plain(tree, place[2]) == old]
        for holder, key, _ in found:
            put(holder, key, resolved(tree, new))
        return len(found)

    return Edit(module, f"{function}: {new} in place of {old}", change)


def returns(function, value=None):
    """The function returns a constant and does nothing."""

    def changed(node):
        node.body = [ast.Return(ast.Constant(value))]

    return of_function(function, f"only returns {value}", lambda tree, node: changed(node))


def planted(function, source):
    """A statement is put in front of the function's own ones, after its docstring."""

    def changed(tree, node):
        node.body[1:1] = resolved(tree, source, "exec")

    return of_function(function, f"with {source}", changed)


def of_function(function, what, changed):
    """An edit of a whole function; `changed` gets the tree and the function and changes it."""
    module, function = home(function)

    def change(tree):
        found = [node for node in tree.body if isinstance(node, ast.FunctionDef) and node.name == function]
        for node in found:
            changed(tree, node)
        return len(found)

    return Edit(module, f"{function} {what}", change)


def assignments(tree, name):
    """The assignments of the module to a name."""
    return [node for node in tree.body if isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) == name]


def moved(name, by):
    """A constant is greater by so much."""
    module, name = home(name)

    def change(tree):
        found = assignments(tree, name)
        for node in found:
            node.value = ast.Constant(ast.literal_eval(node.value) + by)
        return len(found)

    return Edit(module, f"{name} moved by {by}", change)


def row_names(tree):
    """The name of each row of the table: its reason, with its conditions where another row has the same reason."""
    (table,) = assignments(tree, "ROWS")
    reasons = [plain(tree, row.elts[2]) for row in table.value.elts]
    conditions = [" | ".join(re.findall(r"\w+", plain(tree, row.elts[0]))) for row in table.value.elts]
    return [
        reason if reasons.count(reason) == 1 else f"{reason}: {condition}"
        for reason, condition in zip(reasons, conditions, strict=True)
    ]


def no_row(name):
    """The row of this name is deleted from the table."""

    def change(tree):
        (table,) = assignments(tree, "ROWS")
        rows = table.value.elts
        kept = [row for row, known in zip(rows, row_names(tree), strict=True) if known != name]
        gone = len(rows) - len(kept)
        rows[:] = kept
        return gone

    return Edit("rules", f"row {name} deleted", change)


@functools.cache
def unedited(source):
    """A source as it is after an edit that changes nothing."""
    return ast.unparse(ast.parse(source))


def edited_source(source, edit):
    """The source after the edit. The edit must hit exactly one place, and must leave another program."""
    tree = ast.parse(source)
    found = edit.change(tree)
    after = ast.unparse(ast.fix_missing_locations(tree))
    if found != 1 or after == unedited(source):
        raise AssertionError(f"the edit of {edit.module} ({edit.what}) changed {found} places")
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
