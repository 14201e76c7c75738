"""Short names: what is renamed, what stays, and what each exception is for."""

import ast
import builtins

import pytest
from twinloop_hil.board import short_names
from twinloop_hil.board.slim import SlimError
from twinloop_hil.firmware_files import PACKAGE

NOTHING = frozenset()


def arguments_in(source, named=NOTHING):
    """The source with short arguments."""
    tree = ast.parse(source)
    short_names.short_arguments(tree, named)
    return ast.unparse(tree)


def run(source, named=NOTHING):
    """What a source leaves in `found` when it runs with short arguments."""
    world = {}
    exec(arguments_in(source, named), world)
    return world["found"]


def known_of(*sources):
    return short_names.look_up([ast.parse(source) for source in sources])


def test_arguments_get_words_of_the_rom():
    source = "def far(state, settings):\n    return state[settings] and (lambda mk: mk + 1)(state)"
    assert short_names.shorten(source, NOTHING) == ("def far(self, args):\n    return self[args] and (lambda self: self + 1)(self)")


def test_the_words_cost_nothing(tmp_path):
    """An .mpy file holds none of them as text, but it does hold any other argument."""
    from twinloop_hil.board import image

    def compiled(names):
        (tmp_path / "words.py").write_text(f"def f({', '.join(names)}):\n    pass\n")
        return image.compile_module(tmp_path / "words.py", "words.py")

    words = (*short_names.WORDS, *short_names.MORE_WORDS)
    assert not [word for word in words if word.encode() + b"\0" in compiled(words)]
    assert b"settings\0" in compiled(["settings"])
    assert len(words) == len(set(words))
    # A function may use any builtin beside its arguments.
    assert not set(short_names.WORDS) & set(dir(builtins))


def test_what_a_call_names_stays():
    """Its negative: renamed, the call fails."""
    source = "def keep(value, limit):\n    return value - limit\nfound = keep(7, limit=2)"
    assert run(source, known_of(source).named) == 5
    with pytest.raises(TypeError, match="unexpected keyword argument 'limit'"):
        run(source)


def test_the_firmware_names_arguments():
    """Those of chips in port.py, those in main.py; no word is among them."""
    named = short_names.on_boards().named
    assert {"value", "separators", "trigger", "callback"} <= named
    assert not named & set(short_names.WORDS)


HIDDEN = (
    *(
        "f(**facts)",
        "eval(text)",
        "exec(text)",
        "locals()",
        "vars()",
        "desk.__dict__",
        "getattr(desk, name)",
        "setattr(desk, 'a', 1)",
    ),
    *("class Bus(SPI):\n    pass", "class Bus(metaclass=Kind):\n    pass", "def f(self):\n    pass", "self = 1"),
    *("class C:\n    def f(desk, self):\n        pass", "class C:\n    def __getattr__(self, name):\n        pass"),
)


@pytest.mark.parametrize("source", HIDDEN)
def test_what_may_reach_a_name_unseen_is_refused(source):
    with pytest.raises(SlimError) as caught:
        known_of(source)
    assert "\n" not in str(caught.value)


CLASS = "class Door:\n    def __init__(self, wide):\n        self.opened = wide\n    def far(self):\n        return self.opened\n"


def test_an_attribute_of_our_own_gets_a_word():
    known = known_of(CLASS)
    assert known.attributes == {"opened": "abs"}
    assert "self.abs = args" in short_names.shorten(CLASS, known)
    assert "return self.abs" in short_names.shorten(CLASS, known)


@pytest.mark.parametrize(
    "other",
    [
        *("door.opened", "getattr(door, 'opened')", "hasattr(door, 'opened')", "import opened", "from door import opened"),
        *("class Other:\n    opened = 1", "class Other:\n    def opened(self):\n        pass", "def opened():\n    pass"),
    ],
)
def test_an_attribute_that_others_may_use_stays(other):
    assert known_of(CLASS, other).attributes == {}


def test_a_word_is_no_other_attribute_of_ours():
    """Neither one that a class has already, nor a word twice."""
    source = CLASS.replace("far", "abs").replace("self.opened = wide", "self.opened = self.any = self.closed = wide")
    known = known_of(source)
    assert known.attributes == {"closed": "all", "opened": "append"}
    found = short_names.on_boards().attributes
    assert len(found) == len(set(found.values())) > 60


def test_a_program_that_looks_in_uses_the_same_words():
    source = "class Probe:\n\n    def opened(self):\n        return door.opened\n\nwide = Probe().opened()"
    assert short_names.shorten_program(source, known_of(CLASS)) == ast.unparse(ast.parse(source.replace("opened", "abs")))


CONSTANT = "RATES = (1, 2)\nnext = 3\ndef rate(k):\n    return RATES[k] + next\n"


def test_a_constant_of_one_module_gets_a_word():
    short = short_names.shorten(CONSTANT, known_of(CONSTANT))
    assert short.startswith("abs = (1, 2)\nnext = 3\n")
    assert "return abs[self] + next" in short


@pytest.mark.parametrize("other", ["rates.RATES", "from .rates import RATES", "getattr(rates, 'RATES')"])
def test_a_constant_that_others_mention_stays(other):
    assert short_names.shorten(CONSTANT, known_of(CONSTANT, other)).startswith("RATES = (1, 2)")


@pytest.mark.parametrize(
    "more",
    [
        *(
            "RATES = ()",
            "def f(RATES):\n    pass",
            "def f():\n    global RATES",
            "def f():\n    RATES = 1",
            "class RATES:\n    pass",
        ),
        *("try:\n    f()\nexcept OSError as RATES:\n    pass", "def RATES():\n    pass"),
    ],
)
def test_a_constant_with_two_meanings_stays(more):
    assert short_names.shorten(CONSTANT + more, known_of(CONSTANT)).startswith("RATES = (1, 2)")


# Each leaves in `found` what it does.
INNER = {
    "a comprehension's own variable": "def f(item):\n    return [item for item in (1, 2)], item\nfound = f(5)",
    "an inner argument": "def f(item):\n    return (lambda item: item * 2)(3), item\nfound = f(5)",
    "an inner function's variable": "def f(it):\n    def g():\n        it = 2\n        return it\n    return g(), it\nfound = f(5)",
    "an import": "def f(math):\n    import math\n    return math.floor(2.5)\nfound = f(5)",
    "a fault": "def f(e):\n    try:\n        1 // e\n    except ZeroDivisionError as e:\n        return str(e)\nfound = f(0)",
    "a default from outside": "item = 3\ndef f(item, other=item):\n    return item, other\nfound = f(5)",
    "a word that is taken": "def f(item):\n    self = 4\n    return self, item\nfound = f(5)",
    "a word from outside": "self = 4\ndef f(item):\n    return self, item\nfound = f(5)",
    "an outer argument": "def f(item):\n    return (lambda other: (item, other))(3)\nfound = f(5)",
    "a nonlocal": "def f(item):\n    def g():\n        nonlocal item\n        item = 2\n    g()\n    return item\nfound = f(5)",
    "a class": "def f(item):\n    class C:\n        item = 2\n    return C.item, item\nfound = f(5)",
    "all the rest": "def f(item, *rest, **named):\n    return item, rest, named\nfound = f(5, 6, seven=7)",
}


@pytest.mark.parametrize("case", INNER)
def test_a_renamed_function_does_the_same(case):
    world = {}
    exec(INNER[case], world)
    assert run(INNER[case]) == world["found"]


@pytest.mark.parametrize("case", ["an inner argument", "an import", "a fault", "a nonlocal", "a class"])
def test_names_bound_inside_have_to_stay(case, monkeypatch):
    """Negative: renamed all the same, something else comes out, or nothing does."""
    monkeypatch.setattr(short_names, "bound_inside", lambda parts: set())
    check_broken(case)


@pytest.mark.parametrize("case", ["a word that is taken", "a word from outside"])
def test_words_in_use_have_to_stay(case, monkeypatch):
    monkeypatch.setattr(short_names, "free_words", lambda parts, taken: list(short_names.WORDS))
    check_broken(case)


def check_broken(case):
    world = {}
    exec(INNER[case], world)
    try:
        found = run(INNER[case])
    except (NameError, SyntaxError, AttributeError):
        return
    assert found != world["found"]


def test_every_function_of_the_firmware_keeps_its_shape():
    """Same functions, same number of arguments, and every argument distinct."""
    named = short_names.on_boards().named
    for path in PACKAGE.rglob("*.py"):
        before, after = ast.parse(path.read_text()), ast.parse(short_names.shorten(path.read_text()))
        for old, new in zip(functions(before), functions(after), strict=True):
            names = [arg.arg for arg in short_names.arguments(new)]
            assert len(names) == len(set(names)) == len(short_names.arguments(old))
            assert {name for name in names if name not in short_names.WORDS} <= named | {"_"}
            assert getattr(old, "name", "") == getattr(new, "name", "")


def functions(tree):
    return [node for node in ast.walk(tree) if isinstance(node, (ast.FunctionDef, ast.Lambda))]
