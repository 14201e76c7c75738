"""Functions with one caller, written in its place.

A function costs a head, a name and a call. One that only one place calls, and that no other module
may mention, goes into that place if nothing but an expression or a few statements remains of it.
"""

from __future__ import annotations

import ast
import copy
from collections import Counter

from .slim import stored_names

# In their caller these would make a frame of more than eleven words, which goes to the heap.
KEPT = frozenset(
    {
        *("count_cooled", "grow_old", "judge_air", "limit_doubt", "near_mk", "note_leaving", "note_left"),
        *("release_all", "stuck", "watch_air", "watch_back", "watch_plates", "wear", "weigh"),
    }
)
SCOPES = (ast.Lambda, ast.ListComp, ast.SetComp, ast.DictComp, ast.GeneratorExp)
UNFIT = (*SCOPES, ast.Yield, ast.Global, ast.Nonlocal, ast.Import, ast.ImportFrom, ast.Try, ast.With, ast.NamedExpr, ast.Delete)


def names_in(node: ast.AST, kind: type | tuple[type, ...]) -> Counter:
    """How often each name occurs that is loaded, or stored."""
    return Counter(part.id for part in ast.walk(node) if isinstance(part, ast.Name) and isinstance(part.ctx, kind))


def has(nodes: list, kinds: type | tuple[type, ...]) -> bool:
    return any(isinstance(part, kinds) for node in nodes for part in ast.walk(node))


def arguments_of(function: ast.FunctionDef) -> list[str]:
    return [arg.arg for arg in function.args.args]


class Uses:
    """What a module uses: names, calls by name, and what is around each part."""

    def __init__(self, tree: ast.Module):
        self.parents: dict[ast.AST, ast.AST] = {}
        self.calls: dict[str, ast.Call] = {}
        self.loaded: Counter = Counter()
        self.stored = stored_names(tree)
        for node in ast.walk(tree):
            self.parents.update(dict.fromkeys(ast.iter_child_nodes(node), node))
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
                self.calls[node.func.id] = node
            if isinstance(node, ast.Name) and isinstance(node.ctx, ast.Load):
                self.loaded[node.id] += 1

    def is_called_once(self, name: str) -> bool:
        """Whether the module does nothing with a name but call it in one place."""
        return self.loaded[name] == 1 and name in self.calls and not self.stored[name]


class Place:
    """The only call of a function, and where it stands; `fits` unless that is beyond us."""

    def __init__(self, uses: Uses, function: ast.FunctionDef):
        self.function = function
        self.body = function.body[1:] if ast.get_docstring(function) is not None else function.body
        self.parents = uses.parents
        self.call = uses.calls[function.name]
        self.around = self.ways_up()
        callers = [node for node in self.around if isinstance(node, ast.FunctionDef)]
        self.caller = callers[0] if len(callers) == 1 else None
        self.values = dict(zip(arguments_of(function), self.call.args, strict=False))
        self.fits = bool(self.body) and self.caller not in (None, function) and self.is_plain() and self.means_the_same()

    def ways_up(self) -> list[ast.AST]:
        """What is around the call, from inside to outside."""
        found, node = [], self.call
        while node in self.parents:
            node = self.parents[node]
            found.append(node)
        return found

    def is_plain(self) -> bool:
        """Whether function and call have nothing special."""
        every = self.function.args
        plain = not (every.defaults or every.vararg or every.kwonlyargs or every.kwarg or self.function.decorator_list)
        same = len(self.call.args) == len(every.args) and not self.call.keywords
        inside = self.around[: self.around.index(self.caller)]
        return plain and same and not has(self.body, UNFIT) and not any(isinstance(node, SCOPES) for node in inside)

    def means_the_same(self) -> bool:
        """Whether each name and each argument has the same value in the caller."""
        stored, loaded = names_in(self.function, ast.Store), names_in(self.function, ast.Load)
        theirs = names_in(self.caller, ast.Store).keys() | {*arguments_of(self.caller)}
        ours = loaded.keys() - self.values.keys() - stored.keys()
        if theirs & (ours | stored.keys()) or stored.keys() & self.values.keys():
            return False
        late = [name for name, value in self.values.items() if not isinstance(value, (ast.Name, ast.Constant))]
        if any(loaded[name] > 1 for name in late):
            return False
        return not late or not (changes(self.body) or has([self.values[name] for name in late], ast.Call))

    def filled(self, node):
        """A copy with the arguments of the call."""
        values = self.values

        class Filler(ast.NodeTransformer):
            def visit_Name(self, node):  # noqa: N802
                return copy.deepcopy(values.get(node.id, node))

        return Filler().visit(copy.deepcopy(node))

    def asks_truth(self) -> bool:
        """Whether the caller only asks if the value is true."""
        node: ast.AST = self.call
        for above in self.around:
            if isinstance(above, ast.UnaryOp) and isinstance(above.op, ast.Not):
                return True
            if isinstance(above, (ast.If, ast.While, ast.IfExp)):
                return above.test is node
            if not isinstance(above, ast.BoolOp):
                return False
            node = above
        return False

    def write(self) -> bool:
        """Write the function in the place of the call, if that is possible."""
        above = self.around[0]
        if isinstance(above, ast.Expr) and not has(self.body, ast.Return):
            replace(self.around[1], above, [self.filled(line) for line in self.body])
            return True
        value = expression(self.body, self.asks_truth())
        if value is None:
            return False
        replace(above, self.call, [self.filled(value)])
        return True


def changes(body: list[ast.stmt]) -> bool:
    """Whether these statements may change anything."""
    return has(body, ast.Call) or any(isinstance(getattr(part, "ctx", None), ast.Store) for line in body for part in ast.walk(line))


def replace(above: ast.AST, old: ast.AST, new: list) -> None:
    """Put nodes in the place of one right below another; an expression is one node."""
    for field, value in ast.iter_fields(above):
        if value is old:
            setattr(above, field, new[0])
        elif isinstance(value, list) and any(part is old for part in value):
            place = next(index for index, part in enumerate(value) if part is old)
            value[place : place + 1] = new


def expression(body: list[ast.stmt], truth: bool) -> ast.expr | None:
    """The value of these statements as one expression, or as one that is as true; else None."""
    last = body[-1]
    if not isinstance(last, ast.Return) or last.value is None:
        return None
    value = last.value
    for line in reversed(body[:-1]):
        if not isinstance(line, ast.If) or line.orelse or len(line.body) != 1:
            return None
        result = line.body[0]
        if not isinstance(result, ast.Return) or result.value is None:
            return None
        value = either(line.test, result.value, value, truth)
    return value


def either(test: ast.expr, first: ast.expr, second: ast.expr, truth: bool) -> ast.expr:
    """`first if test else second`; shorter where only the truth counts and `first` is known."""
    if not truth or not isinstance(first, ast.Constant):
        return ast.IfExp(test, first, second)
    if first.value:
        return ast.BoolOp(ast.Or(), [test, second])
    return ast.BoolOp(ast.And(), [ast.UnaryOp(ast.Not(), test), second])


def write_once(source: str, mentioned: frozenset[str]) -> str:
    """The source with functions in their only callers; `mentioned` are names that others use."""
    tree = ast.parse(source)
    uses, again = Uses(tree), True
    while again:
        again = False
        for function in [node for node in tree.body if isinstance(node, ast.FunctionDef)]:
            if function.name in mentioned | KEPT or not uses.is_called_once(function.name):
                continue
            place = Place(uses, function)
            if place.fits and place.write():
                tree.body.remove(function)
                uses, again = Uses(tree), True
    return ast.unparse(ast.fix_missing_locations(tree))
