"""The mutants of the control core: small edits of the syntax tree, as slips of the hand make them.

Comparisons (to their neighbour and their contrary), boolean and arithmetic operators, signs,
constants (one step of their unit up and down; 0 and 1 swapped), min and max, the branches of `if`
expressions, calls used as conditions, statements left out, rows left out, conditions of a row left
out, returned names replaced by 0. Not mutated: numbers that are names (indices, codes, bits), the
rows of the settings, texts. Tests compare those whole.
"""

import ast
import copy
import re
from collections import Counter
from functools import reduce
from pathlib import Path
from typing import NamedTuple

# Numbers with a meaning: in these modules the named constants only, in others all but bits and
# marks.
ONLY = {
    "state": ("TIMER_TOP_MS", "STEP_TOP_MS", "UNKNOWN_MC", "RESETS_LIMIT", "SENSOR_ROWS"),
    "settings": ("BOILING_KPA", "BOILING_MC"),
    "conditions": (),
    "tables": (),
    "rules": ("ROWS",),
    "reasons": (),
    "__init__": (),
}
MARKS = ("ALARM_", "ARMED")
# One step: a kelvin, a step of the station; 1 without a unit.
STEPS = {"_MC": 1000, "_MK": 1000, "_MS": 5000}
# Numbers of this size inside functions are temperatures or times.
LARGE = 1000

COMPARISONS = {
    ast.Lt: (ast.LtE, ast.GtE),
    ast.LtE: (ast.Lt, ast.Gt),
    ast.Gt: (ast.GtE, ast.LtE),
    ast.GtE: (ast.Gt, ast.Lt),
    ast.Eq: (ast.NotEq,),
    ast.NotEq: (ast.Eq,),
    ast.In: (ast.NotIn,),
    ast.NotIn: (ast.In,),
}
OPERATORS = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.FloorDiv,
    ast.FloorDiv: ast.Mult,
    ast.Mod: ast.FloorDiv,
    ast.BitAnd: ast.BitOr,
    ast.BitOr: ast.BitAnd,
    ast.BitXor: ast.BitOr,
    ast.LShift: ast.RShift,
    ast.RShift: ast.LShift,
}
CALLS = {"min": "max", "max": "min"}


# What the name of a conditional mutant says behind its function.
WHEN = re.compile(r": (\*|in \w+|without \w+|held by hand|purging|away), ")


class Mutant(NamedTuple):
    """One edit: where, what, and the whole module after it.

    `name` stays the same while that function does.
    """

    name: str
    module: str
    function: str
    line: int
    source: str


def changed(node, **fields):
    """A copy of the node with other fields."""
    other = copy.copy(node)
    for field, value in fields.items():
        setattr(other, field, value)
    return other


def other_constants(node, step):
    """A number one step up and down (step 0: by its size); 0, 1 and truth values swapped."""
    if type(node.value) is bool:
        return [changed(node, value=not node.value)]
    if type(node.value) is not int:
        return []
    if node.value in (0, 1):
        return [changed(node, value=1 - node.value)]
    step = step or (LARGE if node.value >= LARGE else 1)
    return [changed(node, value=node.value + step), changed(node, value=node.value - step)]


def negated_calls(node):
    """Each call in an `and` or `or`, negated."""
    for place, value in enumerate(node.values):
        if isinstance(value, ast.Call):
            yield changed(node, values=[*node.values[:place], ast.UnaryOp(ast.Not(), value), *node.values[place + 1 :]])


def other_expressions(node, step):
    """What an expression can be mistaken for."""
    if isinstance(node, ast.Compare) and len(node.ops) == 1:
        return [changed(node, ops=[kind()]) for kind in COMPARISONS.get(type(node.ops[0]), ())]
    if isinstance(node, ast.BoolOp):
        return [changed(node, op=ast.Or() if isinstance(node.op, ast.And) else ast.And()), *negated_calls(node)]
    if isinstance(node, ast.BinOp) and type(node.op) in OPERATORS:
        return [changed(node, op=OPERATORS[type(node.op)]())]
    if isinstance(node, ast.UnaryOp) and isinstance(node.op, (ast.Not, ast.USub)):
        return [node.operand]
    if isinstance(node, ast.IfExp):
        return [changed(node, body=node.orelse, orelse=node.body)]
    if isinstance(node, ast.Call) and ast.unparse(node.func) in CALLS:
        return [changed(node, func=ast.Name(CALLS[node.func.id], ast.Load()))]
    if isinstance(node, ast.Call) and ast.unparse(node.func) == "abs":
        return [node.args[0]]
    if isinstance(node, ast.Constant):
        return other_constants(node, step)
    return []


def other_statements(node, function):
    """Left out, an operator exchanged, a called condition negated, a returned name zeroed."""
    found = []
    if isinstance(node, ast.AugAssign) and type(node.op) in OPERATORS:
        found.append(changed(node, op=OPERATORS[type(node.op)]()))
    if isinstance(node, (ast.If, ast.While)) and isinstance(node.test, (ast.Call, ast.Name)):
        found.append(changed(node, test=ast.UnaryOp(ast.Not(), node.test)))
    if isinstance(node, ast.Return) and is_name_of_number(node.value):
        found.append(changed(node, value=ast.Constant(0)))
    if not is_needed(node, function):
        found.append(ast.Pass())
    return found


def is_name_of_number(node):
    """Whether this is LIMIT, or s.LIMIT."""
    return isinstance(node, (ast.Name, ast.Attribute)) and ast.unparse(node).rpartition(".")[2].isupper()


def is_needed(node, function):
    """Whether leaving it out is only a program error: a local's one assignment, the last return."""
    if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
        return True
    if isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name):
        stores = [one for one in ast.walk(function) if isinstance(one, ast.Name) and isinstance(one.ctx, ast.Store)]
        return [one.id for one in stores].count(node.targets[0].id) == 1
    return isinstance(node, ast.Pass) or (isinstance(node, ast.Return) and node is function.body[-1])


def children(node):
    """(holder, key, child) of every child, so that `holder[key]` or the field can be exchanged."""
    for field, value in ast.iter_fields(node):
        if isinstance(value, list):
            for place, item in enumerate(value):
                if isinstance(item, ast.AST):
                    yield value, place, item
        elif isinstance(value, ast.AST):
            yield node, field, value


def put(holder, key, node):
    """Exchange one child."""
    if isinstance(holder, list):
        holder[key] = node
    else:
        setattr(holder, key, node)


def edits_below(node, step, function=None):
    """(holder, key, old, new) for every edit in a piece of the tree."""
    for holder, key, child in children(node):
        if isinstance(child, ast.stmt):
            for other in other_statements(child, function):
                yield holder, key, child, other
        elif isinstance(child, ast.expr):
            for other in other_expressions(child, step):
                yield holder, key, child, other
        yield from edits_below(child, step, function)


def row_edits(rows):
    """Rows left out, and conditions left out of a row that has several."""
    for place, row in enumerate(rows.elts):
        yield rows, "elts", rows.elts, rows.elts[:place] + rows.elts[place + 1 :]
        conditions = operands(row.elts[0])
        for gone in range(len(conditions) if len(conditions) > 1 else 0):
            yield row.elts, 0, row.elts[0], joined(row.elts[0], conditions[:gone] + conditions[gone + 1 :])


def operands(node):
    """The parts of `A | B | C`, or of `(A, B, C)`."""
    if isinstance(node, ast.Tuple):
        return node.elts
    return [*operands(node.left), node.right] if isinstance(node, ast.BinOp) else [node]


def joined(node, parts):
    """These parts in the form of the node that they come from."""
    if isinstance(node, ast.Tuple):
        return ast.Tuple(parts, ast.Load())
    return reduce(lambda one, other: ast.BinOp(one, ast.BitOr(), other), parts)


def is_meant(module, node):
    """Whether a constant is a number with a meaning, or a row of a table that is meant."""
    name = ast.unparse(node.targets[0])
    if module not in ONLY:
        return name.isupper() and not name.startswith(MARKS)
    table = isinstance(node.value, ast.Call) and ast.unparse(node.value.func).removesuffix(".add")
    return name in ONLY[module] or table in ONLY[module]


def pieces(module, tree):
    """(place, name, edits) of every function and every constant with a meaning."""
    for place, node in enumerate(tree.body):
        if isinstance(node, ast.FunctionDef):
            yield place, node.name, edits_below(node, 0, node)
        elif isinstance(node, ast.Assign) and is_meant(module, node):
            name = ast.unparse(node.targets[0])
            if name == "ROWS":
                yield place, name, row_edits(node.value)
            else:
                step = next((step for unit, step in STEPS.items() if name.endswith(unit)), 1)
                yield place, name, edits_below(node, step)


def prefixes(tree):
    """A pattern for the prefixes of a module's imports: `s.` for `from . import state as s`."""
    imports = [node.names for node in tree.body if isinstance(node, ast.ImportFrom) and node.module is None]
    names = [alias.asname or alias.name for aliases in imports for alias in aliases]
    return re.compile(rf"\b(?:{'|'.join(names)})\.(?=\w)" if names else "(?!)")


def text(old, new):
    """The edit as people read it."""
    if isinstance(old, list):
        gone = next(row for row in old if row not in new)
        return f"{ast.unparse(gone)} left out"
    if isinstance(new, ast.Pass):
        return f"{ast.unparse(old).splitlines()[0]} left out"
    return f"{ast.unparse(old).splitlines()[0]} -> {ast.unparse(new).splitlines()[0]}"


def mutants_of(path):
    """All mutants of a module. Edits of a function that read the same are numbered."""
    module = path.stem
    tree = ast.parse(path.read_text())
    parts = [ast.unparse(node) for node in tree.body]
    prefix = prefixes(tree)
    found, names = [], Counter()
    for place, function, edits in pieces(module, tree):
        seen = {parts[place]}
        for holder, key, old, new in edits:
            put(holder, key, new)
            part = ast.unparse(ast.fix_missing_locations(tree.body[place]))
            put(holder, key, old)
            if part in seen:
                continue
            seen.add(part)
            name = f"{module}.{function}: {prefix.sub('', text(old, new))}"
            names[name] += 1
            if names[name] > 1:
                name += f" ({names[name]})"
            line = (old[0] if isinstance(old, list) else old).lineno
            found.append(Mutant(name, module, function, line, "\n\n".join([*parts[:place], part, *parts[place + 1 :]]) + "\n"))
    return found


def all_mutants(control):
    """Every mutant of a folder, sorted by module."""
    return [mutant for path in sorted(Path(control).glob("*.py")) for mutant in mutants_of(path)]


def explained(page, conditional=False):
    """Names of the survivors that a page explains, one per line: - `name`: sentence.

    Those of conditional mutants say when. They may be patterns: `module.function: *, term taken as
    true` is one place under any guard.
    """
    lines = [line for line in page.read_text().splitlines() if line.startswith("- `") and "`: " in line]
    names = {line[3:].split("`: ")[0] for line in lines}
    return {name for name in names if bool(WHEN.search(name)) == conditional}
