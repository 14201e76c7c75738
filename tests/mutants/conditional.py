"""Mutants that are wrong only somewhere: in one topology, without one sensor, in one duty.

A place in the core is a term of a condition, a returned value, or a statement. It gets a guard,
which is true in one topology, while one sensor has no value, in one duty, while hands hold or
somebody purges, or during an absence. While the guard is true, the term is taken as false, or as
true; the returned value is 0, or its contrary; the statement is left out. Otherwise nothing has
changed, so tests that pin one fact at a time pass.

Mutated are the functions that decide, not the meter. A mutant counts only if it is felt (felt.py):
if in many random lives its guard is true at its place, and the place would act otherwise there.
"""

import ast
from collections import Counter
from pathlib import Path
from typing import NamedTuple

from edits import children, prefixes, put

MODULES = (
    "alarms",
    "coldloop",
    "collect",
    "diagnosis",
    "frost",
    "guard",
    "latches",
    "readings",
    "rules",
    "sequence",
    "station",
    "tank",
)
ARGUMENTS = {"state", "settings", "inputs"}
TOPOLOGIES = ("BYPASS", "SERIES", "NONE")
SENSORS = ("COLLECTOR", "TANK_LOW", "TANK_HIGH", "LOOP_SUPPLY", "LOOP_RETURN", "OUTDOOR", "TAP", "EXCHANGER")
DUTIES = (
    *("IDLE", "CHARGING", "DUMPING", "STAGNATION_HOLD", "FROST_GUARD", "NIGHT_COOLING"),
    *("EXERCISE", "FAULT_STOP", "MAINTENANCE", "HAND"),
)
# Words for people, and the condition in the spelling of a module that imports s and cfg.
GUARDS = (
    *((f"in {name.lower()}", f"settings[cfg.DUMP_TOPOLOGY] == cfg.{name}") for name in TOPOLOGIES),
    *((f"without {name.lower()}", f"not s.trusted(state, s.{name})") for name in SENSORS),
    *((f"in {name.lower()}", f"state[s.DUTY] == s.{name}") for name in DUTIES),
    ("held by hand", "inputs[s.IN_HAND_MASK] != 0"),
    ("purging", "inputs[s.IN_UPKEEP] == s.UPKEEP_PURGE"),
    ("away", "settings[cfg.AWAY] == 1"),
)
IMPORTS = {"s": "from . import state as s", "cfg": "from . import settings as cfg"}


def parsed(source):
    """An expression."""
    return ast.parse(source, mode="eval").body


def is_truth(node):
    """Whether this is a term that is true or false."""
    return isinstance(node, ast.Compare) or (isinstance(node, ast.Constant) and type(node.value) is bool)


def terms(holder, key, node):
    """(holder, key, term) of each term of a condition."""
    if isinstance(node, ast.BoolOp):
        for place, value in enumerate(node.values):
            yield from terms(node.values, place, value)
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not):
        yield from terms(node, "operand", node.operand)
    else:
        yield holder, key, node


def conditions(node):
    """(holder, key, term) of every term of every condition in a function."""
    for holder, key, child in children(node):
        told = isinstance(node, (ast.Return, ast.Assign)) and key == "value"
        if key == "test" or (told and (isinstance(child, ast.BoolOp) or is_truth(child))):
            yield from terms(holder, key, child)
        yield from conditions(child)


def returned(node):
    """(holder, key, value) of every returned value that is no condition."""
    for holder, key, child in children(node):
        if isinstance(node, ast.Return) and key == "value" and not isinstance(child, ast.BoolOp) and not is_truth(child):
            yield holder, key, child
        yield from returned(child)


def statements(node):
    """(holder, key, statement) of everything that is done and may be left out."""
    for holder, key, child in children(node):
        changes = isinstance(child, ast.AugAssign) or (isinstance(child, ast.Expr) and isinstance(child.value, ast.Call))
        changes |= isinstance(child, ast.Assign) and isinstance(child.targets[0], ast.Subscript)
        if changes:
            yield holder, key, child
        yield from statements(child)


class Site(NamedTuple):
    """A place in a function: where it hangs in the tree, and how it goes wrong.

    `kind` is "term", "value" or "statement".
    """

    holder: object
    key: object
    node: object
    kind: str


def sites(function):
    """Every place of a function."""
    found = [Site(*one, "term") for one in conditions(function)]
    found += [Site(*one, "value") for one in returned(function) if ast.unparse(one[2]) != ast.unparse(contrary(one[2]))]
    return found + [Site(*one, "statement") for one in statements(function)]


def contrary(value):
    """What is returned in its place: 0, or 1 for a 0."""
    swaps = isinstance(value, ast.Constant) and value.value in (0, 1)
    return ast.Constant(1 - value.value if swaps else 0)


def wrong(site, guard):
    """(new node, words) for each way in which the place can be wrong under the guard."""
    words, unless = ast.unparse(site.node), ast.UnaryOp(ast.Not(), guard)
    if site.kind == "term":
        yield ast.BoolOp(ast.And(), [site.node, unless]), f"{words} taken as false"
        yield ast.BoolOp(ast.Or(), [guard, site.node]), f"{words} taken as true"
    elif site.kind == "value":
        other = contrary(site.node)
        yield ast.IfExp(guard, other, site.node), f"return {words} becomes {other.value}"
    else:
        yield ast.If(unless, [site.node], []), f"{words} left out"


def deciding(tree):
    """(place, function) of the functions of a module that see state, settings and inputs."""
    for place, node in enumerate(tree.body):
        if isinstance(node, ast.FunctionDef) and {argument.arg for argument in node.args.args} >= ARGUMENTS:
            yield place, node


def matches(name, pattern):
    """Whether this is the name, or one that a pattern with a * for its guard stands for."""
    before, star, after = pattern.partition(": *, ")
    return name == pattern or (bool(star) and name.startswith(before + ": ") and name.endswith(", " + after))


def imports_for(tree):
    """The imports that a module lacks for the guards, as source."""
    known = {alias.asname or alias.name for node in tree.body if isinstance(node, ast.ImportFrom) for alias in node.names}
    return [line for name, line in IMPORTS.items() if name not in known]


class Mutant(NamedTuple):
    """One place that is wrong under one guard; `way` counts the ways, `bit` the guards."""

    name: str
    module: str
    function: str
    line: int
    path: Path
    number: int
    way: int
    bit: int

    @property
    def source(self):
        """The whole module after the edit."""
        tree = ast.parse(self.path.read_text())
        (function,) = (node for _, node in deciding(tree) if node.name == self.function)
        site = sites(function)[self.number]
        new, _ = list(wrong(site, parsed(GUARDS[self.bit][1])))[self.way]
        put(site.holder, site.key, new)
        # The docstring stays first.
        tree.body[1:1] = ast.parse("\n".join(imports_for(tree))).body
        return ast.unparse(ast.fix_missing_locations(tree)) + "\n"


def mutants_of(path):
    """All conditional mutants of a module. Those that read the same are numbered."""
    tree = ast.parse(path.read_text())
    prefix, names, found = prefixes(tree), Counter(), []
    for _, function in deciding(tree):
        for number, site in enumerate(sites(function)):
            for way, (_, words) in enumerate(wrong(site, ast.Constant(True))):
                for bit, (when, _) in enumerate(GUARDS):
                    name = f"{path.stem}.{function.name}: {when}, {prefix.sub('', words)}"
                    names[name] += 1
                    if names[name] > 1:
                        name += f" ({names[name]})"
                    found.append(Mutant(name, path.stem, function.name, site.node.lineno, path, number, way, bit))
    return found


def every_mutant(control):
    """All mutants of a folder, felt or not, sorted by module."""
    paths = sorted(Path(control) / f"{module}.py" for module in MODULES)
    return [one for path in paths if path.exists() for one in mutants_of(path)]


def all_mutants(control, felt):
    """The mutants of a folder that are felt, sorted by module.

    `felt` maps "module.function" to a list of masks, one for each site and way.
    """

    def is_felt(mutant):
        return felt[f"{mutant.module}.{mutant.function}"][mutant.number][mutant.way] >> mutant.bit & 1

    return [mutant for mutant in every_mutant(control) if is_felt(mutant)]
